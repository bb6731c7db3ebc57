/**
 * A least-squares fit that a few bad touches do not bend: touches that do not agree with the others are set
 * aside and named.
 *
 * A bad touch shows by its residual against a fit without it (externally studentised; Belsley, Kuh and
 * Welsch, Regression Diagnostics, 1980, from memory), which needs no second fit: the leverage says how far
 * the touch has bent the fit towards itself.
 */
import { Fault } from '../base/fault.js';
import { type Split, type TouchReading, leverages } from './least-squares.js';

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

/** Studentised residual of a bad touch: of 80 good ones with 60 to spare, one passes it in 2,000 fits. */
const BAD = 5;
/** Most touches that are set aside, as a share. */
const MOST_BAD = 0.1;
/** Least number of readings beyond the unknowns; with fewer the residuals say nothing. */
const LEAST_FREEDOM = 3;

/**
 * @param unknowns how many `solve` solves for
 * @param expected standard deviation of one touch that was expected, mm
 * @throws Fault `calibrate/too-few`, `calibrate/too-many-bad`, and what `solve` throws
 */
export function setAside<T extends TouchReading, S extends SolvedFit>(
  touches: readonly T[],
  unknowns: number,
  expected: number,
  solve: (used: readonly T[]) => S,
): RobustFit<T, S> {
  let used = touches;
  const bad: BadTouch[] = [];
  for (;;) {
    const freedom = used.length - unknowns;
    if (freedom < LEAST_FREEDOM) throw tooFew(used.length, unknowns);
    const solution = solve(used);
    const { left, parts } = solution;
    const worst = worstTouch(left, parts, freedom, expected);
    if (!worst) return { solution, used, bad, freedom, noise: Math.sqrt(squares(left) / freedom) };
    bad.push({ touch: used[worst.index]!, off: worst.off });
    if (bad.length > Math.max(1, MOST_BAD * touches.length)) throw tooManyBad(bad, touches.length);
    used = used.filter((_, i) => i !== worst.index);
  }
}

const squares = (values: Float64Array): number => values.reduce((sum, r) => sum + r * r, 0);

/** The touch that agrees least with the others, if it does not agree at all. */
function worstTouch(
  residuals: Float64Array,
  parts: Split,
  freedom: number,
  expected: number,
): { index: number; off: number } | undefined {
  const total = squares(residuals);
  const leverage = leverages(parts);
  let worst: { index: number; off: number } | undefined;
  let most = BAD;
  residuals.forEach((residual, index) => {
    const open = Math.max(1e-12, 1 - leverage[index]!);
    // Variance from the others only; never below a tenth of the noise that was stated, or readings
    // rounded to the same digit would condemn one another.
    const others = Math.max(
      (total - (residual * residual) / open) / (freedom - 1),
      (expected / 10) ** 2,
    );
    const student = Math.abs(residual) / Math.sqrt(others * open);
    if (student > most) {
      most = student;
      worst = { index, off: residual / open };
    }
  });
  return worst;
}

const tooFew = (touches: number, unknowns: number): Fault =>
  new Fault(
    'calibrate/too-few',
    `${touches} touches for ${unknowns} unknowns, at least ${unknowns + LEAST_FREEDOM} are needed`,
  );

function tooManyBad(bad: readonly BadTouch[], count: number): Fault {
  const named = bad.map((b) => `${b.touch.number} (${b.off.toFixed(2)} mm)`).join(', ');
  return new Fault(
    'calibrate/too-many-bad',
    `${bad.length} of ${count} touches do not agree with the others, the limit is ${Math.max(1, Math.floor(MOST_BAD * count))}: ${named}; touch again, with a clean tip and tight screws`,
  );
}
