/**
 * A whole double-S speed profile, from one speed over a peak to another: its segments of constant jerk, and
 * time by length.
 */
import { rampLength, rampRuns } from './double-s.js';
import { type JerkSegment, lengthAfter, speedAfter, timeOver } from './jerk-segment.js';

/** Lengths in mm, speeds in mm/s; the greatest acceleration (mm/s2) and jerk (mm/s3) of either ramp. */
export interface Profile {
  readonly length: number;
  readonly v0: number;
  readonly peak: number;
  readonly v1: number;
  readonly acceleration: number;
  readonly jerk: number;
}

/** A profile over time: ramp, level, ramp as runs of even jerk. */
export class Times {
  readonly runs: readonly JerkSegment[];
  readonly seconds: number;
  /** Time at the peak, s. */
  readonly level: number;
  /** Lengths at which the first ramp ends and the second begins. */
  readonly up: number;
  readonly down: number;
  /** Length and time at which each run begins. */
  readonly #length: number[] = [];
  readonly #time: number[] = [];

  constructor({ length, v0, peak, v1, acceleration: a, jerk: j }: Profile) {
    this.up = rampLength(v0, peak, a, j);
    this.down = Math.max(this.up, length - rampLength(peak, v1, a, j));
    this.level = (this.down - this.up) / peak;
    const even = { seconds: this.level, speed: peak, acceleration: 0, jerk: 0 };
    this.runs = [...rampRuns(v0, peak, a, j), even, ...rampRuns(peak, v1, a, j)];
    let [s, t] = [0, 0];
    for (const run of this.runs) {
      this.#length.push(s);
      this.#time.push(t);
      s += lengthAfter(run, run.seconds);
      t += run.seconds;
    }
    this.seconds = t;
  }

  /** Time at which a length is covered. */
  at(s: number): number {
    const i = lastAtMost(this.#length, s);
    return this.#time[i]! + timeOver(this.runs[i]!, s - this.#length[i]!);
  }

  speed(t: number): number {
    const i = lastAtMost(this.#time, t);
    return speedAfter(this.runs[i]!, t - this.#time[i]!);
  }
}

/** Time that both ramps spend at the greatest acceleration, s. */
export function evenSeconds({ v0, peak, v1, acceleration: a, jerk }: Profile): number {
  let even = 0;
  for (const v of [v0, v1]) {
    const change = peak - v;
    if (change * jerk > a ** 2) even += change / a - a / jerk;
  }
  return even;
}

/** The last place of a rising list whose value is at most x. */
function lastAtMost(list: readonly number[], x: number): number {
  let i = list.length - 1;
  while (i > 0 && list[i]! > x) i--;
  return i;
}
