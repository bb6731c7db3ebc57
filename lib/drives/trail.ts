/**
 * Where beads lie: the ends of a block's tip path, in machine coordinates as the table stands with all
 * joints at zero, m.
 */
import { type Frame, applyPoint, inverse } from '../base/frame.js';
import type { Vec3 } from '../base/vector.js';
import { machineFromPart } from '../machine/joint-chain.js';
import { forwardInto } from '../machine/forward.js';
import type { Machine } from '../machine/machine.js';
import type { JointPath } from './job-path.js';

export class TipTrail {
  readonly #machine: Machine;
  readonly #path: JointPath;
  readonly #pose = new Float64Array(6);
  /** Machine points, joints at zero, from part points. */
  readonly #zero: Frame;

  constructor(machine: Machine, path: JointPath) {
    this.#machine = machine;
    this.#path = path;
    this.#zero = machineFromPart(machine, new Float64Array(machine.joints.length));
  }

  ends(b: number): readonly [Vec3, Vec3] {
    const { joints, jointCount: n, from } = this.#path;
    const begin = b > 0 ? this.#at(joints, (b - 1) * n) : this.#at(from, 0);
    return [begin, this.#at(joints, b * n)];
  }

  #at(joints: ArrayLike<number>, at: number): Vec3 {
    forwardInto(this.#machine, joints, at, this.#pose);
    const p = applyPoint(this.#zero, [this.#pose[0]!, this.#pose[1]!, this.#pose[2]!]);
    return [p[0] / 1000, p[1] / 1000, p[2] / 1000];
  }

  /** The place in the part frame, mm, of a point in those coordinates, m. */
  inPart(p: Vec3): Vec3 {
    return applyPoint(inverse(this.#zero), [1000 * p[0], 1000 * p[1], 1000 * p[2]]);
  }
}
