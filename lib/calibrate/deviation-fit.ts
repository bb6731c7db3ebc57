/**
 * The deviations of a machine from its file, with their uncertainties, fitted to the readings of touches;
 * with what the data cannot determine (left as drawn) and which touches do not agree with the others (named
 * and set aside).
 *
 * What cannot be determined shows in the singular values of the Jacobian: a combination of deviations whose
 * uncertainty is above TELLABLE. The deviation that dominates it is held and the rest is solved again.
 */
import { Fault } from '../base/fault.js';
import { Matrix } from 'ml-matrix';
import { type Bias, biasesOf, knownBiases, widened } from './bias.js';
import { type DeviationModel, type Parameter, stateAt } from './deviation-model.js';
import type { DeviatedMachine } from './effect.js';
import { type LackOfFit, lackOfFit } from './lack-of-fit.js';
import { effectRows, suspectsOf, trendsOf } from './suspects.js';
import { type BadTouch, setAside } from './robust.js';
import {
  type Split,
  type TouchReading,
  inverseSquare,
  jacobianOf,
  solve,
  split,
  residuals,
  solution,
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
  /** Whether the residuals are noise, and what they look like if they are not. */
  readonly doubts: LackOfFit;
  /** What the effects that the machine file will not hold do to the deviations and to the tip. */
  readonly biases: readonly Bias[];
  /**
   * Covariance of the deviations named in `spread` from the scatter of the touches, and from what those that were
   * left as drawn may be.
   */
  readonly scattered: Matrix;
  /** The same with what the biases add; the uncertainties come from it. */
  readonly covariance: Matrix;
  /** Indices of the deviations that were fitted, then of those that were left as drawn. */
  readonly spread: readonly number[];
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

/**
 * What a deviation that was left as drawn may be at most, mm (at 100 mm for angles): usual on a machine built at home;
 * common experience, no source. Evenly up to that, its standard uncertainty is that over the root of 3 (JCGM 100:2008,
 * 4.3.7).
 */
const USUAL_ERROR: Record<Parameter['group'], number> = {
  axis: 1,
  face: 1,
  'run-out': 0.1,
  square: 0.2,
  tip: 0.05,
  give: 0.3,
  play: 0.3,
  target: 1,
  effect: 0.1,
};

/** Which deviations are held first when a combination is undetermined: minor ones before axes. */
const HOLD_FIRST: Record<Parameter['group'], number> = {
  effect: 10,
  tip: 8,
  square: 6,
  'run-out': 6,
  give: 4,
  play: 4,
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
  const held = undetermined.map((u) => u.held);
  const settled = setAside(touches, {
    unknowns: active.length,
    expected: rules.noise,
    solve: (used) => {
      const x = solve(model, used, start, active);
      const parts = split(jacobianOf(model, used, x, active));
      return { x, parts, left: residuals(model, used, x) };
    },
    at: ({ x }, all) => ({
      left: residuals(model, all, x),
      design: jacobianOf(model, all, x, active),
    }),
    held: ({ x }, all) => jacobianOf(model, all, x, held),
    doubted: ({ x }, all) => effectRows(model, all, x),
  });
  const { used, bad, freedom, noise } = settled;
  const { x, parts, left: after } = settled.solution;
  const suspects = suspectsOf(model, used, x);
  const doubts = lackOfFit(
    { left: after, basis: parts.u, noise: rules.noise },
    suspects,
    trendsOf(stateAt(model, x), used),
  );
  const biases = [...biasesOf(model, doubts, suspects, parts, active), ...knownBiases(model, x)];
  const spread = [...active, ...held];
  const scattered = withHeld(
    inverseSquare(parts).mul((noise * widening(freedom)) ** 2),
    parts,
    jacobianOf(model, used, x, held),
    held.map((p) => USUAL_ERROR[model.parameters[p]!.group] / Math.sqrt(3)),
  );
  const covariance = widened(scattered, spread, biases);
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
    doubts,
    biases,
    scattered,
    covariance,
    spread,
  };
}

/**
 * The covariance of the fitted deviations, and behind them of those that were held: each of these may be wrong by
 * its usual error, and the fit then imitates it by the others.
 */
function withHeld(fitted: Matrix, parts: Split, held: Matrix, usual: readonly number[]): Matrix {
  const count = fitted.rows;
  const out = Matrix.zeros(count + usual.length, count + usual.length);
  out.setSubMatrix(fitted, 0, 0);
  usual.forEach((error, h) => {
    const by = solution(parts, held.getColumn(h));
    const moved = Matrix.zeros(out.rows, 1);
    for (let i = 0; i < count; i++) moved.set(i, 0, -error * by[i]!);
    moved.set(count + h, 0, error);
    out.add(moved.mmul(moved.transpose()));
  });
  return out;
}

/**
 * The minor deviation, as index in `active`, that the touches would know less well than it is known without them:
 * fitted it would do more harm than left as drawn.
 */
function vaguest(
  model: DeviationModel,
  active: readonly number[],
  square: Matrix,
  noise: number,
): number | undefined {
  const over = active.map((p, k) => {
    const { group } = model.parameters[p]!;
    if (HOLD_FIRST[group] <= HOLD_FIRST.axis) return 0;
    return (noise * Math.sqrt(square.get(k, k))) / USUAL_ERROR[group];
  });
  const most = Math.max(...over);
  return most > 1 ? over.indexOf(most) : undefined;
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
    const { u, s, v } = split(jacobianOf(model, touches, x, active));
    // With fewer touches than unknowns the last columns of v have no singular value.
    const last = v.columns - 1;
    const tellable = (s[last] ?? 0) * TELLABLE > noise;
    const unsure = tellable ? vaguest(model, active, inverseSquare({ u, s, v }), noise) : undefined;
    if (tellable && unsure === undefined) return { active, undetermined };
    const shares = v.getColumn(last).map(Math.abs);
    const weights = shares.map((share, k) =>
      share < MEMBER_SHARE / 2 ? 0 : share * HOLD_FIRST[model.parameters[active[k]!]!.group],
    );
    const leader = unsure ?? weights.indexOf(Math.max(...weights));
    const held = active[leader]!;
    undetermined.push({
      held,
      with: active.filter((_, k) => k !== leader && shares[k]! > MEMBER_SHARE * shares[leader]!),
    });
    active = active.filter((p) => p !== held);
  }
}
