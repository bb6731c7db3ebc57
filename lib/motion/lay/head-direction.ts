/**
 * The direction that the head has over the part, from the two rotary joints alone, against the tube of directions in which
 * it may stand at a point. It is bilinear in (1, cos, sin) of both values, and so is its product with any vector: nine
 * numbers, and no chain of joints is followed while values are tried (half the time of planning a ring's motion).
 */
import type { Vec3 } from '../../base/vector.js';
import { forwardInto } from '../../machine/forward.js';
import { rotaryPair, solveRotaries } from '../../machine/inverse.js';
import type { Machine } from '../../machine/machine.js';
import type { HeadTube } from './head-tube.js';

/** Angles at which a function a + b cos q + c sin q is sampled, rad. */
const SAMPLED_AT = [0, Math.PI / 2, Math.PI] as const;

export class HeadDirection {
  readonly first: number;
  readonly second: number;
  readonly #machine: Machine;
  readonly #joints: Float64Array;
  /** Nine vectors: direction = sum of u_i v_j h_ij, with u and v = (1, cos, sin) of the two values. */
  readonly #h = new Float64Array(27);
  /** Their products with the growth at the point in work, and with the side on which the head is to stand there. */
  readonly #m = new Float64Array(9);
  readonly #s = new Float64Array(9);
  #leastCosine = -1;
  #leastZ = -1;
  #leastSide = -1;

  constructor(machine: Machine) {
    const { first, second } = rotaryPair(machine);
    this.first = first;
    this.second = second;
    this.#machine = machine;
    this.#joints = machine.ready.slice();
    const pose = new Float64Array(6);
    const sampled = SAMPLED_AT.map((q1) =>
      SAMPLED_AT.map((q2) => {
        this.#joints[first] = q1;
        this.#joints[second] = q2;
        forwardInto(machine, this.#joints, 0, pose);
        return pose.slice(3);
      }),
    );
    for (let c = 0; c < 3; c++) {
      const rows = sampled.map((row) => harmonics(row.map((d) => d[c]!)));
      for (let j = 0; j < 3; j++) {
        harmonics(rows.map((row) => row[j]!)).forEach((x, i) => (this.#h[9 * i + 3 * j + c] = x));
      }
    }
  }

  /** Takes a point into work. */
  aim({ growth, leastCosine, leastZ, sides, leastSide }: HeadTube, k: number): void {
    this.#leastCosine = leastCosine[k]!;
    this.#leastZ = leastZ[k]!;
    this.#leastSide = leastSide[k]!;
    this.#along(growth, k, this.#m);
    if (this.#leastSide !== -1) this.#along(sides, k, this.#s);
  }

  #along(vectors: Float64Array, k: number, out: Float64Array): void {
    const [x, y, z] = [vectors[3 * k]!, vectors[3 * k + 1]!, vectors[3 * k + 2]!];
    const h = this.#h;
    for (let i = 0; i < 9; i++) out[i] = h[3 * i]! * x + h[3 * i + 1]! * y + h[3 * i + 2]! * z;
  }

  /** Whether the head may stand so at the point in work. */
  holds(q1: number, q2: number): boolean {
    const [c1, s1, c2, s2] = [Math.cos(q1), Math.sin(q1), Math.cos(q2), Math.sin(q2)];
    if (blended(this.#m, 1, 0, c1, s1, c2, s2) < this.#leastCosine) return false;
    if (this.#leastSide !== -1 && blended(this.#s, 1, 0, c1, s1, c2, s2) < this.#leastSide) {
      return false;
    }
    return this.#leastZ === -1 || blended(this.#h, 3, 2, c1, s1, c2, s2) >= this.#leastZ;
  }

  /** Every pair of values in the travel that has the head along a direction, in the turns nearest to two values. */
  solutions(d: Vec3, q1: number, q2: number): (readonly [number, number])[] {
    this.#joints[this.first] = q1;
    this.#joints[this.second] = q2;
    return solveRotaries(this.#machine, d, this.#joints)
      .filter(({ violations }) => violations.length === 0)
      .map(({ joints }) => [joints[this.first]!, joints[this.second]!] as const);
  }

  /** The one of them that takes the least time from the two values; undefined out of reach. */
  nearest(d: Vec3, q1: number, q2: number): readonly [number, number] | undefined {
    const { joints } = this.#machine;
    let best: readonly [number, number] | undefined;
    let least = Infinity;
    for (const pair of this.solutions(d, q1, q2)) {
      const time = Math.max(
        Math.abs(pair[0] - q1) / joints[this.first]!.speed,
        Math.abs(pair[1] - q2) / joints[this.second]!.speed,
      );
      if (time < least) [best, least] = [pair, time];
    }
    return best;
  }
}

/** The sum of u_i v_j m_ij, nine numbers `stride` apart. */
function blended(
  m: Float64Array,
  stride: number,
  at: number,
  c1: number,
  s1: number,
  c2: number,
  s2: number,
): number {
  const row = (i: number): number =>
    m[3 * i * stride + at]! +
    c2 * m[(3 * i + 1) * stride + at]! +
    s2 * m[(3 * i + 2) * stride + at]!;
  return row(0) + c1 * row(1) + s1 * row(2);
}

/** a, b, c of a + b cos q + c sin q from its values at SAMPLED_AT. */
function harmonics(values: readonly number[]): [number, number, number] {
  const [at0, at90, at180] = values as [number, number, number];
  const a = (at0 + at180) / 2;
  return [a, (at0 - at180) / 2, at90 - a];
}
