/**
 * Touches that would settle what a fit suspects: those after which the amounts of an effect and of its look-alikes
 * are known best, though all deviations may be other than fitted (c-optimal design, one touch at a time; Fedorov,
 * Theory of Optimal Experiments, 1972, from memory).
 */
import { Matrix, inverse } from 'ml-matrix';
import { FINE_SEARCH, canTouch, roomOf } from './clear.js';
import type { DeviationFit } from './deviation-fit.js';
import { firstEffect, modelOf } from './deviation-model.js';
import type { Effect } from './effect.js';
import type { Pattern } from './lack-of-fit.js';
import { type TouchReading, jacobianOf } from './least-squares.js';
import { type CandidateTouch, candidates } from './touch-poses.js';
import { SUSPECTED, VAGUE } from './touch-plan.js';

/** What some more touches would make of a suspicion. */
export interface Settlement {
  readonly effects: readonly Effect[];
  readonly touches: readonly CandidateTouch[];
  /** Standard uncertainty of the effect's first amount beside its rivals, now and after these touches. */
  readonly before: number;
  readonly after: number;
}

/** @param noise standard deviation of one touch, mm @param count touches that may be made */
export function settlingTouches(
  { state, used, estimates, deviations, model }: DeviationFit,
  { effect, rivals }: Pattern,
  noise: number,
  count: number,
): Settlement {
  const effects = [effect, ...rivals];
  const active = estimates.flatMap((e, p) => (e.uncertainty === undefined ? [] : [p]));
  const { machine, targets } = state;
  const whole = modelOf(machine, targets, [...model.effects, ...effects], model.stands);
  const first = firstEffect(whole) + deviations.length - firstEffect(model);
  const asked = [...whole.parameters.keys()].filter((p) => p >= first);
  const free = [...active, ...asked];
  const zero = new Float64Array(whole.parameters.length);
  const rows = jacobianOf(whole, used, zero, free);
  const prior = free.map((p) => 1 / (p >= first ? SUSPECTED : VAGUE) ** 2);
  const information = rows
    .transpose()
    .mmul(rows)
    .div(noise ** 2)
    .add(Matrix.diag(prior));
  let covariance = inverse(information);
  const at = active.length;
  const known = (): number => Math.sqrt(covariance.get(at, at));
  const before = known();
  const all = candidates(whole);
  const ways = jacobianOf(
    whole,
    all.map((c): TouchReading => ({ ...c, number: 0 })),
    zero,
    free,
  );
  const room = roomOf(machine, targets, FINE_SEARCH);
  const open = new Set(all.keys());
  const touches: CandidateTouch[] = [];
  while (touches.length < count && open.size > 0) {
    const seen = ways.mmul(covariance);
    let best = -1;
    let most = 0;
    for (const i of open) {
      const gain = gainOf(seen.getRow(i), ways.getRow(i), at, noise);
      if (gain > most) [best, most] = [i, gain];
    }
    if (best < 0) break;
    open.delete(best);
    if (!canTouch(room, all[best]!.joints)) continue;
    touches.push(all[best]!);
    const side = Matrix.columnVector(seen.getRow(best));
    const size = noise ** 2 + dotOf(seen.getRow(best), ways.getRow(best));
    covariance = covariance.sub(side.mmul(side.transpose()).div(size));
  }
  return { effects, touches, before, after: known() };
}

/** What a touch takes off the variances of the amounts, which stand from `at` on. */
function gainOf(seen: number[], row: number[], at: number, noise: number): number {
  const size = noise ** 2 + dotOf(seen, row);
  return seen.slice(at).reduce((sum, v) => sum + v * v, 0) / size;
}

const dotOf = (a: number[], b: number[]): number => a.reduce((sum, v, i) => sum + v * b[i]!, 0);
