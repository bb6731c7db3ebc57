/** Ways inside a layer without material. */
import { describe, expect, test } from 'vitest';
import { polygonsFrom } from '../../support/polygons.js';
import { seeded } from '../../../lib/base/random.js';
import { gridOf } from '../../../lib/polygon/edge-grid.js';
import { linkInside } from '../../../lib/paths/sequence/links.js';
import { lineLength } from '../../../lib/polygon/loops.js';
import { type Loop, distance, hole, rectangle, winding } from '../flat.js';

describe('links', () => {
  const frame = polygonsFrom([rectangle(0, 0, 30, 20), hole(rectangle(10, 5, 10, 10))]);
  const grid = gridOf(frame);
  const way = (
    ax: number,
    ay: number,
    bx: number,
    by: number,
    limit = 100,
  ): number[][] | undefined => {
    const inner = linkInside(grid, ax, ay, bx, by, limit);
    if (!inner) return undefined;
    const out: number[][] = [];
    for (let i = 0; i < inner.length; i += 2) out.push([inner[i]!, inner[i + 1]!]);
    return out;
  };

  test('straight where that stays inside', () => {
    expect(way(1, 1, 29, 1)).toEqual([]);
    expect(way(1, 1, 29, 4.9)).toEqual([]);
  });
  test('around a hole the shorter way, tight at its corners', () => {
    expect(way(5, 8, 25, 8)).toEqual([
      [10, 5],
      [20, 5],
    ]);
    expect(way(5, 12, 25, 12)).toEqual([
      [10, 15],
      [20, 15],
    ]);
    expect(way(5, 14, 15, 15.5)).toEqual([[10, 15]]);
  });
  test('none if the way is longer than allowed', () => {
    const full = Math.hypot(5, 3) * 2 + 10;
    expect(way(5, 8, 25, 8, full + 0.001)).toBeDefined();
    expect(way(5, 8, 25, 8, full - 0.001)).toBeUndefined();
  });
  test('none to another island, none from outside', () => {
    const two = gridOf(polygonsFrom([rectangle(0, 0, 5, 5), rectangle(10, 0, 5, 5)]));
    expect(linkInside(two, 1, 1, 14, 1, 100)).toBeUndefined();
    expect(linkInside(two, 6, 1, 8, 1, 100)).toBeUndefined();
  });
  test('random pairs in a comb: inside, and at most the walk around', () => {
    const teeth: Loop = [
      [0, 0],
      [40, 0],
      [40, 4],
    ];
    for (let k = 7; k >= 0; k--)
      teeth.push([5 * k + 4, 4], [5 * k + 4, 20], [5 * k + 1, 20], [5 * k + 1, 4]);
    teeth.push([0, 4]);
    const comb = polygonsFrom([teeth]);
    const g = gridOf(comb);
    const random = seeded(5);
    let linked = 0;
    for (let n = 0; n < 400; n++) {
      const point = (): [number, number] => {
        const k = Math.floor(8 * random());
        return [5 * k + 1.5 + 2 * random(), 1 + 18 * random()];
      };
      const [a, b] = [point(), point()];
      const inner = linkInside(g, ...a, ...b, 200)!;
      expect(inner).toBeDefined();
      const all = Float64Array.of(...a, ...inner, ...b);
      for (let i = 2; i < all.length; i += 2) {
        for (let t = 0.01; t < 1; t += 0.049) {
          const x = all[i - 2]! + t * (all[i]! - all[i - 2]!);
          const y = all[i - 1]! + t * (all[i + 1]! - all[i - 1]!);
          expect(winding(comb, x, y) === 1 || distance(comb, x, y) < 1e-9).toBe(true);
        }
      }
      // Down to the spine, along and up again is never shorter than the way found.
      const walk = a[1] + b[1] + Math.abs(a[0] - b[0]) + 8;
      expect(lineLength(all)).toBeLessThan(walk);
      if (inner.length) linked++;
    }
    expect(linked).toBeGreaterThan(200);
  });
});
