/**
 * Small dense linear programs: least c x where G x <= h and A x = b, by Mehrotra's predictor-corrector
 * interior-point method (SIAM J. Optimization 2(4), 1992; as in Nocedal and Wright, Numerical
 * Optimization, 2006, ch. 14). Each iteration builds G' (z / s) G, which is all the cost, and factors it;
 * 10 to 20 are enough. A row of G has its entries in two runs, as those of a trajectory's two coordinates
 * do, and only those are multiplied. The point that is returned lies strictly within G x <= h.
 */

/** A row of G: entries of runs a0 .. a1 and b0 .. b1 are set, the others are 0. */
interface ProgramRow {
  readonly of: Float64Array;
  readonly a0: number;
  readonly a1: number;
  readonly b0: number;
  readonly b1: number;
}

const MOST_ITERATIONS = 30;
/** Share of its residuals that a program with a solution is rid of in so many rounds. */
const STALLED = { rounds: 4, share: 0.5 } as const;
/** Mean product of slack and price, and residuals, at which a point counts as the best. */
const BEST = 1e-4;
const RESIDUAL = 1e-6;
const DUAL_RESIDUAL = 1e-2;
/** Step towards the nearest bound. */
const TOWARDS_BOUND = 0.95;
/** Added to the diagonal, so that a variable that nothing bounds stays where it is. */
const REGULAR = 1e-9;

export class LinearProgram {
  readonly #n: number;
  readonly #cost: Float64Array;
  readonly #rows: ProgramRow[] = [];
  readonly #bound: number[] = [];
  readonly #equal: Float64Array[] = [];
  readonly #value: number[] = [];

  /** @param cost of each variable; the sum is to become least */
  constructor(cost: Float64Array) {
    this.#n = cost.length;
    this.#cost = cost;
  }

  /** Row x <= bound. */
  most(row: Float64Array, bound: number): void {
    const half = this.#n / 2;
    const [a0, a1] = span(row, 0, half);
    const [b0, b1] = span(row, half, this.#n);
    this.#rows.push({ of: row, a0, a1, b0, b1 });
    this.#bound.push(bound);
  }

  /** Row x = value. */
  exactly(row: Float64Array, value: number): void {
    this.#equal.push(row);
    this.#value.push(value);
  }

  /** The best point; undefined if there is none, or none was found. */
  solve(): Float64Array | undefined {
    const [n, m, e] = [this.#n, this.#rows.length, this.#equal.length];
    const x = new Float64Array(n);
    const y = new Float64Array(e);
    const s = Float64Array.from(this.#bound, (h) => Math.max(h, 1));
    const z = new Float64Array(m).fill(1);
    const step = new Newton(n, this.#rows, this.#equal);
    const misses: number[] = [];
    for (let round = 0; round < MOST_ITERATIONS; round++) {
      const dual = this.#dual(y, z);
      const primal = s.map((slack, r) => slack + dot(this.#rows[r]!, x) - this.#bound[r]!);
      const off = this.#equal.map((row, i) => full(row, x) - this.#value[i]!);
      let gap = 0;
      for (let r = 0; r < m; r++) gap += s[r]! * z[r]!;
      gap /= m;
      const miss = Math.max(largest(primal), largest(off));
      if (gap < BEST && miss < RESIDUAL && largest(dual) < DUAL_RESIDUAL) return x;
      misses.push(miss);
      const then = misses[round - STALLED.rounds] ?? Infinity;
      if (!(gap < Infinity) || (miss > RESIDUAL && miss > STALLED.share * then)) return undefined;
      step.factor(s, z);
      // Predictor: straight to the optimum; corrector: with what it does to the products, and a centre.
      const target = s.map((slack, r) => slack * z[r]!);
      step.to(dual, primal, off, target);
      const [p, d] = [reach(s, step.ds), reach(z, step.dz)];
      let after = 0;
      for (let r = 0; r < m; r++) after += (s[r]! + p * step.ds[r]!) * (z[r]! + d * step.dz[r]!);
      const centre = (after / m / gap) ** 3 * gap;
      for (let r = 0; r < m; r++) target[r]! += step.ds[r]! * step.dz[r]! - centre;
      step.to(dual, primal, off, target);
      const [p1, d1] = [
        Math.min(1, TOWARDS_BOUND * reach(s, step.ds)),
        Math.min(1, TOWARDS_BOUND * reach(z, step.dz)),
      ];
      for (let i = 0; i < n; i++) x[i]! += p1 * step.dx[i]!;
      for (let i = 0; i < e; i++) y[i]! += d1 * step.dy[i]!;
      for (let r = 0; r < m; r++) {
        s[r]! += p1 * step.ds[r]!;
        z[r]! += d1 * step.dz[r]!;
      }
    }
    return undefined;
  }

  #dual(y: Float64Array, z: Float64Array): Float64Array {
    const out = this.#cost.slice();
    this.#rows.forEach((row, r) => addTo(out, row, z[r]!));
    this.#equal.forEach((row, i) => {
      for (let k = 0; k < out.length; k++) out[k]! += row[k]! * y[i]!;
    });
    return out;
  }
}

/** Steps of Newton's method: one factorization, several right sides. */
class Newton {
  readonly dx: Float64Array;
  readonly dy: Float64Array;
  readonly ds: Float64Array;
  readonly dz: Float64Array;
  readonly #n: number;
  readonly #rows: readonly ProgramRow[];
  readonly #equal: readonly Float64Array[];
  readonly #root: Float64Array;
  /** Solutions of N v = each row of A, and the factor of A N^-1 A'. */
  readonly #back: Float64Array[];
  readonly #small: Float64Array;
  #s: Float64Array = new Float64Array(0);
  #z: Float64Array = new Float64Array(0);

  constructor(n: number, rows: readonly ProgramRow[], equal: readonly Float64Array[]) {
    this.#n = n;
    this.#rows = rows;
    this.#equal = equal;
    this.#root = new Float64Array(n * n);
    this.#back = equal.map(() => new Float64Array(n));
    this.#small = new Float64Array(equal.length ** 2);
    this.dx = new Float64Array(n);
    this.dy = new Float64Array(equal.length);
    this.ds = new Float64Array(rows.length);
    this.dz = new Float64Array(rows.length);
  }

  factor(s: Float64Array, z: Float64Array): void {
    [this.#s, this.#z] = [s, z];
    const n = this.#n;
    const root = this.#root.fill(0);
    for (let i = 0; i < n; i++) root[i * n + i] = REGULAR;
    this.#rows.forEach(({ of, a0, a1, b0, b1 }, r) => {
      const weight = z[r]! / s[r]!;
      for (let i = a0; i < a1; i++) {
        const w = weight * of[i]!;
        for (let k = a0; k <= i; k++) root[i * n + k]! += w * of[k]!;
      }
      for (let i = b0; i < b1; i++) {
        const w = weight * of[i]!;
        for (let k = a0; k < a1; k++) root[i * n + k]! += w * of[k]!;
        for (let k = b0; k <= i; k++) root[i * n + k]! += w * of[k]!;
      }
    });
    cholesky(root, n);
    const e = this.#equal.length;
    this.#equal.forEach((row, i) => {
      this.#back[i]!.set(row);
      substitute(root, n, this.#back[i]!);
    });
    for (let i = 0; i < e; i++) {
      for (let k = 0; k <= i; k++) {
        this.#small[i * e + k] = full(this.#equal[i]!, this.#back[k]!);
      }
    }
    cholesky(this.#small, e);
  }

  /** Towards no residuals, and products of slack and price less by `target`. */
  to(dual: Float64Array, primal: Float64Array, off: readonly number[], target: Float64Array): void {
    const { dx, dy, ds, dz } = this;
    const [s, z] = [this.#s, this.#z];
    for (let i = 0; i < dx.length; i++) dx[i] = -dual[i]!;
    this.#rows.forEach((row, r) => {
      addTo(dx, row, (target[r]! - z[r]! * primal[r]!) / s[r]!);
    });
    substitute(this.#root, this.#n, dx);
    this.#equal.forEach((row, i) => (dy[i] = full(row, dx) + off[i]!));
    substitute(this.#small, dy.length, dy);
    this.#back.forEach((row, i) => {
      for (let k = 0; k < dx.length; k++) dx[k]! -= row[k]! * dy[i]!;
    });
    this.#rows.forEach((row, r) => {
      ds[r] = -primal[r]! - dot(row, dx);
      dz[r] = -(target[r]! + z[r]! * ds[r]!) / s[r]!;
    });
  }
}

