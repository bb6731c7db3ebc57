/**
 * Thin walls against a wedge, whose thickness at every place follows from plane trigonometry. That two
 * faces are a wall up to 30 degrees is the project's own rule.
 */
import { expect, it } from 'vitest';
import { DEG } from '../../../lib/base/vector.js';
import { treeOf } from '../../../lib/mesh/bvh.js';
import { thinPlaces } from '../../../lib/mesh/repair/wall-thickness.js';
import { upright } from '../../support/shapes.js';

const LEG = 20;
const DEPTH = 100;

/** A prism over an isosceles triangle: two flanks of 20 x 100 mm that meet at an angle. */
const wedge = (degrees: number) => {
  const half = (degrees / 2) * DEG;
  const [x, y] = [LEG * Math.cos(half), LEG * Math.sin(half)];
  return upright(
    [
      [0, 0],
      [x, -y],
      [x, y],
    ],
    DEPTH,
  );
};

it.each([5, 15, 25, 29])('the flanks of a wedge of %d degrees are a wall', (degrees) => {
  const below = 1;
  const { least, at, hits, samples } = thinPlaces(treeOf(wedge(degrees)), below, 4000);
  expect(samples).toBe(4000);
  // At s from the edge, square to the flank, the other flank is s tan(angle) away.
  const s = Math.hypot(at![0], at![2]);
  expect(least).toBeCloseTo(s * Math.tan(degrees * DEG), 9);
  // The strip of each flank in which that is less than 1 mm, as a share of the whole surface.
  const strip =
    2 * DEPTH * Math.min(below / Math.tan(degrees * DEG), LEG * Math.cos(degrees * DEG));
  const base = 2 * LEG * Math.sin((degrees / 2) * DEG);
  const whole = 2 * DEPTH * LEG + DEPTH * base + LEG * LEG * Math.sin(degrees * DEG);
  expect(hits / samples).toBeCloseTo(strip / whole, 2);
});

it.each([31, 45, 59, 75])(
  'those of a wedge of %d degrees are not: only its ends are opposite',
  (degrees) => {
    const { least, hits } = thinPlaces(treeOf(wedge(degrees)), 1, 4000);
    expect(least).toBeCloseTo(DEPTH, 9);
    expect(hits).toBe(0);
  },
);
