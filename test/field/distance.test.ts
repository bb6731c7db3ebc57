/**
 * Distance through a part against closed forms: along straight lines where the part is convex, round a corner
 * where it is not. What first-order fast marching leaves to be wanted shrinks with the spacing.
 */
import { describe, expect, test } from 'vitest';
import type { Vec3 } from '../../lib/base/vector.js';
import { distanceFrom, footprintSources } from '../../lib/field/distance.js';
import { type Lattice, latticeOf } from '../../lib/field/lattice.js';
import { cylinder, icosphere, standing, upright } from '../support/shapes.js';

const rms = (errors: readonly number[]): number =>
  Math.sqrt(errors.reduce((sum, e) => sum + e * e, 0) / errors.length);
const node = ({ nodes }: Lattice, i: number): [number, number, number] => [
  nodes[3 * i]!,
  nodes[3 * i + 1]!,
  nodes[3 * i + 2]!,
];

function nearestNode(lattice: Lattice, [x, y, z]: Vec3): number {
  let [best, at] = [Infinity, -1];
  for (let i = 0; i < lattice.nodes.length / 3; i++) {
    const [px, py, pz] = node(lattice, i);
    const away = Math.hypot(px - x, py - y, pz - z);
    if (away < best) [best, at] = [away, i];
  }
  return at;
}

describe('from the base of a cylinder', () => {
  test.each([2, 1])('the distance is the height, at %d mm', (spacing) => {
    const lattice = latticeOf(cylinder(10, 30), spacing);
    const found = distanceFrom(lattice, footprintSources(lattice, 0.25));
    const errors: number[] = [];
    found.forEach((d, i) => {
      const [x, y, z] = node(lattice, i);
      if (z > 0 && Math.hypot(x, y) < 10) errors.push(d - z);
    });
    expect(errors.length).toBeGreaterThan(500);
    expect(rms(errors)).toBeLessThan(0.06 * spacing);
  });
});

describe('from the foot of a ball', () => {
  // A wave from a point is round, and each simplex takes it for flat: the error is some tenths of a spacing.
  test.each([
    [2, 0.65],
    [1, 0.45],
  ])('the distance is the straight line, at %d mm within %d mm', (spacing, most) => {
    const lattice = latticeOf(standing(icosphere(12, 3)), spacing);
    const from = nearestNode(lattice, [0, 0, 0]);
    const [x, y, z] = node(lattice, from);
    const found = distanceFrom(lattice, new Map([[from, 0]]));
    const errors = Array.from(found, (d, i) => {
      const [px, py, pz] = node(lattice, i);
      return d - Math.hypot(px - x, py - y, pz - z);
    });
    expect(rms(errors)).toBeLessThan(most);
    // No way through the part is shorter than the straight line.
    expect(Math.min(...errors)).toBeGreaterThan(-1e-9);
  });
});

test('round the inner corner of a bracket the way is the sum of two straight lines', () => {
  // An L of 10 mm thickness: from the far end of the foot to the top, past the inner corner at (10, 10).
  const bracket = upright(
    [
      [0, 0],
      [40, 0],
      [40, 10],
      [10, 10],
      [10, 40],
      [0, 40],
    ],
    8,
  );
  const lattice = latticeOf(bracket, 1);
  const [from, to] = [nearestNode(lattice, [39, 0, 9]), nearestNode(lattice, [9, 0, 39])];
  const [fx, , fz] = node(lattice, from);
  const [tx, , tz] = node(lattice, to);
  const found = distanceFrom(lattice, new Map([[from, 0]]))[to]!;
  const corner = Math.hypot(fx - 10, fz - 10) + Math.hypot(tx - 10, tz - 10);
  // The lattice stands out of the part by up to a cube, so the corner is cut by less than that.
  expect(found).toBeGreaterThan(corner - 2);
  expect(found).toBeLessThan(corner + 2);
  expect(found).toBeGreaterThan(1.2 * Math.hypot(fx - tx, fz - tz));
});
