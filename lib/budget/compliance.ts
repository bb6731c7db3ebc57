/**
 * By how much the tip sinks because the joints yield under what they carry: the weights of the machine file
 * and the part as it grows. What counts is the change against the empty table at the ready values, where
 * the machine is set up; torques at rest are those of the study of drives.
 */
import { ChainDynamics } from '../drives/chain-dynamics.js';
import { beltStiffness } from '../drives/belt.js';
import { GrowingMass } from '../drives/mass.js';
import { machineFromPart } from '../machine/joint-chain.js';
import { applyPoint } from '../base/frame.js';
import type { Machine } from '../machine/machine.js';
import { type Trace, TraceKind } from '../verify/trace.js';
import { COVERAGE, type ErrorSource, type Spot, lacking, shiftOf } from './spot.js';

export class JointCompliance {
  readonly #machine: Machine;
  readonly #trace: Trace;
  readonly #kgPerMm3: number;
  readonly #chains: readonly ChainDynamics[];
  readonly #growth = new GrowingMass();
  /** Torques at rest at the ready values, table empty, N m. */
  readonly #ready: Float64Array;
  /** Of each joint, N m/rad or N/mm: what the file states of it, else what its belts give. */
  readonly #stiffness: readonly (number | undefined)[];
  #done = 0;

  constructor(machine: Machine, trace: Trace, density: number) {
    this.#machine = machine;
    this.#trace = trace;
    this.#kgPerMm3 = density * 1e-6;
    this.#chains = [new ChainDynamics(machine, false), new ChainDynamics(machine, true)];
    this.#ready = this.#loads(machine.ready);
    this.#stiffness = machine.joints.map(
      (joint, j) => joint.stiffness ?? beltStiffness(machine, j),
    );
  }

  source(): ErrorSource {
    const { drives } = this.#machine;
    const stated = this.#stiffness.some((k) => k !== undefined);
    const open = lacking(this.#machine, 'rotary', this.#stiffness);
    return {
      name: 'compliance',
      kind: 'systematic',
      formula:
        'lever x (gravity torque - that of the empty table at the ready values) / stiffness of the joint, or of its belts where that is not stated; longer by twice the uncertainty of the stiffness',
      notStated: [
        ...(open ? [`stiffness of ${open}`] : []),
        ...(drives ? [] : ['weights of the machine (drives.bodies)']),
      ],
      at: stated ? this.#at : undefined,
    };
  }

  readonly #at = (spot: Spot): number => {
    this.#layUpTo(spot.block);
    const loads = this.#loads(spot.joints);
    const offs = this.#machine.joints.map((joint, j) => {
      const { stiffnessUncertainty: unsure = 0 } = joint;
      const stiffness = this.#stiffness[j];
      if (stiffness === undefined) return 0;
      // A joint holds against its load, so it yields the other way.
      const give = -(loads[j]! - this.#ready[j]!) / stiffness;
      return give * (1 + (COVERAGE * unsure) / stiffness);
    });
    return shiftOf(spot, offs);
  };

  /** Torque that each joint holds at rest, N m (N for linear ones). */
  #loads(joints: ArrayLike<number>): Float64Array {
    const out = new Float64Array(joints.length);
    for (const chain of this.#chains) {
      const q = chain.joints.map((j) =>
        this.#machine.joints[j]!.kind === 'rotary' ? joints[j]! : joints[j]! / 1000,
      );
      chain.pose(q);
      const { loads } = chain.atRest();
      chain.joints.forEach((j, k) => (out[j] = loads[k]!));
    }
    return out;
  }

  /** What is laid is carried by the table; beads lie where it stands with all joints at zero, m. */
  #layUpTo(block: number): void {
    const { kind, volume, tip, jointCount } = this.#trace;
    const zero = machineFromPart(this.#machine, new Float64Array(jointCount));
    const place = (b: number): number[] =>
      applyPoint(zero, [tip[3 * b]!, tip[3 * b + 1]!, tip[3 * b + 2]!]).map((c) => c / 1000);
    for (; this.#done <= block; this.#done++) {
      const b = this.#done;
      if (kind[b] !== TraceKind.deposit || b === 0) continue;
      this.#growth.add(volume[b]! * this.#kgPerMm3, place(b - 1), place(b));
    }
    this.#chains[1]!.carry(this.#growth.mass());
  }
}
