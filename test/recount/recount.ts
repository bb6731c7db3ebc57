/** A case on a machine, planned and recounted: touches and violations of the finished program's text. */
import { Fault } from '../../lib/base/fault.js';
import type { SolidKernel } from '../../lib/kernel/solid.js';
import { readMachine } from '../../lib/machine/read-files.js';
import type { RunTask } from '../../lib/job/tasks.js';
import { jobOf, runJob, sampleJson } from '../support/jobs.js';
import type { Limbs } from '../support/shapes.js';
import type { Case } from './cases.js';
import type { File } from './chain.js';
import { type Violation, countViolations } from './limits.js';
import { readMoves } from './program.js';
import { type Touches, countTouches } from './touches.js';

export interface Recounted extends Touches {
  readonly blocks: number;
  readonly violations: readonly Violation[];
}

/** The rule of the job that bounds how far corners are rounded, mm (README, "How fast, and how long"). */
const DEVIATION = 0.05;

const fileOf = (machine: string): File => sampleJson(`machines/${machine}.json`) as File;

export function recountText(text: string, file: File): Recounted {
  const moves = readMoves(text, file);
  return {
    blocks: moves.line.length,
    ...countTouches(file, moves),
    violations: countViolations(file, moves, DEVIATION),
  };
}

/** @returns the reason, if the job is refused */
export async function recount(
  { build, job, machine: changed = (file) => file }: Case,
  machine: string,
  limbs: Limbs,
  solid: SolidKernel,
  run?: RunTask,
): Promise<Recounted | string> {
  const file = changed(fileOf(machine));
  const settings = { ...job, check: false, page: false };
  const input = {
    ...jobOf(build(limbs, solid), machine, settings),
    machine: readMachine(file),
  };
  try {
    const { program } = await runJob(input, run);
    return recountText(program.join(''), file);
  } catch (error) {
    if (error instanceof Fault) return `${error.code}: ${error.message}`;
    throw error;
  }
}
