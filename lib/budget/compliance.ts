/**
 * What stays uncertain of the give of the joints. Plan and check count with the give itself
 * (machine/standing-joints.ts), so of it the budget keeps only what the uncertainty of a stiffness leaves: the
 * give under the load there, the growing part included, times the relative uncertainty of the stiffness.
 */
import { pointAt } from '../base/vector.js';
import { windUpName } from '../calibrate/deviation-model.js';
import type { Machine } from '../machine/machine.js';
import { KG_PER_MM3 } from '../machine/mass.js';
import { StandingJoints, statesWeights, stiffnessAt } from '../machine/standing-joints.js';
import { type Trace, TraceKind } from '../verify/trace.js';
import { type ErrorSource, type Spot, lacking, spreadOf } from './spot.js';

export class JointCompliance {
  readonly #machine: Machine;
  readonly #trace: Trace;
  readonly #kgPerMm3: number;
  readonly #standing: StandingJoints | undefined;
  /** Standard uncertainty of the stiffness of each joint over the stiffness; 0 where it is not stated. */
  readonly #relative: Float64Array;
  #done = 0;

  constructor(machine: Machine, trace: Trace, density: number) {
    this.#machine = machine;
    this.#trace = trace;
    this.#kgPerMm3 = density * KG_PER_MM3;
    this.#standing = StandingJoints.of(machine);
    this.#relative = Float64Array.from(machine.joints, (joint) => {
      const { stiffness, stiffnessUncertainty: unsure } = joint;
      // What a calibration found with all the rest is counted with all the rest.
      const counted = machine.measured?.covariance?.of.includes(windUpName(joint));
      return stiffness && unsure && !counted ? unsure / stiffness : 0;
    });
  }

  source(): ErrorSource {
    const machine = this.#machine;
    const stiffness = machine.joints.map((_, j) => stiffnessAt(machine, j));
    const weighs = statesWeights(machine);
    const rigid = weighs ? lacking(machine, 'rotary', stiffness) : '';
    const unsure = machine.joints.map((j, i) =>
      stiffness[i] === undefined ? 0 : j.stiffness && j.stiffnessUncertainty,
    );
    const open = weighs ? lacking(machine, 'rotary', unsure) : '';
    return {
      name: 'compliance',
      kind: 'random',
      formula:
        'lever x (load - that of the empty table at the ready values) / stiffness x relative uncertainty of the stiffness, where that is not a part of calibration; the give itself is planned and checked with',
      notStated: [
        ...(weighs
          ? []
          : ['weights of the machine (drives.bodies): planned and checked as if nothing gave']),
        ...(rigid ? [`stiffness of ${rigid}: planned and checked as rigid`] : []),
        ...(open ? [`uncertainty of the stiffness of ${open}`] : []),
      ],
      at: this.#standing && stiffness.some((k) => k !== undefined) ? this.#at : undefined,
    };
  }

  readonly #at = (spot: Spot): number => {
    this.#layUpTo(spot.block);
    const give = this.#standing!.giveInto(spot.joints, 0, new Float64Array(spot.joints.length));
    return spreadOf(
      spot,
      give.map((by, j) => by * this.#relative[j]!),
    );
  };

  /** Whether the load holds a joint on one flank of its play. */
  readonly isHeld = (spot: Spot, j: number): boolean => {
    this.#layUpTo(spot.block);
    return (this.#standing?.heldAt(spot.joints, 0, j) ?? 0) !== 0;
  };

  #layUpTo(block: number): void {
    const { kind, volume, tip } = this.#trace;
    for (; this.#done <= block; this.#done++) {
      const b = this.#done;
      if (kind[b] !== TraceKind.deposit || b === 0) continue;
      const kg = volume[b]! * this.#kgPerMm3;
      this.#standing?.lay(kg, pointAt(tip, b - 1), pointAt(tip, b));
    }
  }
}
