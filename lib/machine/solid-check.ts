/**
 * What a schema cannot say of a solid: boxes rise along every axis, cylinders have a length, meshes
 * are closed and have their inside inside.
 */
import { type Vec3, length, sub } from '../base/vector.js';
import { meshFrom } from '../mesh/build.js';
import { massOf } from '../mesh/measure.js';
import type { MachineFile } from './machine.js';
import type { MeshSolid, Solid } from './shapes.js';
import type { Refuse } from './texts.js';

export function checkBox(box: { from: Vec3; to: Vec3 }, key: string, refuse: Refuse): void {
  box.from.forEach((low, c) => {
    const high = box.to[c]!;
    if (low < high) return;
    const axis = 'XYZ'[c]!;
    refuse('box', `the box runs along ${axis} from ${low} mm to ${high} mm, it must rise`, key);
  });
}

/** @param what what the solid is, for the message, such as `obstacle "pillar"` */
export function checkSolid(solid: Solid, what: string, key: string, refuse: Refuse): void {
  if (solid.shape === 'box') checkBox(solid, `${key}.solid`, refuse);
  else if (length(sub(solid.to, solid.from)) < 1e-9) {
    refuse('cylinder', `${what} is a cylinder of no length`, `${key}.solid`);
  }
}

/** The solid of an obstacle, checked. @throws Fault `machine/mesh` and those of `checkSolid` */
export function readSolid(
  solid: MachineFile['obstacles'][number]['solid'],
  what: string,
  key: string,
  refuse: Refuse,
): Solid | MeshSolid {
  if (solid.shape !== 'mesh') {
    checkSolid(solid, what, key, refuse);
    return solid;
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
  const { volume } = massOf(mesh);
  if (!(volume > 0)) {
    refuse('mesh', `${what} has a volume of ${volume} mm3, its triangles face inwards`, key);
  }
  return { shape: 'mesh', mesh };
}
