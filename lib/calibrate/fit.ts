/**
 * The fit: a machine file's machine, targets and readings come in; the deviations with their
 * uncertainties go out, with what the data cannot tell (left as drawn) and which touches do not
 * belong to the others (named and set aside).
 *
 * What cannot be told shows in the singular values of the Jacobian: a combination of deviations
 * whose uncertainty is above TELLABLE. The deviation that leads it is held and the rest asked again.
 * A bad touch shows by its residual against a fit without it (externally studentised; Belsley, Kuh
 * and Welsch, Regression Diagnostics, 1980, from memory), which needs no second fit: the leverage
 * says how far the touch has bent the fit towards itself.
 */
import { Fault } from '../base/fault.js';
import type { Matrix } from 'ml-matrix';
import { type Model, type Parameter, type State, stateAt } from './model.js';
import {
  type Split,
  type Touch,
  inverseSquare,
  jacobianOf,
  leverages,
  solve,
  split,
  waysLeft,
} from './solve.js';
import { widening } from './student.js';

export interface Estimate extends Parameter {
  /** Deviation from the machine file, mm; at a lever of 100 mm for angles. */
  readonly value: number;
  /** Standard uncertainty in the same unit; undefined where the data do not tell. */
  readonly uncertainty: number | undefined;
}

export interface BadTouch {
  readonly touch: Touch;
  /** How far it is from what the others say, mm. */
  readonly off: number;
}

/** Deviations that the data show only together. */
export interface Untold {
  /** Index in `estimates` of the one that was left as drawn. */
  readonly held: number;
  /** Others that would share its error, indices in `estimates`. */
  readonly with: readonly number[];
}

export interface Fit {
  readonly model: Model;
  readonly state: State;
  readonly deviations: Float64Array;
  readonly estimates: readonly Estimate[];
  readonly untold: readonly Untold[];
  readonly bad: readonly BadTouch[];
  readonly used: readonly Touch[];
  /** Ways left of the used touches with the machine as drawn and targets where they are, and as fitted, mm. */
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
  /** Expected standard deviation of one touch, mm; decides what can be told. */
  readonly noise: number;
}

/** A combination of deviations known no better than this is not told, mm (at 100 mm for angles). */
export const TELLABLE = 0.5;
/** Studentised residual of a bad touch: of 80 good ones with 60 to spare, one passes it in 2,000 fits. */
const BAD = 5;
/** Most touches that are set aside, as a share. */
const MOST_BAD = 0.1;
/** Share of a combination from which on a deviation counts as part of it. */
const SHARE = 0.2;

/** Which deviations are held first when a combination cannot be told: side matters before axes. */
const HOLD_FIRST: Record<Parameter['group'], number> = {
  tip: 8,
  square: 6,
  'run-out': 6,
  face: 1,
  axis: 1,
  target: 0.5,
};

/** @throws Fault `calibrate/too-few`, `calibrate/too-many-bad`, `calibrate/no-fit` */
export function fitTouches(model: Model, touches: readonly Touch[], rules: FitRules): Fit {
  const start = new Float64Array(model.parameters.length);
  const { active, untold } = tellable(model, touches, start, rules.noise);
  let used = touches;
  const bad: BadTouch[] = [];
  for (;;) {
    const freedom = used.length - active.length;
    if (freedom < LEAST_FREEDOM) {
      throw new Fault(
        'calibrate/too-few',
        `${used.length} touches for ${active.length} unknowns, at least ${active.length + LEAST_FREEDOM} are needed`,
      );
    }
    const x = solve(model, used, start, active);
    const after = waysLeft(model, used, x);
    const parts = split(jacobianOf(model, used, x, active));
    const worst = worstTouch(after, parts, freedom, rules.noise);
    if (worst) {
      bad.push({ touch: used[worst.index]!, off: worst.off });
      if (bad.length > Math.max(1, MOST_BAD * touches.length))
        throw tooManyBad(bad, touches.length);
      used = used.filter((_, i) => i !== worst.index);
      continue;
    }
    return judged(model, used, active, untold, bad, x, after, parts, freedom);
  }
}

/** Readings beyond the unknowns, without which the residuals say nothing. */
const LEAST_FREEDOM = 3;

function judged(
  model: Model,
  used: readonly Touch[],
  active: readonly number[],
  untold: readonly Untold[],
  bad: readonly BadTouch[],
  x: Float64Array,
  after: Float64Array,
  parts: Split,
  freedom: number,
): Fit {
  const noise = Math.sqrt(squares(after) / freedom);
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
    untold,
    bad,
    used,
    before: waysLeft(model, used, drawn),
    after,
    noise,
    freedom,
    covariance,
    active,
  };
}

const squares = (values: Float64Array): number => values.reduce((sum, r) => sum + r * r, 0);

/** The touch that least belongs to the others, if it does not belong at all. */
function worstTouch(
  ways: Float64Array,
  parts: Split,
  freedom: number,
  noise: number,
): { index: number; off: number } | undefined {
  const total = squares(ways);
  const leverage = leverages(parts);
  let worst: { index: number; off: number } | undefined;
  let most = BAD;
  ways.forEach((way, index) => {
    const open = Math.max(1e-12, 1 - leverage[index]!);
    // Variance from the others alone; never below a tenth of the noise that was stated, or readings
    // rounded to the same digit would condemn one another.
    const others = Math.max((total - (way * way) / open) / (freedom - 1), (noise / 10) ** 2);
    const student = Math.abs(way) / Math.sqrt(others * open);
    if (student > most) {
      most = student;
      worst = { index, off: way / open };
    }
  });
  return worst;
}

function tooManyBad(bad: readonly BadTouch[], count: number): Fault {
  const named = bad.map((b) => `${b.touch.number} (${b.off.toFixed(2)} mm)`).join(', ');
  return new Fault(
    'calibrate/too-many-bad',
    `${bad.length} of ${count} touches do not belong to the others, the limit is ${Math.max(1, Math.floor(MOST_BAD * count))}: ${named}; touch again, with a clean tip and tight screws`,
  );
}

/** Splits the deviations into those that touches at these poses tell and those that they do not. */
export function tellable(
  model: Model,
  touches: readonly Touch[],
  x: ArrayLike<number>,
  noise: number,
): { readonly active: number[]; readonly untold: Untold[] } {
  let active = model.parameters.map((_, i) => i);
  const untold: Untold[] = [];
  for (;;) {
    if (active.length === 0) {
      throw new Fault('calibrate/too-few', `${touches.length} touches tell nothing of the machine`);
    }
    const { s, v } = split(jacobianOf(model, touches, x, active));
    // With fewer touches than unknowns the last columns of v have no singular value.
    const last = v.columns - 1;
    if ((s[last] ?? 0) * TELLABLE > noise) return { active, untold };
    const shares = v.getColumn(last).map(Math.abs);
    const weights = shares.map((share, k) =>
      share < SHARE / 2 ? 0 : share * HOLD_FIRST[model.parameters[active[k]!]!.group],
    );
    const leader = weights.indexOf(Math.max(...weights));
    const held = active[leader]!;
    untold.push({
      held,
      with: active.filter((_, k) => k !== leader && shares[k]! > SHARE * shares[leader]!),
    });
    active = active.filter((p) => p !== held);
  }
}
