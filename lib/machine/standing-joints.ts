/**
 * Where joints stand when they are told a value: the one function by which plan, check, calibration and error
 * budget know that a machine gives and has play.
 *
 *   stands = told + flank - (load there - load of the empty table at the ready values) / stiffness
 *
 * Give: a joint yields under what it holds at rest (rest-loads.ts) by its stated stiffness, or by that of its
 * belts. What counts is the change against the empty table at the ready values, where the machine is set up.
 * The load is that at the place where the joint stands, so the equation is implicit; each round of the fixed
 * point leaves a share (gradient of the load) / stiffness of the error, a few thousandths on machines that
 * hold up. Told for stands is explicit.
 *
 * Flank: a joint with play lies on the flank onto which its load presses it, whatever way it came, as soon as
 * the load exceeds the dry friction. Only below that does the way of arrival decide. A value is that of the
 * flank reached from below (as at the touches of a calibration), or of the one on which the load holds the
 * joint at the ready values.
 *
 * Nothing of this is known where the machine file states no weights; give needs a stiffness, the flank a
 * friction. What is not known is left out, and `unstated` says so.
 */
import { beltStiffness } from './belt.js';
import type { Vec3 } from '../base/vector.js';
import type { Machine } from './machine.js';
import { RestLoads } from './rest-loads.js';

/** Rounds of the fixed point; with a gradient of a tenth of the stiffness 1e-9 of the give is left. */
const ROUNDS = 9;
/** Change of a round at which the rest is rounding, mm and rad. */
const STANDS_STILL = 1e-12;

/** On which flank the load holds a joint: the lower one, the upper one, or on neither. */
export type HeldFlank = -1 | 0 | 1;

/** On which flank a load that is held up presses a joint, N m or N; NaN of friction: it does not say. */
export const flankHeld = (load: number, friction: number): HeldFlank =>
  load > friction ? -1 : load < -friction ? 1 : 0;

/** N m/rad or N/mm: what the file states of a joint, else what its belts give; undefined: not known. */
export const stiffnessAt = (machine: Machine, j: number): number | undefined =>
  machine.joints[j]!.stiffness ?? beltStiffness(machine, j);

/** True where the file states what the machine's parts weigh. */
export const statesWeights = ({ drives }: Machine): boolean => (drives?.bodies.length ?? 0) > 0;

/** True for a joint of which the file says enough to know on which flank of its play a load holds it. */
export const flankIsKnown = (machine: Machine, j: number): boolean =>
  statesWeights(machine) &&
  machine.joints[j]!.backlash > 0 &&
  machine.drives!.joints[j]!.friction !== undefined &&
  machine.dialect.play !== 'controller';

export class StandingJoints {
  /** Undefined for a machine of which neither give nor flanks are known. */
  static of(machine: Machine): StandingJoints | undefined {
    const some = machine.joints.some(
      (_, j) => stiffnessAt(machine, j) !== undefined || flankIsKnown(machine, j),
    );
    return some && statesWeights(machine) ? new StandingJoints(machine) : undefined;
  }

  readonly #loads: RestLoads;
  readonly #ready: Float64Array;
  readonly #compliance: Float64Array;
  /** NaN where the flank is not known. */
  readonly #friction: Float64Array;
  readonly #plays: Float64Array;
  /** Of each joint 1 if the value is that of its upper flank. */
  readonly #upper: Float64Array;
  /** Give of the joints as they stand whose drives are at `#driven`; NaN where it is to be found. */
  readonly #give: Float64Array;
  readonly #driven: Float64Array;

  private constructor(machine: Machine) {
    const { joints, ready, drives } = machine;
    this.#loads = new RestLoads(machine);
    this.#ready = this.#loads.at(ready).slice();
    this.#compliance = Float64Array.from(
      joints,
      (_, j) => 1 / (stiffnessAt(machine, j) ?? Infinity),
    );
    this.#friction = Float64Array.from(joints, (_, j) =>
      flankIsKnown(machine, j) ? drives!.joints[j]!.friction! : NaN,
    );
    this.#plays = Float64Array.from(joints, (j) => j.backlash);
    this.#upper = Float64Array.from(joints, (_, j) => (this.#held(j, this.#ready) > 0 ? 1 : 0));
    this.#give = new Float64Array(joints.length);
    this.#driven = new Float64Array(joints.length).fill(NaN);
  }

  /** Lays a bead of some kg from p to q, part frame, mm. @returns true if the loads have changed by it */
  lay(kg: number, p: Vec3, q: Vec3): boolean {
    const changed = this.#loads.lay(kg, p, q);
    if (changed) this.#driven.fill(NaN);
    return changed;
  }

  /** By how much each joint gives where it stands at `joints[at ..]`, rad and mm; into `out`. */
  giveInto(joints: ArrayLike<number>, at: number, out: Float64Array): Float64Array {
    const loads = this.#loads.at(joints, at);
    for (let j = 0; j < out.length; j++) {
      // A joint holds against its load, so it yields the other way.
      out[j] = -(loads[j]! - this.#ready[j]!) * this.#compliance[j]!;
    }
    return out;
  }

  /** On which flank the load holds joint j where the joints stand. */
  heldAt(joints: ArrayLike<number>, at: number, j: number): HeldFlank {
    return this.#held(j, this.#loads.at(joints, at));
  }

  #held(j: number, loads: Float64Array): HeldFlank {
    return flankHeld(loads[j]!, this.#friction[j]!);
  }

  /**
   * How far joint j stands over its value by the flank on which it is held, mm or rad. One that is not held
   * has come from below.
   */
  flankOf(held: HeldFlank, j: number): number {
    return (held > 0 ? this.#plays[j]! : 0) - this.#upper[j]! * this.#plays[j]!;
  }

  /** Where joints stand whose drives, flank and all, are at `driven`; into `out[outAt ..]`. */
  standInto(driven: ArrayLike<number>, out: Float64Array, outAt: number): void {
    const give = this.#give;
    for (let j = 0; j < give.length; j++) out[outAt + j] = driven[j]!;
    const { changing } = this.#loads;
    if (!changing.every((j) => driven[j] === this.#driven[j])) {
      for (const j of changing) this.#driven[j] = driven[j]!;
      this.#settle(driven, out, outAt);
    }
    for (let j = 0; j < give.length; j++) out[outAt + j] = driven[j]! + give[j]!;
  }

  /** The fixed point of the give; leaves it in `#give`. */
  #settle(driven: ArrayLike<number>, out: Float64Array, outAt: number): void {
    const give = this.#give;
    for (let round = 0; round < ROUNDS; round++) {
      this.giveInto(out, outAt, give);
      let change = 0;
      for (let j = 0; j < give.length; j++) {
        const next = driven[j]! + give[j]!;
        change = Math.max(change, Math.abs(next - out[outAt + j]!));
        out[outAt + j] = next;
      }
      if (change < STANDS_STILL) return;
    }
  }
}
