/** A case on a machine, planned and recounted: touches and violations of the finished program's text. */
import { Fault } from '../../lib/base/fault.js';
import type { SolidKernel } from '../../lib/kernel/solid.js';
import { readMachine } from '../../lib/machine/read-files.js';
import type { RunTask } from '../../lib/job/tasks.js';
import { jobOf, runJob, sampleJson } from '../support/jobs.js';
import { runHeavy } from '../support/heavy-machine.js';
import type { Limbs } from '../support/shapes.js';
import type { Mesh } from '../../lib/base/mesh.js';
import { type Beads, beadsOf, cross, minus } from './beads.js';
import type { Case } from './cases.js';
import type { File, Vec } from './chain.js';
import { countHanging } from './hanging.js';
import { findHeights } from './heights.js';
import { type Violation, countViolations } from './limits.js';
import { meshSolid } from './mesh.js';
import { type Moves, readMoves } from './program.js';
import { type Facets, type Shape, shapeOf } from './shape.js';
import { type Touches, countTouches } from './touches.js';

export interface Recounted extends Touches {
  readonly blocks: number;
  readonly violations: readonly Violation[];
  readonly curved?: Curved;
}

/** What is counted where the head turns while it lays. */
export interface Curved {
  /** Without a part under it, and over gaps of the fill, mm2: recounted, and as the check says. */
  readonly open: number;
  readonly overFill: number;
  readonly checked: { readonly open: number; readonly overFill: number; readonly touches: number };
  readonly shape: Shape;
  /** Greatest distance of the tip's way from the straight line of its block, mm. */
  readonly bow: number;
}

/** The rule of the job that bounds how far corners are rounded, mm (README, "How fast, and how long"). */
const DEVIATION = 0.05;

const fileOf = (machine: string): File => sampleJson(`machines/${machine}.json`) as File;

export function recountText(text: string, file: File): Recounted {
  const { told, moves, beads } = laidBy(text, file);
  return {
    blocks: moves.line.length,
    ...countTouches(file, moves, beads),
    violations: countViolations(file, told, DEVIATION),
  };
}

/** Of the material of all cases, g/cm3. */
const DENSITY = 1.24;

/** The moves that a program tells, those that a machine makes which gives, and its beads with their heights. */
export function laidBy(text: string, file: File): { told: Moves; moves: Moves; beads: Beads } {
  const told = readMoves(text, file);
  const moves = runHeavy(file, told, DENSITY);
  const beads = beadsOf(file, moves);
  findHeights(beads, moves);
  return { told, moves, beads };
}

/** What a program of curved layers lays, against the part as it stands on the table. */
export function recountBeads(
  text: string,
  file: File,
  part: Mesh,
  span: number,
): Omit<Curved, 'checked'> {
  const { moves, beads } = laidBy(text, file);
  const { vertices, triangles } = cornersOf(part);
  const solid = meshSolid({ shape: 'mesh', vertices, triangles });
  const { face } = file.table;
  const onTable = (x: number, y: number): boolean =>
    face.shape === 'disc'
      ? Math.hypot(x, y) <= face.radius
      : Math.abs(x) <= face.size[0] / 2 && Math.abs(y) <= face.size[1] / 2;
  const { open, overFill } = countHanging(
    beads,
    moves,
    (p) => solid.distance(...p) < 0,
    onTable,
    span,
  );
  const facets = facetsOf(part);
  // What lies before the first mark is the machine's own start.
  const laid = beads.volume.reduce(
    (sum, v, i) => sum + (moves.region[beads.block[i]!]! > 0 ? v : 0),
    0,
  );
  return { open, overFill, shape: shapeOf(beads, facets, laid), bow: beads.bow };
}

/** Size of the error up to which 95 % of the skin lies that looks up within an angle of level, rad, mm. */
export function errorOnTop(text: string, file: File, part: Mesh, within: number): number {
  const top = facetsOf(part).filter(([a, b, c]) => {
    const n = cross(minus(b, a), minus(c, a));
    return n[2] > Math.cos(within) * Math.hypot(...n);
  });
  return shapeOf(laidBy(text, file).beads, top, 0).p95;
}

function cornersOf(part: Mesh): { readonly vertices: Vec[]; readonly triangles: Vec[] } {
  const three = (of: Float64Array | Uint32Array): Vec[] =>
    Array.from(
      { length: of.length / 3 },
      (_, i) => [...of.subarray(3 * i, 3 * i + 3)] as never as Vec,
    );
  return { vertices: three(part.vertices), triangles: three(part.triangles) };
}

function facetsOf(part: Mesh): Facets {
  const { vertices, triangles } = cornersOf(part);
  return triangles.map((t) => t.map((v) => vertices[v]!) as never as Facets[number]);
}

/** @returns the reason, if the job is refused */
export async function recount(
  { build, job, curved, machine: changed = (file) => file }: Case,
  machine: string,
  limbs: Limbs,
  solid: SolidKernel,
  run?: RunTask,
): Promise<Recounted | string> {
  const file = changed(fileOf(machine));
  const settings = { ...job, check: { run: curved ?? false }, page: false };
  const input = {
    ...jobOf(build(limbs, solid), machine, settings),
    machine: readMachine(file),
  };
  try {
    const { program, plan, report } = await runJob(input, run);
    const text = program.join('');
    const counted = recountText(text, file);
    if (!curved) return counted;
    const { inAirMm2, overFillMm2 } = report.regions[0]!.check!;
    const checked = {
      open: inAirMm2 - overFillMm2,
      overFill: overFillMm2,
      touches: report.check!.print!.touches,
    };
    const found = recountBeads(text, file, plan.part, input.job.layers.bridge);
    return { ...counted, curved: { ...found, checked } };
  } catch (error) {
    if (error instanceof Fault) return `${error.code}: ${error.message}`;
    throw error;
  }
}
