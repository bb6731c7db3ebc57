/**
 * How low the tip may go, against every raised place asked by itself: the head at distance r over a place is
 * higher than that place, counted from cell to cell.
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { type Ring, TipHeightMap } from '../../lib/verify/tip-height-map.js';

const CELL = 0.5;
/** A cone from 2 mm on, 6 mm wide, that rises by 0.8. */
const ring: Ring = { cell: CELL, from: 2, to: 6, above: (r) => 0.8 * (r - 2) + 1 };

const cell = (x: number): number => Math.floor(x / CELL);

describe.each([1, 2])('places raised at random, seed %d', (seed) => {
  const random = seeded(seed);
  const map = new TipHeightMap(ring, [-10, -4, 10, 12]);
  const raised: [number, number, number][] = [];
  const put = (count: number): void => {
    for (let n = 0; n < count; n++) {
      const p: [number, number, number] = [30 * random() - 15, 26 * random() - 9, 10 * random()];
      raised.push(p);
      map.raise(...p);
    }
  };
  const tips = Array.from({ length: 400 }, () => [20 * random() - 10, 16 * random() - 4] as const);
  /** Cells between tip and place, as a distance; undefined where the ring does not reach. */
  const above = (u: number, v: number, p: readonly number[]): number | undefined => {
    const r = CELL * Math.hypot(cell(u) - cell(p[0]!), cell(v) - cell(p[1]!));
    return r >= ring.from && r <= ring.to ? ring.above(r) : undefined;
  };
  const least = (u: number, v: number): number =>
    raised.reduce((most, p) => {
      const over = above(u, v, p);
      return over === undefined ? most : Math.max(most, p[2] - over);
    }, -Infinity);

  it('hold the tip up once they are settled', () => {
    const near = (u: number, v: number): void => {
      const want = least(u, v);
      if (want === -Infinity) expect(map.least(u, v)).toBe(want);
      else expect(map.least(u, v)).toBeCloseTo(want, 5);
    };
    put(40);
    expect(map.top).toBeCloseTo(Math.max(...raised.map((p) => p[2])), 5);
    expect(map.least(...tips[0]!)).toBe(-Infinity);
    map.settle();
    expect(map.top).toBe(-Infinity);
    for (const tip of tips) near(...tip);
    put(40);
    map.settle();
    for (const tip of tips) near(...tip);
  });

  it('are visited where they stand higher than the head over a tip', () => {
    for (const [u, v] of tips.slice(0, 100)) {
      const s = 4 * random();
      // The highest place of each cell, and only those that the head does not clear.
      const want = new Map<string, number>();
      for (const p of raised) {
        const over = above(u, v, p);
        if (over === undefined) continue;
        const key = `${cell(p[0])} ${cell(p[1])}`;
        if (p[2] - over > s) want.set(key, Math.max(want.get(key) ?? 0, p[2]));
      }
      const found = new Map<string, number>();
      map.above(u, v, s, (a, b, height) => {
        // Middles of cells.
        expect(a / CELL - cell(a)).toBeCloseTo(0.5, 9);
        expect(b / CELL - cell(b)).toBeCloseTo(0.5, 9);
        found.set(`${cell(a)} ${cell(b)}`, height);
      });
      expect([...found.keys()].sort()).toEqual([...want.keys()].sort());
      for (const [key, height] of want) expect(found.get(key)).toBeCloseTo(height, 5);
    }
  });

  it('beside the map nothing holds the tip up', () => {
    expect(map.least(1e4, 0)).toBe(-Infinity);
    expect(map.least(0, -1e4)).toBe(-Infinity);
  });
});

it('what is lower than before changes nothing', () => {
  const map = new TipHeightMap(ring, [-1, -1, 1, 1]);
  map.raise(3.1, 0.1, 5);
  map.settle();
  map.raise(3.1, 0.1, 4);
  expect(map.top).toBe(-Infinity);
  map.settle();
  // Six cells of 0.5 mm away the head is 0.8 + 1 mm over its tip.
  expect(map.least(0.1, 0.1)).toBeCloseTo(5 - 1.8, 6);
});

it.each([
  [-10, 0, -16, 0],
  [10, 0, 16, 0],
  [0, -4, 0, -10],
  [0, 12, 0, 18],
])('a tip at the edge, %d and %d, is held up by what stands 6 mm beyond it', (u, v, a, b) => {
  const map = new TipHeightMap(ring, [-10, -4, 10, 12]);
  map.raise(a, b, 7);
  map.settle();
  // There the head is 0.8 x 4 + 1 mm over its tip.
  expect(map.least(u, v)).toBeCloseTo(7 - 4.2, 5);
});