/** Lower factor of a symmetric matrix, in place. */
function cholesky(a: Float64Array, n: number): void {
  for (let i = 0; i < n; i++) {
    for (let k = 0; k <= i; k++) {
      let sum = a[i * n + k]!;
      for (let l = 0; l < k; l++) sum -= a[i * n + l]! * a[k * n + l]!;
      a[i * n + k] = i === k ? Math.sqrt(Math.max(sum, 1e-300)) : sum / a[k * n + k]!;
    }
  }
}

function substitute(root: Float64Array, n: number, x: Float64Array): void {
  for (let i = 0; i < n; i++) {
    let sum = x[i]!;
    for (let k = 0; k < i; k++) sum -= root[i * n + k]! * x[k]!;
    x[i] = sum / root[i * n + i]!;
  }
  for (let i = n - 1; i >= 0; i--) {
    let sum = x[i]!;
    for (let k = i + 1; k < n; k++) sum -= root[k * n + i]! * x[k]!;
    x[i] = sum / root[i * n + i]!;
  }
}

/** The run from the first to the last entry that is set, between two places. */
function span(row: Float64Array, from: number, to: number): readonly [number, number] {
  let [a, b] = [from, to];
  while (a < b && row[a] === 0) a++;
  while (b > a && row[b - 1] === 0) b--;
  return [a, b];
}

function dot({ of, a0, a1, b0, b1 }: ProgramRow, x: Float64Array): number {
  let sum = 0;
  for (let i = a0; i < a1; i++) sum += of[i]! * x[i]!;
  for (let i = b0; i < b1; i++) sum += of[i]! * x[i]!;
  return sum;
}

function addTo(out: Float64Array, { of, a0, a1, b0, b1 }: ProgramRow, by: number): void {
  for (let i = a0; i < a1; i++) out[i]! += of[i]! * by;
  for (let i = b0; i < b1; i++) out[i]! += of[i]! * by;
}

function full(row: Float64Array, x: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < row.length; i++) sum += row[i]! * x[i]!;
  return sum;
}

function largest(list: ArrayLike<number>): number {
  let most = 0;
  for (let i = 0; i < list.length; i++) most = Math.max(most, Math.abs(list[i]!));
  return most;
}

/** How much of a step keeps every value positive. */
function reach(value: Float64Array, step: Float64Array): number {
  let most = 1 / TOWARDS_BOUND;
  for (let i = 0; i < value.length; i++) {
    if (step[i]! < 0) most = Math.min(most, -value[i]! / step[i]!);
  }
  return most;
}
