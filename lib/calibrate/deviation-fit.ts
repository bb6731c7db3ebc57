/**
 * The deviations of a machine from its file, with their uncertainties, fitted to the readings of touches;
 * with what the data cannot determine (left as drawn) and which touches do not agree with the others (named
 * and set aside).
 *
 * What cannot be determined shows in the singular values of the Jacobian: a combination of deviations whose
 * uncertainty is above TELLABLE. The deviation that dominates it is held and the rest is solved again.
 */
import { Fault } from '../base/fault.js';
import type { Matrix } from 'ml-matrix';
import {
  type DeviationModel,
  type Parameter,
  type DeviatedMachine,
  stateAt,
} from './deviation-model.js';
import { type BadTouch, setAside } from './robust.js';
import {
  type TouchReading,
  inverseSquare,
  jacobianOf,
  solve,
  split,
  residuals,
} from './least-squares.js';
import { widening } from './student.js';

export interface Estimate extends Parameter {
  /** Deviation from the machine file, mm; at a lever of 100 mm for angles. */
  readonly value: number;
  /** Standard uncertainty in the same unit; undefined where the data do not determine it. */
  readonly uncertainty: number | undefined;
}

/** Deviations that the data show only together. */
export interface Undetermined {
  /** Index in `estimates` of the one that was left as drawn. */
  readonly held: number;
  /** Others that would share its error, indices in `estimates`. */
  readonly with: readonly number[];
}

/** The errors of a machine as its touches show them, with their uncertainty. */
export interface DeviationFit {
  readonly model: DeviationModel;
  readonly state: DeviatedMachine;
  readonly deviations: Float64Array;
  readonly estimates: readonly Estimate[];
  readonly undetermined: readonly Undetermined[];
  readonly bad: readonly BadTouch[];
  readonly used: readonly TouchReading[];
  /**
   * Remaining distances of the used touches with the machine as drawn and targets where they are, and as
   * fitted, mm.
   */
  readonly before: Float64Array;
  readonly after: Float64Array;
  /** Standard deviation of one touch, mm, from the residuals. */
  readonly noise: number;
  readonly freedom: number;
  /** Covariance of the deviations named in `active`, widened as the uncertainties are. */
  readonly covariance: Matrix;
  readonly active: readonly number[];
}

export interface FitRules {
  /** Expected standard deviation of one touch, mm; decides what can be determined. */
  readonly noise: number;
}

/**
 * A combination of deviations known no better than this counts as undetermined, mm (at 100 mm for angles).
 */
export const TELLABLE = 0.5;
/** Share of a combination from which on a deviation counts as part of it. */
const MEMBER_SHARE = 0.2;

/** Which deviations are held first when a combination is undetermined: minor ones before axes. */
const HOLD_FIRST: Record<Parameter['group'], number> = {
  tip: 8,
  square: 6,
  'run-out': 6,
  face: 1,
  axis: 1,
  target: 0.5,
};

/** @throws Fault `calibrate/too-few`, `calibrate/too-many-bad`, `calibrate/no-fit` */
export function fitTouches(
  model: DeviationModel,
  touches: readonly TouchReading[],
  rules: FitRules,
): DeviationFit {
  const start = new Float64Array(model.parameters.length);
  const { active, undetermined } = determinable(model, touches, start, rules.noise);
  const settled = setAside(touches, active.length, rules.noise, (used) => {
    const x = solve(model, used, start, active);
    const parts = split(jacobianOf(model, used, x, active));
    return { x, parts, left: residuals(model, used, x) };
  });
  const { used, bad, freedom, noise } = settled;
  const { x, parts, left: after } = settled.solution;
  const covariance = inverseSquare(parts).mul((noise * widening(freedom)) ** 2);
  const drawn = Float64Array.from(x, (value, p) =>
    model.parameters[p]!.group === 'target' ? value : 0,
  );
  const estimates = model.parameters.map((parameter, p): Estimate => {
    const k = active.indexOf(p);
    const uncertainty = k < 0 ? undefined : Math.sqrt(covariance.get(k, k));
    return { ...parameter, value: x[p]!, uncertainty };
  });
  return {
    model,
    state: stateAt(model, x),
    deviations: x,
    estimates,
    undetermined,
    bad,
    used,
    before: residuals(model, used, drawn),
    after,
    noise,
    freedom,
    covariance,
    active,
  };
}

/** Splits the deviations into those that touches at these poses determine and those that they do not. */
export function determinable(
  model: DeviationModel,
  touches: readonly TouchReading[],
  x: ArrayLike<number>,
  noise: number,
): { readonly active: number[]; readonly undetermined: Undetermined[] } {
  let active = model.parameters.map((_, i) => i);
  const undetermined: Undetermined[] = [];
  for (;;) {
    if (active.length === 0) {
      throw new Fault(
        'calibrate/too-few',
        `${touches.length} touches determine nothing of the machine`,
      );
    }
    const { s, v } = split(jacobianOf(model, touches, x, active));
    // With fewer touches than unknowns the last columns of v have no singular value.
    const last = v.columns - 1;
    if ((s[last] ?? 0) * TELLABLE > noise) return { active, undetermined };
    const shares = v.getColumn(last).map(Math.abs);
    const weights = shares.map((share, k) =>
      share < MEMBER_SHARE / 2 ? 0 : share * HOLD_FIRST[model.parameters[active[k]!]!.group],
    );
    const leader = weights.indexOf(Math.max(...weights));
    const held = active[leader]!;
    undetermined.push({
      held,
      with: active.filter((_, k) => k !== leader && shares[k]! > MEMBER_SHARE * shares[leader]!),
    });
    active = active.filter((p) => p !== held);
  }
}
