/**
 * What every joint holds at rest: the gravity torque, or force, of all that it carries, less what its balance
 * pushes. The part counts as it has grown. Rigid bodies by the recursion of chain-dynamics.ts at speed 0; it
 * is done again only when a joint that changes a load has moved, or the part has grown.
 */
import { type Frame, applyPoint } from '../base/frame.js';
import type { Vec3 } from '../base/vector.js';
import { ChainDynamics } from './chain-dynamics.js';
import { machineFromPart } from './joint-chain.js';
import type { Machine } from './machine.js';
import { GrowingMass } from './mass.js';

/** Growth of the part, as a share of all that the table carries, from which on it counts. */
const GROWN_SHARE = 1e-3;

export class RestLoads {
  /** Joints whose values change a load: rotary ones, those that a rotary one carries, balanced ones. */
  readonly changing: readonly number[];
  readonly #machine: Machine;
  readonly #chains: readonly ChainDynamics[];
  readonly #still: Float64Array;
  /** Values for which `#loads` hold; NaN where they hold for none. */
  readonly #values: Float64Array;
  readonly #loads: Float64Array;
  readonly #growth = new GrowingMass();
  /** Machine points, joints at zero, from part points. */
  readonly #zero: Frame;
  #laden = 0;

  constructor(machine: Machine) {
    const { joints } = machine;
    this.#machine = machine;
    this.#chains = [new ChainDynamics(machine, false), new ChainDynamics(machine, true)];
    this.#still = new Float64Array(joints.length);
    this.#values = new Float64Array(joints.length).fill(NaN);
    this.#loads = new Float64Array(joints.length);
    this.changing = joints.flatMap((joint, j) => {
      const under = joints.slice(0, j).filter((o) => o.carriesTable === joint.carriesTable);
      const balanced = machine.drives?.joints[j]!.balance !== undefined;
      return joint.kind === 'rotary' || balanced || under.some((o) => o.kind === 'rotary')
        ? [j]
        : [];
    });
    this.#zero = machineFromPart(machine, this.#still);
  }

  /** Lays a bead from p to q, part frame, mm. @returns true if the loads have changed by it */
  lay(kg: number, p: Vec3, q: Vec3): boolean {
    const at = (point: Vec3): number[] => applyPoint(this.#zero, point).map((c) => c / 1000);
    this.#growth.add(kg, at(p), at(q));
    const table = this.#chains[1]!;
    const all = table.massFrom(table.joints.length - 1) + this.#growth.kg;
    if (this.#growth.kg - this.#laden <= GROWN_SHARE * all) return false;
    this.#laden = this.#growth.kg;
    table.carry(this.#growth.mass());
    this.#values.fill(NaN);
    return true;
  }

  /**
   * @param joints values in the order of `Machine.joints`, mm and rad, from place `at` on
   * @returns N m or N that each joint holds up, positive towards rising values; valid until the next call
   */
  at(joints: ArrayLike<number>, at = 0): Float64Array {
    if (this.changing.every((j) => joints[at + j] === this.#values[j])) return this.#loads;
    for (const j of this.changing) this.#values[j] = joints[at + j]!;
    for (const chain of this.#chains) {
      const own = chain.joints;
      const metres = (j: number): number => (this.#machine.joints[j]!.kind === 'rotary' ? 1 : 1e-3);
      chain.pose(own.map((j) => joints[at + j]! * metres(j)));
      chain.load(this.#still, this.#still);
      own.forEach((j, k) => (this.#loads[j] = chain.torque[k]!));
    }
    return this.#loads;
  }
}
