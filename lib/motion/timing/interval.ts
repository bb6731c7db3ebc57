/**
 * One stretch of a rounded path over which the path acceleration a is constant: with x the square of the
 * path speed, x1 = x0 + 2 a h. The rates p of the joints change linearly from p0 to p1 and k = dp/ds is
 * constant, so every joint's acceleration p a + k x changes linearly too, and its limit holds all along the
 * stretch if it holds at both ends. In x0 and x1 these are bands around zero, |alpha x0 + gamma x1| <= 1,
 * and what the stretch allows is a convex polygon that contains (t, t) for every t that the curvature
 * allows.
 *
 * That is one stage of reachability analysis (Pham and Pham, A new approach to time-optimal path
 * parameterization based on reachability analysis, IEEE Trans. Robotics 34(3), 2018): `mostBefore` is the
 * one-step controllable set, [0, mostBefore], `mostAfter` the greedy step forward.
 */

/** Bands of a stretch, filled anew for each; up to two per joint. */
export class Interval {
  readonly #alpha: Float64Array;
  readonly #gamma: Float64Array;
  readonly #joint: Uint8Array;
  #rows = 0;

  constructor(joints: number) {
    this.#alpha = new Float64Array(2 * joints);
    this.#gamma = new Float64Array(2 * joints);
    this.#joint = new Uint8Array(2 * joints);
  }

  clear(): void {
    this.#rows = 0;
  }

  /** @param acceleration limit of joint j; the stretch is h long */
  add(j: number, p0: number, p1: number, k: number, h: number, acceleration: number): void {
    if (p0 === 0 && p1 === 0) return;
    const half = 1 / (2 * h);
    const size = 1 / acceleration;
    this.#push(j, (k - p0 * half) * size, p0 * half * size);
    this.#push(j, -p1 * half * size, (k + p1 * half) * size);
  }

  #push(j: number, alpha: number, gamma: number): void {
    const r = this.#rows++;
    this.#alpha[r] = alpha;
    this.#gamma[r] = gamma;
    this.#joint[r] = j;
  }

  /**
   * Greatest x0, at most `cap`, from which some x1 of 0 .. most can be reached. The bound on x0 is a
   * concave chain of lines over x1, nearly always rising up to `most`; where it falls there, two lines
   * are met until no third lies below their meeting.
   */
  mostBefore(cap: number, most: number): number {
    let right = this.#lowest(most);
    if (right < 0) return cap;
    const atMost = this.#bound(right, most);
    if (atMost >= cap) return cap;
    if (this.#slope(right) >= 0) return Math.max(0, atMost);
    let left = this.#lowest(0);
    if (this.#slope(left) <= 0) return Math.min(cap, this.#bound(left, 0));
    for (let round = 0; round < 2 * this.#rows; round++) {
      const rise = this.#slope(left) - this.#slope(right);
      const x1 = (this.#bound(right, 0) - this.#bound(left, 0)) / rise;
      const row = this.#lowest(x1);
      if (row === left || row === right) break;
      if (this.#slope(row) > 0) left = row;
      else right = row;
    }
    const rise = this.#slope(left) - this.#slope(right);
    const x1 = (this.#bound(right, 0) - this.#bound(left, 0)) / rise;
    return Math.min(cap, Math.max(0, this.#bound(this.#lowest(x1), x1)));
  }

  /** Greatest x1, at most `most`, that can be reached from x0. */
  mostAfter(x0: number, most: number): number {
    let x1 = most;
    for (let r = 0; r < this.#rows; r++) {
      const gamma = this.#gamma[r]!;
      if (gamma === 0) continue;
      const bound = 1 / Math.abs(gamma) - (this.#alpha[r]! / gamma) * x0;
      if (bound < x1) x1 = bound;
    }
    return Math.max(0, x1);
  }

  /** The joint that is nearest to its acceleration, and how much of it is used (1: all). */
  hardest(x0: number, x1: number): { joint: number; share: number } {
    let joint = -1;
    let share = 0;
    for (let r = 0; r < this.#rows; r++) {
      const used = Math.abs(this.#alpha[r]! * x0 + this.#gamma[r]! * x1);
      if (used > share) {
        share = used;
        joint = this.#joint[r]!;
      }
    }
    return { joint, share };
  }

  /** The row whose bound on x0 is the lowest at x1; -1 if none bounds it. */
  #lowest(x1: number): number {
    let least = Infinity;
    let row = -1;
    for (let r = 0; r < this.#rows; r++) {
      if (this.#alpha[r] === 0) continue;
      const bound = this.#bound(r, x1);
      if (bound < least) {
        least = bound;
        row = r;
      }
    }
    return row;
  }

  #slope(r: number): number {
    return -this.#gamma[r]! / this.#alpha[r]!;
  }

  #bound(r: number, x1: number): number {
    return 1 / Math.abs(this.#alpha[r]!) + this.#slope(r) * x1;
  }
}
