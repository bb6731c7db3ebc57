/**
 * A spot of the error budget: the joints as they stand while a bead is laid, and how errors of the joints
 * move the tip there; and what a source of errors says about itself.
 */
import { jointsOf } from '../machine/joint-chain.js';
import { tipChange } from '../machine/forward.js';
import type { Machine } from '../machine/machine.js';
import type { Trace } from '../verify/trace.js';

export interface BudgetRules {
  /** mm */
  readonly cornerDeviation: number;
  readonly chordError: number;
  /** Of what is laid, g/cm3. */
  readonly density: number;
}

/** A place at which the errors are evaluated. */
export interface Spot {
  /** It stands for the blocks from `since` to `block`, at the end of which the joints are. */
  readonly since: number;
  readonly block: number;
  /** Joint values, mm and rad. */
  readonly joints: Float64Array;
  /** What 1 mm or 1 rad of each joint moves the tip by, part frame: x y z of joint j from 3 j on. */
  readonly rates: Float64Array;
  /** Of each joint: true if it came to its value from above. */
  readonly above: readonly boolean[];
}

export type SourceName =
  'backlash' | 'resolution' | 'compliance' | 'corners' | 'calibration' | 'run-out';

export interface ErrorSource {
  readonly name: SourceName;
  readonly kind: 'systematic' | 'random';
  /** In words, with where it comes from. */
  readonly formula: string;
  /** What the machine file does not state and is left out for it. */
  readonly notStated: readonly string[];
  /** Set if it is a part of another source, which counts it already. */
  readonly within?: SourceName;
  /** mm at a spot: bound or standard uncertainty; undefined if nothing about it is stated. */
  readonly at: ((spot: Spot) => number) | undefined;
}

/** How many standard uncertainties hold in about 95 %. */
export const COVERAGE = 2;
const JOINT_STEP = 1e-4;

export function spotAt(
  machine: Machine,
  trace: Trace,
  [since, block]: readonly [number, number],
  above: readonly boolean[],
): Spot {
  const n = trace.jointCount;
  const joints = trace.joints.slice(block * n, block * n + n);
  const rates = new Float64Array(3 * n);
  const at = joints.slice();
  for (let j = 0; j < n; j++) {
    tipChange(machine, at, j, JOINT_STEP).forEach((mm, c) => {
      rates[3 * j + c] = mm / (2 * JOINT_STEP);
    });
  }
  return { since, block, joints, rates, above };
}

/** Greatest length of the sum of what joints may be off by, mm, each with either sign. */
export function boundOf({ rates }: Spot, offs: ArrayLike<number>): number {
  const sum = [0, 0, 0];
  for (let j = 0; j < offs.length; j++) {
    for (let c = 0; c < 3; c++) sum[c]! += Math.abs(rates[3 * j + c]! * offs[j]!);
  }
  return Math.hypot(...sum);
}

/** Root of the sum of squares, mm, of independent errors of the joints. */
export function spreadOf({ rates }: Spot, deviations: ArrayLike<number>): number {
  let sum = 0;
  for (let i = 0; i < rates.length; i++) sum += (rates[i]! * deviations[Math.floor(i / 3)]!) ** 2;
  return Math.sqrt(sum);
}

/** Letters of the joints of a kind that a list of values leaves open. */
export const lacking = (
  machine: Machine,
  kind: 'linear' | 'rotary',
  values: readonly (number | undefined)[],
): string =>
  jointsOf(machine, kind)
    .filter((j) => values[j] === undefined)
    .map((j) => machine.joints[j]!.letter)
    .join(' ');
