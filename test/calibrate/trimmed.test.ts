/**
 * Least trimmed squares has the exact-fit property: if all but the trimmed share of points lie on one line, the
 * answer is that line, wherever the others are (Rousseeuw and Leroy, Robust Regression and Outlier Detection, 1987,
 * chapter 2, from memory).
 */
import { Matrix } from 'ml-matrix';
import { expect, it } from 'vitest';
import { leastTrimmedSquares } from '../../lib/calibrate/trimmed.js';

const points = Array.from({ length: 40 }, (_, i) => i);
/** Six points in a bunch at one end, where they have the most leverage and support one another. */
const off = (i: number): number => (i >= 34 ? 5 + 0.01 * i : 0);

it('34 of 40 points on y = 2 - 0.3 x: the line comes back, the six at its end stand off', () => {
  const design = new Matrix(points.map((x) => [1, x]));
  const right = Float64Array.from(points, (x) => 2 - 0.3 * x + off(x));
  const { left, scale } = leastTrimmedSquares(design, right);
  points.forEach((i) => expect(left[i]).toBeCloseTo(off(i), 9));
  expect(scale).toBeLessThan(1e-9);
});
