/**
 * The tip's path over the part during one block, with all joints moving linearly: its length and its lowest
 * point over the table face. Only forward kinematics; divided more finely where a rotary axis turns.
 */
import type { Vec3 } from '../base/vector.js';
import { forwardInto } from '../machine/forward.js';
import type { Machine } from '../machine/machine.js';

/** Greatest turn between two looks, rad: chords are short of the arc by less than 2e-5 of it. */
const LOOK_TURN = Math.PI / 180;

const UNKNOWN: Vec3 = [NaN, NaN, NaN];

export class TipPath {
  /** mm */
  length = 0;
  /** Lowest height of the tip over the table face, mm; infinite if it was never over the face. */
  lowest = Infinity;
  /** Tip at the end, part frame, mm; NaN where it is not known. */
  tip: Vec3 = UNKNOWN;
  /** Unit direction up the head at the end, part frame. */
  direction: Vec3 = UNKNOWN;
  readonly #machine: Machine;
  readonly #joints: Float64Array;
  readonly #pose = new Float64Array(6);
  readonly #rotary: readonly number[];

  constructor(machine: Machine) {
    this.#machine = machine;
    this.#joints = new Float64Array(machine.joints.length);
    this.#rotary = machine.joints.flatMap((j, i) => (j.kind === 'rotary' ? [i] : []));
  }

  /** Is nowhere that is known. */
  lose(): void {
    this.length = 0;
    this.lowest = Infinity;
    this.tip = UNKNOWN;
    this.direction = UNKNOWN;
  }

  /** Stands at joints[at ..] without having moved. */
  stand(joints: ArrayLike<number>, at: number): void {
    this.length = 0;
    this.lowest = Infinity;
    forwardInto(this.#machine, joints, at, this.#pose);
    this.#look();
    this.#end();
  }

  /** Runs from where it stands, joints[from ..], to joints[to ..] of the same array. */
  run(joints: ArrayLike<number>, from: number, to: number): void {
    this.length = 0;
    this.lowest = Infinity;
    let turn = 0;
    for (const i of this.#rotary)
      turn = Math.max(turn, Math.abs(joints[to + i]! - joints[from + i]!));
    const pieces = Math.max(1, Math.ceil(turn / LOOK_TURN));
    for (let k = 1; k <= pieces; k++) {
      const share = k / pieces;
      for (let i = 0; i < this.#joints.length; i++) {
        this.#joints[i] = joints[from + i]! + (joints[to + i]! - joints[from + i]!) * share;
      }
      const [x, y, z] = this.tip;
      forwardInto(this.#machine, this.#joints, 0, this.#pose);
      this.length += Math.hypot(this.#pose[0]! - x, this.#pose[1]! - y, this.#pose[2]! - z);
      this.#look();
    }
    this.#end();
  }

  #look(): void {
    this.tip = [this.#pose[0]!, this.#pose[1]!, this.#pose[2]!];
    if (this.tip[2] < this.lowest && this.#overFace()) this.lowest = this.tip[2];
  }

  #end(): void {
    this.direction = [this.#pose[3]!, this.#pose[4]!, this.#pose[5]!];
  }

  #overFace(): boolean {
    const { face } = this.#machine;
    const [x, y] = this.tip;
    if (face.shape === 'disc') return x * x + y * y <= face.radius * face.radius;
    return Math.abs(x) <= face.size[0] / 2 && Math.abs(y) <= face.size[1] / 2;
  }
}
