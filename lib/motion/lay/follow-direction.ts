/**
 * A tip path along which the build direction turns as blocks of joint motion, such that between two of
 * them, with every joint moving linearly, the tip stays within the chord error of its path. The error of
 * linear joint motion falls with the square of the step, so it is enough to bisect until the middle and
 * both quarters agree.
 */
import { type Vec3, length, sub } from '../../base/vector.js';
import { forward } from '../../machine/forward.js';
import type { Machine } from '../../machine/machine.js';

/** Halvings before a path counts as impossible to follow: 2^20 pieces. */
const MOST_HALVINGS = 20;

/**
 * Calls `emit` with the joint values at the end of each piece and its t.
 *
 * @param start joint values at t = 0
 * @param jointsAt joint values at t, given those nearby
 * @param tipAt where the tip should be at t, part frame, mm
 * @returns false if some t has no solution or the path cannot be followed within the error
 */
export function follow(
  machine: Machine,
  start: Float64Array,
  jointsAt: (t: number, near: Float64Array) => Float64Array | undefined,
  tipAt: (t: number) => Vec3,
  chordError: number,
  emit: (joints: Float64Array, t: number) => void,
): boolean {
  const strays = (a: Float64Array, b: Float64Array, ta: number, tb: number): boolean => {
    for (const share of [0.25, 0.5, 0.75]) {
      const tip = forward(machine, between(a, b, share)).tip;
      if (length(sub(tip, tipAt(ta + share * (tb - ta)))) > chordError) return true;
    }
    return false;
  };
  const piece = (
    a: Float64Array,
    b: Float64Array,
    ta: number,
    tb: number,
    depth: number,
  ): boolean => {
    if (!strays(a, b, ta, tb)) {
      emit(b, tb);
      return true;
    }
    if (depth === 0) return false;
    const t = (ta + tb) / 2;
    const middle = jointsAt(t, a);
    return !!middle && piece(a, middle, ta, t, depth - 1) && piece(middle, b, t, tb, depth - 1);
  };
  const end = jointsAt(1, start);
  return !!end && piece(start, end, 0, 1, MOST_HALVINGS);
}

/** Joint values on the straight line from a to b. */
export function between(a: Float64Array, b: Float64Array, share: number): Float64Array {
  return a.map((x, i) => x + share * (b[i]! - x));
}

/** Greatest turn between two samples of a tip path, rad. */
const TURN_A_SAMPLE = Math.PI / 360;

/** Length of the tip's path over the part while every joint moves linearly from a to b, mm. */
export function tipLength(machine: Machine, a: Float64Array, b: Float64Array): number {
  const turn = machine.joints.reduce(
    (sum, j, i) => (j.kind === 'rotary' ? sum + Math.abs(b[i]! - a[i]!) : sum),
    0,
  );
  const count = Math.max(1, Math.ceil(turn / TURN_A_SAMPLE));
  let sum = 0;
  let before = forward(machine, a).tip;
  for (let i = 1; i <= count; i++) {
    const tip = forward(machine, between(a, b, i / count)).tip;
    sum += length(sub(tip, before));
    before = tip;
  }
  return sum;
}
