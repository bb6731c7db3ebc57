/**
 * How far a job has come, as one share of the whole that never falls during an attempt.
 *
 * The pipeline reports stages, each counting from zero, and stages recur: regions that are in one another's
 * way are laid out again. Here every stage has its part of the whole, sized by what it took of sample jobs
 * with the check on (rounded; no more than an estimate), and the furthest place that was reached is
 * reported. A stage that recurs leaves the share where it is until the job is past that place.
 */
import type { Progress } from '../store/job.js';

/** Stages in the order in which a job first meets them, with their parts of the whole. */
const PARTS: readonly (readonly [string, number])[] = [
  ['read', 1],
  ['footing', 2],
  ['regions', 25],
  ['layers', 5],
  ['support', 4],
  ['paths', 12],
  ['order', 3],
  ['beads', 2],
  ['motion', 20],
  ['clearance', 8],
  ['program', 2],
  ['check', 4],
  ['trace', 3],
  ['print', 4],
  ['shape', 2],
  ['outside', 2],
  ['errors', 3],
  ['map', 2],
  ['report', 1],
  ['files', 5],
  ['write', 1],
];
const WHOLE = PARTS.reduce((sum, [, part]) => sum + part, 0);

/** A stage's place in the whole; nothing for one that is not listed, which moves nothing. */
function placeOf(stage: string): { readonly from: number; readonly part: number } | undefined {
  const at = PARTS.findIndex(([name]) => name === stage);
  if (at < 0) return undefined;
  const from = PARTS.slice(0, at).reduce((sum, [, part]) => sum + part, 0);
  return { from: from / WHOLE, part: PARTS[at]![1] / WHOLE };
}

export interface Step {
  readonly stage: string;
  readonly done: number;
  readonly total: number;
}

/** Turns the steps of one try of a job into its progress. */
export function advancing(): (step: Step) => Progress {
  let share = 0;
  let stage = '';
  let within = 0;
  return (step) => {
    const place = placeOf(step.stage);
    const part = step.total > 0 ? Math.min(1, Math.max(0, step.done / step.total)) : 0;
    if (place) share = Math.max(share, place.from + place.part * part);
    // A stage may count anew while it lasts, for each piece of its work.
    within = step.stage === stage ? Math.max(within, part) : part;
    stage = step.stage;
    const done = step.total > 0 ? Math.round(within * step.total) : 0;
    return { stage, done, total: step.total, share };
  };
}
