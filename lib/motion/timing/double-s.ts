/**
 * Speed profiles with bounded jerk: times, lengths and speeds of ramps and profiles. A ramp from one speed
 * to another begins and ends without acceleration: jerk j, constant acceleration a if it is reached, jerk
 * -j; a profile is a ramp, a stretch at the greatest speed and a ramp (double S; Biagiotti and Melchiorri,
 * Trajectory Planning for Automatic Machines and Robots, 2008, sec. 3.4, from memory). With infinite jerk
 * it is the trapezoid of uniformly accelerated motion.
 */

import type { JerkSegment } from './jerk-segment.js';

/** Halvings in which a speed is found. */
const SPEED_HALVINGS = 60;
/** Share of a speed to which it is found. */
const SPEED_ACCURACY = 1e-12;

/** Time of the ramp between two speeds, s. */
export function rampSeconds(v0: number, v1: number, a: number, j: number): number {
  const change = Math.abs(v1 - v0);
  return change * j <= a * a ? 2 * Math.sqrt(change / j) : change / a + a / j;
}

/** Length of the ramp between two speeds: it is symmetric, so the mean speed counts. */
export const rampLength = (v0: number, v1: number, a: number, j: number): number =>
  ((v0 + v1) / 2) * rampSeconds(v0, v1, a, j);

/** Greatest speed, at most `most`, to which a ramp up from v0 leads within a length; `most` if below v0. */
export function rampTo(v0: number, length: number, most: number, a: number, j: number): number {
  if (most <= v0) return most;
  if (!(length > 0)) return v0;
  if (rampLength(v0, most, a, j) <= length) return most;
  return greatest(v0, most, (v) => rampLength(v0, v, a, j) <= length);
}

/** Greatest speed, at most `most`, of a profile from v0 to v1 over a length that allows their ramp. */
export function peakOf(
  length: number,
  v0: number,
  v1: number,
  most: number,
  a: number,
  j: number,
): number {
  const least = Math.max(v0, v1);
  const fits = (v: number): boolean => rampLength(v0, v, a, j) + rampLength(v, v1, a, j) <= length;
  if (most <= least || !fits(least)) return least;
  return fits(most) ? most : greatest(least, most, fits);
}

/** The greatest value between low, which fits, and high, which does not. */
function greatest(low: number, high: number, fits: (v: number) => boolean): number {
  for (let i = 0; i < SPEED_HALVINGS && high - low > SPEED_ACCURACY * high; i++) {
    const middle = (low + high) / 2;
    if (fits(middle)) low = middle;
    else high = middle;
  }
  return low;
}

/**
 * One step of the quickest gain of speed: from speed v and acceleration a0 with jerk j up to
 * acceleration a, over a length. Writes speed and acceleration at its end into `out`.
 */
export function gain(
  v: number,
  a0: number,
  length: number,
  a: number,
  j: number,
  out: Float64Array,
): void {
  const rise = a0 < a ? (a - a0) / j : 0;
  const far = rise * (v + rise * (a0 / 2 + (j * rise) / 6));
  if (!(j < Infinity) || far <= length) {
    const start = j < Infinity ? v + rise * (a0 + (j * rise) / 2) : v;
    const rest = j < Infinity ? length - far : length;
    out[0] = Math.sqrt(start * start + 2 * a * rest);
    out[1] = a;
    return;
  }
  let [low, high] = [0, rise];
  let t = Math.min(rise / 2, v > 0 ? length / v : rise / 2);
  for (let i = 0; i < SPEED_HALVINGS && high - low > SPEED_ACCURACY * rise; i++) {
    const miss = t * (v + t * (a0 / 2 + (j * t) / 6)) - length;
    if (miss > 0) high = t;
    else low = t;
    const next = t - miss / (v + t * (a0 + (j * t) / 2));
    const step = next > low && next < high ? next : (low + high) / 2;
    if (Math.abs(step - t) <= SPEED_ACCURACY * rise) break;
    t = step;
  }
  out[0] = v + t * (a0 + (j * t) / 2);
  out[1] = a0 + j * t;
}

/** The ramp between two speeds as runs of even jerk. */
export function rampRuns(v0: number, v1: number, a: number, j: number): JerkSegment[] {
  const all = rampSeconds(v0, v1, a, j);
  const sign = v1 < v0 ? -1 : 1;
  const change = Math.abs(v1 - v0);
  const edge = change * j <= a * a ? Math.sqrt(change / j) : a / j;
  const lift = sign * (edge > 0 ? j * edge : a);
  const jerk = edge > 0 ? sign * j : 0;
  const gained = (lift * edge) / 2;
  return [
    { seconds: edge, speed: v0, acceleration: 0, jerk },
    { seconds: all - 2 * edge, speed: v0 + gained, acceleration: lift, jerk: 0 },
    { seconds: edge, speed: v1 - gained, acceleration: lift, jerk: -jerk },
  ];
}
