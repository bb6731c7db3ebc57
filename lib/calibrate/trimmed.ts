/**
 * Least trimmed squares: the linear fit whose smallest squared residuals have the least sum, which no minority of
 * bad readings can bend (Rousseeuw 1984; by concentration steps from many small random subsets, FAST-LTS, Rousseeuw
 * and Van Driessen, Computing LTS regression for large data sets, 2006; both from memory).
 *
 * A single deletion after another is blind where two bad readings support each other: each makes the other look
 * right, and a good one in between looks bad. A subset without either does not know them.
 */
import { CholeskyDecomposition, Matrix } from 'ml-matrix';
import { seeded } from '../base/random.js';

/** Share of the readings that the trimmed sum leaves out. */
const TRIMMED = 0.15;
/** Random subsets, and the seed that draws them: the same readings always give the same answer. */
const SUBSETS = 400;
const SUBSET_SEED = 1;
/** Concentration steps for each subset, and for the best of them; the sum falls with every step. */
const FIRST_STEPS = 2;
const LAST_STEPS = 20;
const KEPT_SUBSETS = 10;
/** Consistency of the scale of the smallest 85 % of normal residuals: 1 / sqrt(1 - 2 z f(z) / 0.85), z = 1.4395. */
const CONSISTENCY = 1.386;

export interface TrimmedFit {
  /** Residual of every reading, those that were left out included. */
  readonly left: Float64Array;
  /** Standard deviation of a good reading, from the smallest squares. */
  readonly scale: number;
}

/**
 * @param design a row per reading
 * @param right what the rows should give
 * @param ridge added to the squares of all columns, so that a subset which does not determine one leaves it near zero
 */
export function leastTrimmedSquares(design: Matrix, right: Float64Array, ridge = 0): TrimmedFit {
  const [n, p] = [design.rows, design.columns];
  const kept = Math.max(p + 1, n - Math.floor(TRIMMED * n));
  const rows = design.to2DArray();
  const random = seeded(SUBSET_SEED);
  const trials: { sum: number; left: Float64Array }[] = [];
  for (let k = 0; k < SUBSETS; k++) {
    let left = fitted(rows, right, ridge, drawn(n, Math.min(n, p + 2), random));
    for (let s = 0; left && s < FIRST_STEPS; s++)
      left = fitted(rows, right, ridge, smallest(left, kept));
    if (left) trials.push({ sum: trimmedSum(left, kept), left });
  }
  // All readings together: right where none is bad.
  const all = fitted(rows, right, ridge, [...right.keys()]);
  if (all) trials.push({ sum: trimmedSum(all, kept), left: all });
  trials.sort((a, b) => a.sum - b.sum);
  let best: { sum: number; left: Float64Array } = { sum: Infinity, left: right };
  for (const { left: from } of trials.slice(0, KEPT_SUBSETS)) {
    let left = from;
    let sum = Infinity;
    for (let s = 0; s < LAST_STEPS; s++) {
      const next = fitted(rows, right, ridge, smallest(left, kept));
      if (!next) break;
      const lower = trimmedSum(next, kept);
      if (!(lower < sum * (1 - 1e-9))) break;
      [left, sum] = [next, lower];
    }
    if (sum < best.sum) best = { sum, left };
  }
  const scale = CONSISTENCY * Math.sqrt((best.sum / kept) * (n / Math.max(1, n - p)));
  return { left: best.left, scale };
}

/** Residuals of all rows after a fit to some; undefined where these do not determine it. */
function fitted(
  rows: readonly number[][],
  right: Float64Array,
  ridge: number,
  some: readonly number[],
): Float64Array | undefined {
  const p = rows[0]!.length;
  const normal = new Float64Array(p * p);
  for (let a = 0; a < p; a++) normal[a * p + a] = ridge;
  const sum = new Float64Array(p);
  for (const i of some) {
    const row = rows[i]!;
    for (let a = 0; a < p; a++) {
      sum[a]! += row[a]! * right[i]!;
      for (let b = 0; b <= a; b++) normal[a * p + b]! += row[a]! * row[b]!;
    }
  }
  for (let a = 0; a < p; a++) for (let b = 0; b < a; b++) normal[b * p + a] = normal[a * p + b]!;
  const root = new CholeskyDecomposition(Matrix.from1DArray(p, p, normal));
  if (!root.isPositiveDefinite()) return undefined;
  const x = root.solve(Matrix.columnVector([...sum])).getColumn(0);
  return Float64Array.from(rows, (row, i) => right[i]! - row.reduce((s, v, k) => s + v * x[k]!, 0));
}

/** Indices of the smallest residuals. */
const smallest = (left: Float64Array, count: number): number[] =>
  [...left.keys()].sort((a, b) => Math.abs(left[a]!) - Math.abs(left[b]!)).slice(0, count);

const trimmedSum = (left: Float64Array, count: number): number =>
  smallest(left, count).reduce((sum, i) => sum + left[i]! ** 2, 0);

/** Indices without repetition (Fisher and Yates). */
function drawn(n: number, count: number, random: () => number): number[] {
  const all = Array.from({ length: n }, (_, i) => i);
  for (let i = 0; i < count; i++) {
    const j = i + Math.floor(random() * (n - i));
    [all[i], all[j]] = [all[j]!, all[i]!];
  }
  return all.slice(0, count);
}
