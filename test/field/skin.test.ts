/** Samples of the skin against the areas and centres of gravity of plane figures, and a bound of their number. */
import { describe, expect, test } from 'vitest';
import type { Vec3 } from '../../lib/base/vector.js';
import { UNDER_SKIN, skinSamples } from '../../lib/field/skin.js';
import { surfaceArea } from '../../lib/mesh/measure.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { cuboid, cylinder, icosphere, mushroom } from '../support/shapes.js';

/** One triangle, open: samples ask for no closed mesh. */
const facet = (...corners: readonly [Vec3, Vec3, Vec3]): Mesh => ({
  vertices: Float64Array.from(corners.flat()),
  triangles: Uint32Array.of(0, 1, 2),
  twins: new Int32Array(3).fill(-1),
});

describe.each<[string, Mesh]>([
  ['a box', cuboid([30, 20, 10])],
  ['a cylinder of slender facets', cylinder(20, 50, 96)],
  ['a mushroom', mushroom()],
  ['a ball of facets that are small already', icosphere(5, 4)],
])('samples of %s', (_, part) => {
  test.each([0.5, 1, 3])('have its area between them, at %d mm', (longest) => {
    const { areas } = skinSamples(part, longest);
    expect(areas.reduce((sum, a) => sum + a, 0) / surfaceArea(part)).toBeCloseTo(1, 9);
  });

  test('stand for pieces that are no longer than is asked for, corners and all', () => {
    const longest = 1.3;
    const corners: Vec3[] = [];
    const { points, reach } = skinSamples(part, longest, (p) => corners.push(p));
    expect(Math.max(...reach)).toBeLessThanOrEqual(longest);
    expect(corners.length).toBeGreaterThanOrEqual(points.length);
  });
});

describe('one triangle', () => {
  const [a, b, c]: [Vec3, Vec3, Vec3] = [
    [1, 2, 0],
    [31, 4, 0],
    [9, 17, 0],
  ];

  test('is sampled a hair under its face, about its centre of gravity, (a + b + c) / 3', () => {
    const { points, areas } = skinSamples(facet(a, b, c), 0.9);
    const sum = [0, 0, 0];
    let whole = 0;
    areas.forEach((area, s) => {
      whole += area;
      for (let i = 0; i < 3; i++) sum[i]! += area * points[3 * s + i]!;
    });
    const centre = [0, 1].map((i) => (a[i]! + b[i]! + c[i]!) / 3);
    centre.forEach((x, i) => expect(sum[i]! / whole).toBeCloseTo(x, 9));
    expect(sum[2]! / whole).toBeCloseTo(-UNDER_SKIN, 12);
  });

  test('has its second moment but for that of the pieces about their own middles', () => {
    // Of x over a triangle (Zienkiewicz, The finite element method): area / 12 times the sum of the squares of the
    // corners and of the square of their sum. A piece adds at most area times the square of its length over 4.
    const longest = 0.9;
    const { points, areas } = skinSamples(facet(a, b, c), longest);
    const [p, q, r] = [a[0], b[0], c[0]];
    const whole = areas.reduce((sum, area) => sum + area, 0);
    const exact = (whole / 12) * (p * p + q * q + r * r + (p + q + r) ** 2);
    const found = areas.reduce((sum, area, s) => sum + area * points[3 * s]! ** 2, 0);
    expect(found).toBeLessThanOrEqual(exact + 1e-9 * exact);
    expect(found).toBeGreaterThan(exact - (whole * longest ** 2) / 4);
  });
});

test('a sliver has as many samples as its length asks for', () => {
  // 100 mm long and 0.01 mm high, at 1 mm: at least one a mm; strips of 0.7 mm are 142.
  const { areas } = skinSamples(facet([0, 0, 0], [100, 0, 0], [37, 0.01, 0]), 1);
  expect(areas.length).toBeGreaterThanOrEqual(100);
  expect(areas.length).toBeLessThanOrEqual(142);
});
