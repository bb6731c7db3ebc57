/**
 * How fine a lattice a part gets, against the widths with which the parts are built and the count of tetrahedra of a
 * body-centred cubic lattice: twelve a cube.
 */
import { describe, expect, test } from 'vitest';
import { fittedSpacing } from '../../lib/field/fit-lattice.js';
import { latticeOf } from '../../lib/field/lattice.js';
import { cuboid, hollowSphere, standing, upright } from '../support/shapes.js';

describe('the lattice of a part is', () => {
  test('1 mm in a small part', () => {
    expect(fittedSpacing(cuboid([10, 10, 10]))).toBe(1);
  });

  test('coarser where that would be too many tetrahedra', () => {
    expect((12 * 20 ** 3) / fittedSpacing(cuboid([20, 20, 20])) ** 3).toBeCloseTo(60_000, 3);
  });

  test('2 mm in a part of middling size', () => {
    // 60 x 60 x 20 mm3: 108,000 at 2 mm.
    expect(fittedSpacing(cuboid([60, 60, 20]))).toBe(2);
  });

  test('half its thinnest wall, and resolves it', () => {
    // A sealed ball of radii 10 and 8: facets are nearer to each other than the radii.
    const ball = standing(hollowSphere(10, 8, 96));
    const spacing = fittedSpacing(ball);
    expect(spacing).toBeGreaterThan(0.95);
    expect(spacing).toBeLessThan(1);
    expect(() => latticeOf(ball, spacing)).not.toThrow();
  });

  test('a little finer than a thin wall where half of it would be too many tetrahedra', () => {
    // A tub of 40 x 40 x 40 mm3 with walls of 1 mm: about 10,500 mm3 of it, 1.0 million at half a millimetre.
    const tub = upright(
      [
        [0, 0],
        [40, 0],
        [40, 40],
        [39, 40],
        [39, 1],
        [1, 1],
        [1, 40],
        [0, 40],
      ],
      90,
    );
    expect(fittedSpacing(tub)).toBeCloseTo(0.98, 6);
  });

  test('half its narrowest gap', () => {
    const fork = upright(
      [
        [0, 0],
        [21.5, 0],
        [21.5, 20],
        [11.5, 20],
        [11.5, 5],
        [10, 5],
        [10, 20],
        [0, 20],
      ],
      4,
    );
    expect(fittedSpacing(fork)).toBeCloseTo(1.5 / 2, 2);
    expect(() => latticeOf(fork, fittedSpacing(fork))).not.toThrow();
  });

  test('coarser where 2 mm would be too many tetrahedra', () => {
    // 100 x 100 x 80 mm3 at 2 mm: 1.2 million, and 150,000 are aimed at.
    const block = cuboid([100, 100, 80]);
    const spacing = fittedSpacing(block);
    expect(spacing).toBeCloseTo(4, 6);
    const { length } = latticeOf(block, spacing).shape;
    expect(length).toBeGreaterThan(150_000);
    // Those that the skin alone needs.
    expect(length).toBeLessThan(200_000);
  });
});
