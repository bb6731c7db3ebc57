/** Distances to the head and to simple solids against closed forms (derived). */
import { describe, expect, it } from 'vitest';
import { length, sub } from '../../lib/base/vector.js';
import {
  ballAround,
  headDistance,
  solidDistance,
  surfacePoints,
} from '../../lib/machine/solid-distance.js';
import { acJson, machineOf } from './machines.js';

const json = acJson();
const cone = machineOf({
  ...json,
  head: {
    ...json.head,
    stack: [
      { above: 0, radius: 0 },
      { above: 30, radius: 30 },
    ],
    boxes: [{ shape: 'box', from: [40, -5, 10], to: [60, 5, 20] }],
  },
});

describe('distance to the head', () => {
  it.each([
    // point, distance: cone of half angle 45 deg
    [[10, 0, 0], 10 / Math.SQRT2],
    [[0, 0, -4], 4],
    [[0, 0, 34], 4],
    [[5, 0, 10], 0],
    [[0, 33, 34], 5],
    [[0, -10, 0], 10 / Math.SQRT2],
    [[50, 0, 15], 0],
    [[63, 9, 15], 5],
  ] as [[number, number, number], number][])('%j', (p, distance) => {
    expect(headDistance(cone, p)).toBeCloseTo(distance, 12);
  });
});

const box = { shape: 'box', from: [0, 0, 0], to: [10, 20, 30] } as const;
const drum = { shape: 'cylinder', from: [0, 0, 5], to: [0, 0, 15], radius: 4 } as const;

describe('distance to solids', () => {
  it('box: inside, by a face, by an edge, by a corner', () => {
    expect(solidDistance(box, [5, 5, 5])).toBe(0);
    expect(solidDistance(box, [5, 5, 37])).toBe(7);
    expect(solidDistance(box, [13, 24, 5])).toBe(5);
    expect(solidDistance(box, [-2, -3, 36])).toBe(7);
  });
  it('cylinder: inside, by its side, its end, its rim', () => {
    expect(solidDistance(drum, [3, 0, 10])).toBe(0);
    expect(solidDistance(drum, [0, 9, 10])).toBe(5);
    expect(solidDistance(drum, [1, 1, 17])).toBe(2);
    expect(solidDistance(drum, [7, 0, 19])).toBe(5);
  });
  it.each([box, drum])('points on the surface lie on it, close together, in its ball', (solid) => {
    const points = surfacePoints(solid, 3);
    const ball = ballAround(solid);
    for (const p of points) {
      expect(solidDistance(solid, p)).toBeLessThan(1e-12);
      expect(length(sub(p, ball.centre))).toBeLessThan(ball.radius + 1e-12);
      const others = points.filter((q) => q !== p).map((q) => length(sub(p, q)));
      expect(Math.min(...others)).toBeLessThan(3 + 1e-12);
    }
  });
});
