/**
 * A machine with errors as it stands at one touch, and an effect on it that its machine file does not hold: an
 * amount near 1 for 1 mm (at a lever of 100 mm for angles and scales), as the deviations are, that changes either
 * what the joints really do or the size of the target. So one description gives what a touch reads, and where the
 * tip goes in a print.
 */
import type { Machine } from '../machine/machine.js';
import type { Target } from './targets.js';
import type { Slack, TouchStands } from './touch-stands.js';

/** Machine and targets with deviations applied. */
export interface DeviatedMachine {
  readonly machine: Machine;
  /** Without them. */
  readonly drawn: Machine;
  readonly targets: readonly Target[];
  /** Radius of the flat of the tip, mm. */
  readonly flat: number;
  /** Where its joints stand, with further give and play. */
  readonly stands: TouchStands;
  readonly slack: Slack;
}

/** A machine at one touch. */
export interface TouchState {
  readonly state: DeviatedMachine;
  /** Where they stand, order of Machine.joints, mm and rad. */
  readonly joints: ArrayLike<number>;
  /** Touches made so far, which stands for time. */
  readonly number: number;
}

/** One amount of an effect: what is really there where it is 1. */
export interface EffectColumn {
  readonly name: string;
  /** What an amount of 1 is for people. */
  readonly shown: { readonly size: number; readonly unit: 'mm' | 'deg' | '%' };
  /** True joint values less the shown ones, for an amount of 1. */
  readonly joints?: (at: TouchState) => Float64Array;
  /**
   * The linear joint, index in Machine.joints, that goes farther than it shows by SCALE for 1: the machine file holds
   * it, so the machine that the deviations make has it already.
   */
  readonly scales?: number;
  /** Change of the radius of the balls, mm for 1. */
  readonly radius?: number;
}

/** What residuals are held against. */
export const VARIABLES = ['tilt', 'turn', 'time', 'height', 'place', 'side'] as const;
export type Variable = (typeof VARIABLES)[number];

/** Share for an amount of 1 of a scale: 1 mm in 100 mm. */
export const SCALE = 0.01;

/** One thing that a machine may do, with its amounts: two where its phase is not known. */
export interface Effect {
  readonly name: string;
  /** What its residuals run with. */
  readonly against: Variable;
  readonly columns: readonly EffectColumn[];
  readonly cause: string;
  readonly remedy: string;
}

/** Machine and joint values at a touch with an amount of an effect. */
export function withEffect(column: EffectColumn, amount: number, at: TouchState): TouchState {
  if (amount === 0) return at;
  const { radius = 0, joints } = column;
  if (joints) {
    const by = joints(at);
    return { ...at, joints: Float64Array.from(at.joints, (v, j) => v + amount * by[j]!) };
  }
  const targets = at.state.targets.map((t) =>
    t.kind === 'ball' ? { ...t, radius: t.radius + amount * radius } : t,
  );
  return { ...at, state: { ...at.state, targets } };
}
