/** Smallest sets against brute force over every set of the same size, and on a solid in the air. */
import { describe, expect, test } from 'vitest';
import { shift } from '../../lib/base/frame.js';
import { seeded } from '../../lib/base/random.js';
import { DEG, type Vec3 } from '../../lib/base/vector.js';
import { type Cover, coverOf, leftBy, smallestSets } from '../../lib/directions/sets.js';
import { evenDirections } from '../../lib/base/even-directions.js';
import { cuboid, rotated } from '../support/shapes.js';

function randomCover(next: () => number, facets: number, directions: number): Cover {
  const areas = Float64Array.from({ length: facets }, () => 0.1 + next());
  const flags = Array.from({ length: directions }, () =>
    Uint8Array.from({ length: facets }, () => (next() < 0.6 ? 1 : 0)),
  );
  const lists = flags.map((f) => Uint32Array.from([...f.keys()].filter((t) => f[t])));
  return { areas, flags, lists };
}

/** The least that any set of k leaves, by trying every one, counted facet by facet. */
function leastOf({ areas, flags }: Cover, k: number): number {
  let least = Infinity;
  const walk = (from: number, set: readonly number[]): void => {
    if (set.length === k) {
      let left = 0;
      areas.forEach((a, t) => (left += set.every((i) => flags[i]![t]) ? a : 0));
      least = Math.min(least, left);
      return;
    }
    for (let i = from; i < flags.length; i++) walk(i + 1, [...set, i]);
  };
  walk(0, []);
  return least;
}

describe.each([1, 2, 3, 4, 5])('random covers, seed %i', (seed) => {
  const cover = randomCover(seeded(seed), 60, 14);
  const candidates = evenDirections(14);
  const sets = smallestSets(cover, candidates, 6);

  test('one and two are the best of all; more are no better than brute force and near it', () => {
    expect(sets.length).toBeGreaterThanOrEqual(3);
    for (const { directions, unsupportedMm2, exact } of sets) {
      const k = directions.length;
      const least = leastOf(cover, k);
      expect(exact).toBe(k <= 2);
      if (exact) expect(unsupportedMm2).toBeCloseTo(least, 9);
      else expect(unsupportedMm2).toBeGreaterThan(least - 1e-9);
      expect(
        leftBy(
          cover,
          directions.map((d) => candidates.indexOf(d)),
        ),
      ).toBeCloseTo(unsupportedMm2, 9);
    }
  });

  test('every further direction leaves less', () => {
    for (let i = 1; i < sets.length; i++) {
      expect(sets[i]!.directions.length).toBe(i + 1);
      expect(sets[i]!.unsupportedMm2).toBeLessThan(sets[i - 1]!.unsupportedMm2);
    }
  });
});

test('exchange finds what adding alone cannot: the best pair leaves the best three', () => {
  // What each supports of seven facets, five of 3 mm2 and two of 1. The first two leave 2, no third
  // mends both; the first, third and fourth leave nothing.
  const rows = ['1010100', '0101000', '1100010', '0011001', '0000100'];
  const flags = rows.map((row) => Uint8Array.from(row, (c) => (c === '1' ? 0 : 1)));
  const lists = flags.map((f) => Uint32Array.from([...f.keys()].filter((t) => f[t])));
  const cover = { areas: Float64Array.of(3, 3, 3, 3, 3, 1, 1), flags, lists };
  const sets = smallestSets(cover, evenDirections(5), 6);
  expect(sets.map((s) => s.unsupportedMm2)).toEqual([8, 2, 0]);
});

test('a cube in the air: one direction leaves a face, two leave nothing', () => {
  const cube = rotated(cuboid([10, 10, 10]), shift([0, 0, 5]));
  const candidates: Vec3[] = [
    [0, 0, 1],
    [0, 0, -1],
    [1, 0, 0],
    [0, 1, 0],
  ];
  const sets = smallestSets(coverOf(cube, candidates, 45 * DEG, 0.2), candidates, 6);
  expect(sets.map((s) => s.unsupportedMm2)).toEqual([100, 0]);
});
