import { describe, expect, test } from 'vitest';
import { next, previous } from '../../lib/base/mesh.js';
import { seeded } from '../../lib/base/random.js';
import { twinsOf } from '../../lib/base/half-edge-twins.js';
import { icosphere } from '../support/shapes.js';

/** Twins by comparing every half-edge with every other one: slow, and plainly what the word means. */
function bySearch(triangles: Uint32Array): Int32Array {
  const ends = Array.from(triangles, (a, h) => [a, triangles[next(h)]!] as const);
  return Int32Array.from(ends, ([a, b], h) => {
    const same = ends.flatMap(([c, d], g) =>
      g !== h && ((a === c && b === d) || (a === d && b === c)) ? [g] : [],
    );
    return same.length === 1 && ends[same[0]!]![0] === b && a !== b ? same[0]! : -1;
  });
}

test('next and previous walk around a triangle', () => {
  for (const h of [0, 1, 2, 3, 4, 5, 300]) {
    expect(next(next(next(h)))).toBe(h);
    expect(previous(next(h))).toBe(h);
    expect(Math.floor(next(h) / 3)).toBe(Math.floor(h / 3));
  }
  expect([0, 1, 2].map(next)).toEqual([1, 2, 0]);
});

describe('twins', () => {
  test('of two triangles that share an edge', () => {
    expect([...twinsOf(4, Uint32Array.of(0, 1, 2, 2, 1, 3))]).toEqual([-1, 3, -1, 1, -1, -1]);
  });

  test('none where three triangles meet in an edge', () => {
    const fin = Uint32Array.of(0, 1, 2, 1, 0, 3, 0, 1, 4);
    expect([...twinsOf(5, fin)]).toEqual(new Array(9).fill(-1));
  });

  test('none where two triangles run the same way along an edge', () => {
    expect([...twinsOf(4, Uint32Array.of(0, 1, 2, 0, 1, 3))]).toEqual(new Array(6).fill(-1));
  });

  test('none between the ends of an edge without length', () => {
    expect(twinsOf(2, Uint32Array.of(0, 0, 1))[0]).toBe(-1);
  });

  test('of nothing are none', () => {
    expect(twinsOf(0, new Uint32Array(0))).toHaveLength(0);
  });

  test('of a closed surface pair up and run opposite', () => {
    const { triangles, twins } = icosphere(1, 3);
    twins.forEach((g, h) => {
      expect(twins[g]).toBe(h);
      expect(triangles[g]).toBe(triangles[next(h)]);
      expect(triangles[next(g)]).toBe(triangles[h]);
    });
  });

  test('of random triangles on few vertices equal those found by search, seeds 1 to 40', () => {
    for (let seed = 1; seed <= 40; seed++) {
      const random = seeded(seed);
      const triangles = Uint32Array.from({ length: 3 * 25 }, () => Math.floor(9 * random()));
      // A degenerate triangle may hold both half-edges of a pair: what that means is left open.
      for (let t = 0; t < triangles.length; t += 3) {
        const [a, b, c] = triangles.subarray(t, t + 3);
        if (a === b || b === c || c === a) triangles.set([0, 1, 2 + (t % 7)], t);
      }
      expect([...twinsOf(9, triangles)], `seed ${seed}`).toEqual([...bySearch(triangles)]);
    }
  });

  test('a vertex in which 20,000 triangles meet costs no more than any other', () => {
    // A fan around vertex 0: with lists of neighbours it would take 4e8 comparisons.
    const n = 20_000;
    const fan = Uint32Array.from({ length: 3 * n }, (_, h) => {
      const t = Math.floor(h / 3);
      return h % 3 === 0 ? 0 : 1 + ((t + (h % 3) - 1) % n);
    });
    const twins = twinsOf(n + 1, fan);
    // Spokes pair up, the rim is open.
    expect(twins.filter((t) => t < 0)).toHaveLength(n);
  });
});
