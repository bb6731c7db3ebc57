/**
 * Moves without turning: how one body moves against another while the rotary joints stand still, as a path
 * of displacements in its own axes. Only linear joints move, so the displacement is an affine function of
 * them and straight between two blocks.
 */
import { type Frame, compose, inverse } from '../../base/frame.js';
import type { RigidBody, Things } from '../../clearance/body.js';
import { type CarriedThings, machineFrom } from '../../clearance/machine-bodies.js';
import { Path } from '../../clearance/body-path.js';
import { jointsOf } from '../../machine/joint-chain.js';
import type { Machine } from '../../machine/machine.js';

export class Translation {
  /** Body's axes from the frame of the things, before any displacement. */
  readonly frame: Frame;
  /** The same for pairs that go the same path. */
  readonly key: string;
  readonly #joints: Float64Array;
  readonly #n: number;
  /** Joint and displacement for each mm of it. */
  readonly #rates: readonly (readonly [number, number, number, number])[];

  constructor(
    frame: Frame,
    rates: readonly (readonly [number, number, number, number])[],
    joints: Float64Array,
    n: number,
  ) {
    this.frame = frame;
    this.#rates = rates;
    this.key = rates.join(' ');
    this.#joints = joints;
    this.#n = n;
  }

  /** False if the boxes around the two, over the whole move, are at least so far apart. */
  comesWithin(body: RigidBody, things: Things, within: number): boolean {
    const joints = this.#joints;
    const top = things.tree.levels.at(-1)!;
    const f = this.frame;
    const centre = [0, 0, 0];
    const half = [0, 0, 0];
    for (let c = 0; c < 3; c++) {
      centre[c] = f[12 + c]!;
      for (let k = 0; k < 3; k++) {
        centre[c]! += f[4 * k + c]! * top[k]!;
        half[c]! += Math.abs(f[4 * k + c]!) * top[3 + k]!;
      }
    }
    for (const [j, ...rate] of this.#rates) {
      let low = Infinity;
      let high = -Infinity;
      for (let i = j; i < joints.length; i += this.#n) {
        if (joints[i]! < low) low = joints[i]!;
        if (joints[i]! > high) high = joints[i]!;
      }
      for (let c = 0; c < 3; c++) {
        centre[c]! -= rate[c]! * ((low + high) / 2 - joints[j]!);
        half[c]! += Math.abs(rate[c]!) * ((high - low) / 2);
      }
    }
    const [x, y, z] = centre as [number, number, number];
    const [u, v, w] = half as [number, number, number];
    return body.bound(x, y, z, u, v, w, within) < within;
  }

  /** Stretch i leads to the i-th set of joint values after the first; one for all if nothing moves. */
  path(): Path {
    const joints = this.#joints;
    const count = this.#rates.length > 0 ? joints.length / this.#n : 2;
    const points = new Float64Array(3 * count);
    for (const [j, x, y, z] of this.#rates) {
      for (let i = 0; i < count; i++) {
        const step = joints[i * this.#n + j]! - joints[j]!;
        points[3 * i]! += step * x;
        points[3 * i + 1]! += step * y;
        points[3 * i + 2]! += step * z;
      }
    }
    return new Path(points);
  }
}

/**
 * @param joints sets of joint values one after the other, rotary ones alike in all of them
 * @param n joints per set
 */
export function straight(
  machine: Machine,
  body: CarriedThings,
  things: CarriedThings,
  joints: Float64Array,
  n: number,
): Translation {
  const first = joints.slice(0, n);
  const between = (q: Float64Array): Frame =>
    compose(inverse(machineFrom(machine, body, q)), machineFrom(machine, things, q));
  const frame = between(first);
  const rates = jointsOf(machine, 'linear').flatMap((j) => {
    const moved = first.slice();
    moved[j]! += 1;
    const f = between(moved);
    const rate = [12, 13, 14].map((c) => frame[c]! - f[c]!) as [number, number, number];
    return rate.some((x) => x !== 0) ? [[j, ...rate] as const] : [];
  });
  return new Translation(frame, rates, joints, n);
}
