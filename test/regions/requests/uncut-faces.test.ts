/**
 * Faces that no cut may go through, on a cube of 10 mm that is cut level: which corners lie above follows
 * from their heights. That 0.05 mm count as on the plane and 2 mm as gone is the project's own rule.
 */
import { describe, expect, it } from 'vitest';
import type { Vec3 } from '../../../lib/base/vector.js';
import { cutsFace } from '../../../lib/regions/requests/uncut-faces.js';
import { cuboid } from '../../support/shapes.js';

const { vertices } = cuboid([10, 10, 10]);
const above = (v: number): boolean => vertices[3 * v + 2]! > 5;

/** A wall of the cube at x = 5, from a height to another. */
const wall = (from: number, to: number): Float64Array =>
  Float64Array.of(5, -5, from, 5, 5, from, 5, 5, to, 5, -5, to);

const cuts = (
  faces: readonly Float64Array[],
  offset: number,
  taken = above,
  normal: Vec3 = [0, 0, 1],
): boolean => cutsFace(faces, { vertices, normal, offset, taken });

describe('a wall from 0 to 10 mm', () => {
  it.each([
    [5, true],
    [0.06, true],
    [9.94, true],
    [0.04, false],
    [9.96, false],
    [-1, false],
    [11, false],
  ])('a cut at %d mm divides it: %s', (height, divided) => {
    expect(cuts([wall(0, 10)], height)).toBe(divided);
  });

  it('is not divided by a cut that leaves what is above it', () => {
    expect(cuts([wall(0, 10)], 5, () => false)).toBe(false);
  });

  it('is divided if only one of its upper corners goes', () => {
    const one = (v: number): boolean =>
      above(v) && vertices[3 * v]! > 0 && vertices[3 * v + 1]! > 0;
    const other = (v: number): boolean => above(v) && vertices[3 * v]! < 0;
    expect(cuts([wall(0, 10)], 5, one)).toBe(true);
    expect(cuts([wall(0, 10)], 5, other)).toBe(false);
  });

  it('is divided by a cut across, seen from its own side', () => {
    expect(cuts([wall(0, 10)], 1, (v) => vertices[3 * v + 1]! > 0, [0, 1, 0])).toBe(true);
    expect(cuts([wall(0, 10)], 1, (v) => vertices[3 * v]! > 0, [1, 0, 0])).toBe(false);
  });

  it('is one of several', () => {
    expect(cuts([wall(0, 4), wall(0, 10)], 5)).toBe(true);
    expect(cuts([wall(0, 4), wall(6, 10)], 5)).toBe(false);
    expect(cuts([], 5)).toBe(false);
  });
});

it.each([
  [1.9, true],
  [2.1, false],
])('corners %d mm from the nearest vertex count: %s', (off, divided) => {
  expect(cuts([wall(0, 10 + off)], 5)).toBe(divided);
});
