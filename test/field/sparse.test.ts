/** Linear systems of a lattice against a dense solve by ml-matrix; momentum against the bound that is proved of it. */
import { Matrix, solve } from 'ml-matrix';
import { describe, expect, test } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { latticeOf } from '../../lib/field/lattice.js';
import { stiffness } from '../../lib/field/linear-functions.js';
import { moveOn } from '../../lib/field/momentum.js';
import { type SparseMatrix, conjugateGradients } from '../../lib/field/sparse.js';
import { cuboid } from '../support/shapes.js';

/** A stiffness matrix with weights of 1 and 21, as growth has them, made definite by its first node held. */
function held(seed: number): SparseMatrix {
  const random = seeded(seed);
  const lattice = latticeOf(cuboid([6, 4, 4]), 2);
  const weight = Float64Array.from(lattice.shape, () => (random() < 0.4 ? 21 : 1));
  const matrix = stiffness(lattice, weight);
  for (let k = 0; k < matrix.start[1]!; k++) if (matrix.column[k] === 0) matrix.value[k]! += 50;
  return matrix;
}

const dense = ({ start, column, value }: SparseMatrix): Matrix => {
  const n = start.length - 1;
  const out = Matrix.zeros(n, n);
  for (let i = 0; i < n; i++) {
    for (let k = start[i]!; k < start[i + 1]!; k++) {
      // Each place has one entry.
      expect(out.get(i, column[k]!)).toBe(0);
      out.set(i, column[k]!, value[k]!);
    }
  }
  return out;
};

describe.each([3, 11])('a system with seed %d', (seed) => {
  const matrix = held(seed);
  const n = matrix.start.length - 1;
  const random = seeded(seed + 100);
  const b = Float64Array.from({ length: n }, () => random() - 0.5);
  const exact = solve(dense(matrix), Matrix.columnVector([...b])).to1DArray();

  test('is solved from any start', () => {
    for (const x of [new Float64Array(n), Float64Array.from({ length: n }, () => 9 * random())]) {
      conjugateGradients(matrix, b, x, 1000, 1e-12);
      x.forEach((v, i) => expect(v).toBeCloseTo(exact[i]!, 8));
    }
  });

  test('takes no step from its solution', () => {
    const x = Float64Array.from(exact);
    expect(conjugateGradients(matrix, b, x, 1000, 1e-7)).toBe(0);
    expect([...x]).toEqual(exact);
  });
});

test('with momentum the descent on a quadratic form keeps to 2 L |x0|^2 / (k + 1)^2', () => {
  // Beck and Teboulle, theorem 4.4, for f = sum of a x^2 / 2 with L = 1; each step alone multiplies x by 1 - a.
  const a = Float64Array.from({ length: 40 }, (_, i) => 10 ** (-i / 10));
  const value = (x: Float64Array): number => x.reduce((sum, v, i) => sum + (a[i]! * v * v) / 2, 0);
  const x = new Float64Array(40).fill(1);
  const before = x.slice();
  const plain = x.slice();
  for (let round = 0; round < 60; round++) {
    a.forEach((v, i) => {
      x[i]! *= 1 - v;
      plain[i]! *= 1 - v;
    });
    expect(value(x)).toBeLessThanOrEqual((2 * 40) / (round + 2) ** 2);
    moveOn(x, before, round);
  }
  expect(value(before)).toBeLessThan(0.2 * value(plain));
});
