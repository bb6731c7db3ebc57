/**
 * What a schema cannot say of a solid: boxes rise along every axis, cylinders have a length, meshes are
 * closed and not inside out.
 */
import type { z } from 'zod';
import { BOUNDS } from '../base/bounds.js';
import type { Mesh } from '../base/mesh.js';
import { type Vec3, length, pointAt, sub } from '../base/vector.js';
import { meshFrom } from '../mesh/build.js';
import { treeOf } from '../mesh/bvh.js';
import { eachContact } from '../mesh/repair/crossing-facets.js';
import { bounds, massOf } from '../mesh/measure.js';
import { shellsOf } from '../mesh/shells.js';
import type { MachineFile } from './machine.js';
import type { MeshSolid, Solid, closedMesh } from './simple-solids.js';
import type { RefuseMachine } from './line-templates.js';

export function checkBox(box: { from: Vec3; to: Vec3 }, key: string, refuse: RefuseMachine): void {
  box.from.forEach((low, c) => {
    const high = box.to[c]!;
    if (low < high) return;
    const axis = 'XYZ'[c]!;
    refuse('box', `the box runs along ${axis} from ${low} mm to ${high} mm, it must rise`, key);
  });
  const [x, y, z] = sub(box.to, box.from);
  checkSurface(2 * (x * y + y * z + z * x), 'the box', key, refuse);
}

/** @param what what the solid is, for the message, such as `obstacle "pillar"` */
export function checkSolid(solid: Solid, what: string, key: string, refuse: RefuseMachine): void {
  if (solid.shape === 'box') checkBox(solid, `${key}.solid`, refuse);
  else {
    const { radius } = solid;
    const long = length(sub(solid.to, solid.from));
    if (long < 1e-9) refuse('cylinder', `${what} is a cylinder of no length`, `${key}.solid`);
    checkSurface(2 * Math.PI * radius * (radius + long), what, `${key}.solid`, refuse);
  }
}

/** @param area mm2 */
export function checkSurface(area: number, what: string, key: string, refuse: RefuseMachine): void {
  if (area <= BOUNDS.solidMm2) return;
  const shown = [area, BOUNDS.solidMm2].map((a) => Number((a / 1e6).toPrecision(3)));
  refuse('too-large', `${what} has a surface of ${shown[0]} m2; the limit is ${shown[1]} m2`, key);
}

/** The solid of an obstacle, checked. @throws Fault of `checkSolid` and `readMesh` */
export function readSolid(
  solid: MachineFile['obstacles'][number]['solid'],
  what: string,
  key: string,
  refuse: RefuseMachine,
): Solid | MeshSolid {
  if (solid.shape === 'mesh' || solid.shape === 'file') {
    return { shape: 'mesh', mesh: readMesh(solid, what, key, refuse) };
  }
  checkSolid(solid, what, key, refuse);
  return solid;
}

/** Bounds of the greatest extent of a machine's body, mm. */
const SMALLEST_BODY = 1;
const LARGEST_BODY = 2000;

/**
 * A closed mesh as the file gives it.
 * @throws Fault `machine/mesh-file` if only its name is here, `machine/mesh` if it is open, crosses
 *   itself, is inside out, or is of a size that suggests a wrong unit
 */
export function readMesh(
  solid: z.output<typeof closedMesh>,
  what: string,
  key: string,
  refuse: RefuseMachine,
): Mesh {
  if (solid.shape === 'file') {
    return refuse(
      'mesh-file',
      `${what} is in the file ${JSON.stringify(solid.name)}, which is not here; give its vertices and triangles in its place (shape "mesh"), as "tiltwright submit" does`,
      key,
    );
  }
  const count = solid.vertices.length;
  const beyond = solid.triangles.flat().find((v) => v >= count);
  if (beyond !== undefined) {
    refuse('mesh', `${what} has a triangle at vertex ${beyond}, its last one is ${count - 1}`, key);
  }
  const mesh = meshFrom(
    Float64Array.from(solid.vertices.flat()),
    Uint32Array.from(solid.triangles.flat()),
  );
  const open = mesh.twins.filter((t) => t < 0).length;
  if (open > 0) refuse('mesh', `${what} has ${open} open edges, a mesh must be closed`, key);
  checkSize(mesh, what, key, refuse);
  checkCrossing(mesh, what, key, refuse);
  const { volume } = massOf(mesh);
  if (!(volume > 0)) {
    refuse('mesh', `${what} has a volume of ${volume} mm3, its triangles face inwards`, key);
  }
  return mesh;
}

function checkSize(mesh: Mesh, what: string, key: string, refuse: RefuseMachine): void {
  const { least, most } = bounds(mesh);
  const size = Math.max(...sub(most, least));
  if (size >= SMALLEST_BODY && size <= LARGEST_BODY) return;
  refuse(
    'mesh',
    `${what} measures ${Number(size.toPrecision(3))} mm, the limits are ${SMALLEST_BODY} and ${LARGEST_BODY} mm; is its unit right?`,
    key,
  );
}

/** Shells may reach into one another, as screws do; none may cross itself. */
function checkCrossing(mesh: Mesh, what: string, key: string, refuse: RefuseMachine): void {
  const { of } = shellsOf(mesh);
  eachContact(
    treeOf(mesh),
    (a, _, contact) => {
      if (contact !== 'cross') return true;
      const at = pointAt(mesh.vertices, mesh.triangles[3 * a]!)
        .map((x) => x.toFixed(2))
        .join(' ');
      return refuse('mesh', `${what} crosses itself at ${at} mm`, key);
    },
    (a, b) => of[a] === of[b],
  );
}
