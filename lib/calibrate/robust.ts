/**
 * A least-squares fit that a few bad touches do not bend: touches that do not agree with the others are set
 * aside and named.
 *
 * Bad is judged by the noise that was stated, or by the scatter of the good touches where that is larger. If the
 * residuals of all touches are what that noise makes of them, nothing is done. Else a robust start (least trimmed
 * squares, on the fit as linear as it is near its solution) tells good from bad without the bad ones having a
 * say, so that several cannot hide one another; the fit is then solved with the good ones and judged again until
 * the same ones are good. What an error of the machine does to many touches is no bad touch: `held` columns stand for
 * deviations that the fit leaves as drawn, `doubted` ones for effects that it leaves out, and the start lets them
 * explain what they can.
 */
import { Matrix, inverse } from 'ml-matrix';
import { Fault } from '../base/fault.js';
import { chiSquaredTail } from './chi-squared.js';
import type { Split, TouchReading } from './least-squares.js';
import { leastTrimmedSquares } from './trimmed.js';

export interface BadTouch {
  readonly touch: TouchReading;
  /** How far it is from what the others predict, mm. */
  readonly off: number;
}

export interface SolvedFit {
  /** Singular value decomposition of the Jacobian at the solution: one column per unknown. */
  readonly parts: Split;
  /** Residual of each touch, mm. */
  readonly left: Float64Array;
}

export interface RobustFit<T extends TouchReading, S extends SolvedFit> {
  readonly solution: S;
  readonly used: readonly T[];
  readonly bad: readonly BadTouch[];
  /** Touches beyond the unknowns. */
  readonly freedom: number;
  /** Standard deviation of one touch, mm, from the residuals. */
  readonly noise: number;
}

/** What a robust fit needs of a model. */
export interface RobustModel<T extends TouchReading, S extends SolvedFit> {
  /** How many `solve` solves for. */
  readonly unknowns: number;
  /** Standard deviation of one touch that was stated, mm. */
  readonly expected: number;
  readonly solve: (used: readonly T[]) => S;
  /** Of any touches at a solution: the residuals, and a row of the Jacobian for each. */
  readonly at: (solution: S, touches: readonly T[]) => { left: Float64Array; design: Matrix };
  /** Columns of deviations that the fit leaves as drawn, a row per touch. */
  readonly held?: (solution: S, touches: readonly T[]) => Matrix;
  /** Columns of effects that the fit leaves out, a row per touch. */
  readonly doubted?: (solution: S, touches: readonly T[]) => Matrix;
}

/**
 * A touch is bad from this many standard deviations of its prediction on: one of 80 good ones passes it in 200 fits.
 */
const BAD = 4;
/** Chance below which the residuals of all touches are not taken for noise. */
const NOT_NOISE = 0.05;
/** Most touches that are set aside, as a share. */
const MOST_BAD = 0.1;
/** Least number of readings beyond the unknowns; with fewer the residuals say nothing. */
const LEAST_FREEDOM = 3;
/** Most rounds of judging and solving. */
const JUDGING_ROUNDS = 6;
/** Touches to each unknown from which on effects that are left out may explain something. */
const TOUCHES_EACH = 2;

/** @throws Fault `calibrate/too-few`, `calibrate/too-many-bad`, and what `solve` throws */
export function setAside<T extends TouchReading, S extends SolvedFit>(
  touches: readonly T[],
  model: RobustModel<T, S>,
): RobustFit<T, S> {
  const { unknowns } = model;
  if (touches.length - unknowns < LEAST_FREEDOM) throw tooFew(touches.length, unknowns);
  let used = touches;
  let solution = model.solve(used);
  let bad = judge(touches, solution, model);
  for (let round = 0; round < JUDGING_ROUNDS; round++) {
    const good = touches.filter((_, i) => !bad.has(i));
    if (good.length === used.length && good.every((t, i) => t === used[i])) break;
    const limit = Math.max(1, Math.floor(MOST_BAD * touches.length));
    if (bad.size > limit) throw tooManyBad(touches, bad, limit);
    if (good.length - unknowns < LEAST_FREEDOM) throw tooFew(good.length, unknowns);
    used = good;
    solution = model.solve(used);
    bad = judge(touches, solution, model);
  }
  const freedom = used.length - unknowns;
  const usedSet = new Set<T>(used);
  const { left } = model.at(solution, touches);
  return {
    solution,
    used,
    bad: touches.flatMap((touch, i) => (usedSet.has(touch) ? [] : [{ touch, off: left[i]! }])),
    freedom,
    noise: Math.sqrt(squares(solution.left) / freedom),
  };
}

