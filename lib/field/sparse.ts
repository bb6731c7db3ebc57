/**
 * Symmetric sparse matrices in compressed rows, and the conjugate gradient method with the diagonal as its
 * preconditioner (Shewchuk, An introduction to the conjugate gradient method without the agonizing pain,
 * 1994, algorithm B3). A start near the solution saves steps: the field is solved for many times over with
 * one matrix and right sides that change little.
 */
export interface SparseMatrix {
  /** Offset of each row, and the end. */
  readonly start: Uint32Array;
  readonly column: Uint32Array;
  readonly value: Float64Array;
}

/**
 * Improves `x` towards the solution of `m x = b` in place. A matrix that is only semidefinite (a stiffness
 * matrix: constants cost nothing) is solved as far as `b` allows; what is constant stays as in the start.
 * @param tolerance of the residual, relative to that of x = 0
 * @returns steps taken
 */
export function conjugateGradients(
  m: SparseMatrix,
  b: Float64Array,
  x: Float64Array,
  most: number,
  tolerance: number,
): number {
  const n = b.length;
  const inverse = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    for (let k = m.start[i]!; k < m.start[i + 1]!; k++) {
      if (m.column[k] === i) inverse[i] = 1 / m.value[k]!;
    }
  }
  const r = new Float64Array(n);
  const p = new Float64Array(n);
  const q = new Float64Array(n);
  multiply(m, x, q);
  let now = 0;
  let whole = 0;
  for (let i = 0; i < n; i++) {
    const left = b[i]! - q[i]!;
    r[i] = left;
    p[i] = left * inverse[i]!;
    now += left * p[i]!;
    whole += b[i]! * b[i]! * inverse[i]!;
  }
  const enough = tolerance * tolerance * whole;
  let steps = 0;
  for (; steps < most && now > enough; steps++) {
    const alpha = now / multiply(m, p, q);
    let next = 0;
    for (let i = 0; i < n; i++) {
      x[i]! += alpha * p[i]!;
      const left = r[i]! - alpha * q[i]!;
      r[i] = left;
      next += left * left * inverse[i]!;
    }
    const beta = next / now;
    for (let i = 0; i < n; i++) p[i] = r[i]! * inverse[i]! + beta * p[i]!;
    now = next;
  }
  return steps;
}

/** The product into `out`. @returns its product with x */
function multiply(
  { start, column, value }: SparseMatrix,
  x: Float64Array,
  out: Float64Array,
): number {
  let all = 0;
  for (let i = 0; i < out.length; i++) {
    const end = start[i + 1]!;
    let sum = 0;
    for (let k = start[i]!; k < end; k++) sum += value[k]! * x[column[k]!]!;
    out[i] = sum;
    all += sum * x[i]!;
  }
  return all;
}
