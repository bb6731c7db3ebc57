/**
 * Head and table of a machine file: checks what the schema cannot say of them, and prepares their
 * meshes.
 */
import { BOUNDS } from '../base/bounds.js';
import type { Mesh } from '../base/mesh.js';
import { treeOf } from '../mesh/bvh.js';
import { bounds } from '../mesh/measure.js';
import type { Machine, MachineFile } from './machine.js';
import { outlineOf } from './outline.js';
import type { HeadMesh } from './simple-solids.js';
import { checkBox, checkSurface, readMesh } from './solid-check.js';
import type { RefuseMachine } from './line-templates.js';

/** A mesh that ends within this of where it should is drawn well enough, mm. */
const DRAWN = 0.01;

type Head = Pick<Machine, 'stack' | 'headBoxes' | 'headMeshes'>;

/** @throws Fault `machine/stack`, `machine/box`, `machine/head`, `machine/nozzle`, `machine/mesh...` */
export function readHead({ head, nozzle }: MachineFile, refuse: RefuseMachine): Head {
  const { stack, boxes } = head;
  if (stack.length === 0 && head.meshes.length === 0) {
    refuse('head', 'the head has no outline and no mesh; give the one or the other', 'head');
  }
  checkStack(stack, refuse);
  boxes.forEach((box, i) => {
    checkBox(box, `head.boxes.${i}`, refuse);
    const far = (c: 0 | 1): number => Math.max(Math.abs(box.from[c]), Math.abs(box.to[c]));
    checkWide(Math.hypot(far(0), far(1)), `box ${i + 1} of the head`, `head.boxes.${i}`, refuse);
  });
  if (nozzle.flat < nozzle.diameter) {
    refuse(
      'nozzle',
      `the flat of the tip is ${nozzle.flat} mm across, less than the bore of ${nozzle.diameter} mm`,
      'nozzle.flat',
    );
  }
  const meshes = head.meshes.map((m, i): Mesh => {
    const [what, key] = [`mesh ${i + 1} of the head`, `head.meshes.${i}`];
    const mesh = readMesh(m, what, key, refuse);
    const low = bounds(mesh).least[2];
    if (low < -DRAWN) {
      refuse('head', `${what} reaches ${-low} mm below the tip, it must end at 0 mm`, key);
    }
    return mesh;
  });
  const headMeshes = meshes.map((m, i): HeadMesh => {
    const outline = outlineOf(m);
    const wide = outline.reduce((most, { radius }) => Math.max(most, radius), 0);
    checkWide(wide, `mesh ${i + 1} of the head`, `head.meshes.${i}`, refuse);
    return { tree: treeOf(m), outline };
  });
  if (stack.length === 0) checkTip(headMeshes, nozzle, refuse);
  return { stack, headBoxes: boxes.map(({ from, to }) => ({ from, to })), headMeshes };
}

/** @param radius farthest place from the head's axis, mm */
function checkWide(radius: number, what: string, key: string, refuse: RefuseMachine): void {
  if (radius <= BOUNDS.headMm) return;
  const far = Number(radius.toPrecision(6));
  refuse(
    'too-large',
    `${what} reaches ${far} mm from the head's axis, the limit is ${BOUNDS.headMm} mm`,
    key,
  );
}

/** Meshes alone must have the nozzle among them: a flat at the tip that is as wide as its bore. */
function checkTip(
  meshes: readonly HeadMesh[],
  nozzle: MachineFile['nozzle'],
  refuse: RefuseMachine,
): void {
  const [low] = meshes.map((m) => m.outline[0]!).sort((a, b) => a.above - b.above);
  if (low!.above > DRAWN) {
    refuse('head', `the head begins ${low!.above} mm above the tip, it must begin at 0 mm`, 'head');
  }
  if (2 * low!.radius < nozzle.diameter) {
    const wide = Number((2 * low!.radius).toPrecision(3));
    refuse(
      'head',
      `the head is ${wide} mm wide at its tip, less than the bore of ${nozzle.diameter} mm; is its unit right?`,
      'head',
    );
  }
}

function checkStack(stack: MachineFile['head']['stack'], refuse: RefuseMachine): void {
  stack.forEach((entry, i) => {
    const key = `head.stack.${i}.above`;
    const before = stack[i - 1];
    if (!before && entry.above !== 0) {
      refuse(
        'stack',
        `the head outline begins ${entry.above} mm above the tip, it must begin at 0 mm`,
        key,
      );
    }
    if (entry.radius > BOUNDS.headMm) {
      refuse(
        'too-large',
        `the head outline has a radius of ${entry.radius} mm, the limit is ${BOUNDS.headMm} mm`,
        `head.stack.${i}.radius`,
      );
    }
    checkSurface(
      2 * Math.PI * entry.radius * (entry.radius + entry.above),
      `the head outline up to ${entry.above} mm`,
      `head.stack.${i}`,
      refuse,
    );
    if (before && entry.above < before.above) {
      refuse(
        'stack',
        `the head outline falls from ${before.above} mm to ${entry.above} mm, it must rise`,
        key,
      );
    }
  });
}

/** How much of the face may stand out over the mesh of the table, mm. */
const TABLE_EXCESS = 1;

/** @throws Fault `machine/table`, `machine/mesh...` */
export function readTable(
  { face, thickness, mesh: given }: MachineFile['table'],
  refuse: RefuseMachine,
): Pick<Machine, 'tableThickness' | 'tableMesh'> {
  if ((thickness === undefined) === (given === undefined)) {
    const have = given ? 'both a thickness and a mesh' : 'neither a thickness nor a mesh';
    refuse('table', `the table has ${have}; it is either a plate or a mesh`, 'table');
  }
  const area = face.shape === 'disc' ? Math.PI * face.radius ** 2 : face.size[0] * face.size[1];
  checkSurface(2 * area, 'the table', 'table.face', refuse);
  if (!given) {
    const round =
      face.shape === 'disc' ? 2 * Math.PI * face.radius : 2 * (face.size[0] + face.size[1]);
    checkSurface(2 * area + round * thickness!, 'the table', 'table.thickness', refuse);
    return { tableThickness: thickness!, tableMesh: undefined };
  }
  const mesh = readMesh(given, 'the mesh of the table', 'table.mesh', refuse);
  const { least, most } = bounds(mesh);
  if (most[2] < -DRAWN) {
    refuse(
      'table',
      `the mesh of the table ends ${-most[2]} mm under the face, it must reach 0 mm`,
      'table.mesh',
    );
  }
  const [x, y] =
    face.shape === 'disc' ? [face.radius, face.radius] : [face.size[0] / 2, face.size[1] / 2];
  const short = Math.max(x - most[0], x + least[0], y - most[1], y + least[1]);
  if (short > TABLE_EXCESS) {
    refuse(
      'table',
      `the face reaches ${Number(short.toFixed(2))} mm past the mesh of the table, the limit is ${TABLE_EXCESS} mm; is its unit right?`,
      'table.mesh',
    );
  }
  return { tableThickness: Math.max(0, -least[2]), tableMesh: mesh };
}