const squares = (values: Iterable<number>): number => {
  let sum = 0;
  for (const r of values) sum += r * r;
  return sum;
};

/** Indices of bad touches among all, and how far each is off, mm. */
type BadTouches = ReadonlyMap<number, number>;

/** Which of all touches are bad, near a solution. */
function judge<T extends TouchReading, S extends SolvedFit>(
  touches: readonly T[],
  solution: S,
  model: RobustModel<T, S>,
): BadTouches {
  const { left, design } = model.at(solution, touches);
  const most = touches.length;
  const whole = joined(design, model.held?.(solution, touches), most - LEAST_FREEDOM);
  const basis = joined(whole, model.doubted?.(solution, touches), most / TOUCHES_EACH);
  const ridge = (model.expected / FARTHEST) ** 2;
  const all = [...left.keys()];
  const plain = predicted(basis, left, all, ridge);
  const freedom = touches.length - basis.columns;
  const calm =
    chiSquaredTail(squares(plain.left) / model.expected ** 2, freedom) > NOT_NOISE &&
    plain.left.every((r, i) => Math.abs(r) < BAD * model.expected * Math.sqrt(plain.open[i]!));
  if (calm) return new Map();
  const start = leastTrimmedSquares(basis, left, ridge);
  let scale = Math.max(model.expected, start.scale);
  let good = all.filter((i) => Math.abs(start.left[i]!) < BAD * scale);
  // From the good ones each touch is predicted, and let in again if it agrees.
  for (let round = 0; round < JUDGING_ROUNDS; round++) {
    const next = predicted(basis, left, good, ridge);
    const spare = good.length - basis.columns;
    if (spare > 0) {
      scale = Math.max(model.expected, Math.sqrt(squares(good.map((i) => next.left[i]!)) / spare));
    }
    const again = all.filter(
      (i) => Math.abs(next.left[i]!) < BAD * scale * Math.sqrt(next.open[i]!),
    );
    const same = again.length === good.length && again.every((i, k) => i === good[k]);
    if (same || again.length <= basis.columns) break;
    good = again;
  }
  const { left: last } = predicted(basis, left, good, ridge);
  return new Map(all.filter((i) => !good.includes(i)).map((i) => [i, last[i]!]));
}

/** With the columns of `more`, if there are no more than `most` together. */
const joined = (own: Matrix, more: Matrix | undefined, most: number): Matrix =>
  more && more.columns > 0 && own.columns + more.columns <= most
    ? new Matrix(own.to2DArray().map((row, i) => [...row, ...more.getRow(i)]))
    : own;

/**
 * How far from the solution a deviation may be thought, mm, as a standard deviation: it keeps a subset of the touches
 * from explaining its residuals by what it does not determine. Where every length may change, a larger machine
 * explains any.
 */
const FARTHEST = 2;

/** Residuals of all readings by a fit to some, and the variance of each for a noise of 1. */
function predicted(
  basis: Matrix,
  right: Float64Array,
  some: readonly number[],
  ridge: number,
): { left: Float64Array; open: Float64Array } {
  const rows = new Matrix(some.map((i) => basis.getRow(i)));
  const back = rows.transpose();
  const information = back.mmul(rows).add(Matrix.eye(basis.columns).mul(ridge));
  const square = inverse(information);
  const x = square.mmul(back.mmul(Matrix.columnVector(some.map((i) => right[i]!))));
  const told = basis.mmul(x);
  const seen = basis.mmul(square);
  const own = new Set(some);
  const left = Float64Array.from(right, (value, i) => value - told.get(i, 0));
  const open = Float64Array.from(right, (_, i) => {
    const leverage = seen.getRow(i).reduce((sum, v, k) => sum + v * basis.get(i, k), 0);
    return own.has(i) ? Math.max(1e-6, 1 - leverage) : 1 + leverage;
  });
  return { left, open };
}

const tooFew = (touches: number, unknowns: number): Fault =>
  new Fault(
    'calibrate/too-few',
    `${touches} touches for ${unknowns} unknowns, at least ${unknowns + LEAST_FREEDOM} are needed`,
  );

function tooManyBad(touches: readonly TouchReading[], bad: BadTouches, limit: number): Fault {
  const named = [...bad].map(([i, off]) => `${touches[i]!.number} (${off.toFixed(2)} mm)`);
  return new Fault(
    'calibrate/too-many-bad',
    `${bad.size} of ${touches.length} touches do not agree with the others, the limit is ${limit}: ${named.join(', ')}; touch again, with a clean tip and tight screws`,
  );
}
