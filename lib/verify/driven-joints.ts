/**
 * Where the joints of a machine that gives and has play really stand, from the values that a program tells
 * them: block by block, for what is laid weighs on the table. Give and flanks that a load holds are those of
 * machine/standing-joints.ts. Of other joints a drive that reverses passes its play before the driven side
 * follows, where nobody but the program makes up for it.
 */
import type { Vec3 } from '../base/vector.js';
import type { Machine } from '../machine/machine.js';
import { type HeldFlank, StandingJoints } from '../machine/standing-joints.js';
import { BlockFlag, type Program } from '../program/read-program.js';

export class DrivenJoints {
  /**
   * Joint values at the end of each block, mm and rad: the program's own where the machine neither gives nor
   * has play that counts, else those of the blocks that were followed.
   */
  readonly joints: Float64Array;
  readonly #program: Program;
  /** Plays that the way of arrival decides, mm and rad; 0 where it is not counted. */
  readonly #plays: Float64Array;
  readonly #standing: StandingJoints | undefined;
  readonly #rigid: boolean;
  /** Where the driven sides are, give aside; NaN before the first known place. */
  readonly #at: Float64Array;
  readonly #stands: Float64Array;

  constructor(program: Program, machine: Machine) {
    const { dialect, joints } = machine;
    const counts = dialect.play === 'program' || dialect.play === 'nobody';
    this.#program = program;
    this.#plays = Float64Array.from(joints, (j) => (counts ? j.backlash : 0));
    this.#standing = StandingJoints.of(machine);
    this.#rigid = !this.#standing && this.#plays.every((p) => p === 0);
    this.joints = this.#rigid ? program.joints : program.joints.slice();
    this.#at = program.from.slice();
    this.#stands = program.from.slice();
  }

  /** A bead of some kg from p to q, part frame, mm. */
  lay(kg: number, p: Vec3, q: Vec3): void {
    this.#standing?.lay(kg, p, q);
  }

  /** Goes through block b, after all before it. */
  follow(b: number): void {
    if (this.#rigid) return;
    const { flags, jointCount: n } = this.#program;
    const lost = (flags[b]! & BlockFlag.fromUnknown) !== 0;
    const standing = this.#standing;
    for (let j = 0; j < n; j++) this.#at[j] = this.#driven(j, this.joints[b * n + j]!, lost, 0);
    if (!standing || this.#at.some(Number.isNaN)) {
      this.joints.set(this.#at, b * n);
      return;
    }
    // The load that holds a joint is that of the place where it comes to stand.
    standing.standInto(this.#at, this.#stands, 0);
    for (let j = 0; j < n; j++) {
      const held = standing.heldAt(this.#stands, 0, j);
      this.#at[j] = this.#driven(j, this.#program.joints[b * n + j]!, lost, held);
    }
    standing.standInto(this.#at, this.joints, b * n);
  }

  /** Where the driven side of joint j is, give aside, that is told a value. */
  #driven(j: number, told: number, lost: boolean, held: HeldFlank): number {
    const zero = this.#standing?.flankOf(held, j) ?? 0;
    const play = this.#plays[j]!;
    if (held !== 0 || play === 0) return told + zero;
    const at = this.#at[j]!;
    const known = !lost && !Number.isNaN(at);
    return known ? Math.min(Math.max(at, told + zero), told + zero + play) : told + zero;
  }
}
