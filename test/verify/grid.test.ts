/** The sparse grid of cubes against a plain set of cubes, and what it says of places against that set. */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import type { Vec3 } from '../../lib/base/vector.js';
import { Grid } from '../../lib/verify/grid.js';

/** Cubes as they would be kept without bricks, and the block that laid last in the brick of each. */
class CubeSet {
  readonly set = new Set<string>();
  readonly first = new Map<string, number>();
  readonly last = new Map<string, number>();

  put(x: number, y: number, z: number, block: number): boolean {
    const brick = [x, y, z].map((v) => Math.floor(v / 8)).join();
    if (!this.first.has(brick)) this.first.set(brick, block);
    this.last.set(brick, block);
    const key = `${x},${y},${z}`;
    if (this.set.has(key)) return false;
    this.set.add(key);
    return true;
  }

  has = (x: number, y: number, z: number): boolean => this.set.has(`${x},${y},${z}`);
}

const EDGE = 0.1;
const LEAST: Vec3 = [-3, 2, 0];
const MOST: Vec3 = [3, 7, 4];

/** Columns of any length, among them so many whole ones that some bricks are full. */
function laid(seed: number): { grid: Grid; cubes: CubeSet } {
  const random = seeded(seed);
  const grid = Grid.between(EDGE, LEAST, MOST);
  const cubes = new CubeSet();
  const any = (n: number): number => Math.floor(n * random());
  const columns = (from: number, to: number): void => {
    for (let block = from; block < to; block++) {
      const [x, y, z] = [8 + any(60), 8 + any(50), 8 + any(30)];
      const top = z + any(18);
      let fresh = 0;
      for (let k = z; k <= top; k++) if (cubes.put(x, y, k, block)) fresh++;
      expect(grid.setColumn(x, y, z, top, block)).toBe(fresh);
    }
  };
  columns(0, 100);
  // Two bricks, whole: one column after the other, each in two halves that overlap.
  for (let n = 0; n < 128; n++) {
    const [x, y] = [16 + (n >> 3), 24 + (n & 7)];
    for (const [from, to] of [
      [16, 20],
      [19, 23],
    ] as const) {
      let fresh = 0;
      for (let k = from; k <= to; k++) if (cubes.put(x, y, k, 1000 + n)) fresh++;
      expect(grid.setColumn(x, y, from, to, 1000 + n)).toBe(fresh);
    }
  }
  // What comes now may take the place of the bits that full bricks gave back.
  columns(2000, 2200);
  return { grid, cubes };
}

describe.each([1, 2, 3])('columns laid at random, seed %d', (seed) => {
  const { grid, cubes } = laid(seed);

  it('are the cubes of the set, no more and no fewer', () => {
    expect(grid.count).toBe(cubes.set.size);
    expect(grid.bricks).toBe(cubes.first.size);
    let wrong = 0;
    for (let x = 0; x < 76; x++) {
      for (let y = 0; y < 66; y++) {
        for (let z = 0; z < 64; z++) if (grid.has(x, y, z) !== cubes.has(x, y, z)) wrong++;
      }
    }
    expect(wrong).toBe(0);
    expect(grid.has(-1, 10, 10)).toBe(false);
    expect(grid.has(10, -1, 10)).toBe(false);
    expect(grid.has(10, 10, -1)).toBe(false);
  });

  it('lie in bricks that know their place, halves, words, and first and last block', () => {
    for (let brick = 0; brick < grid.bricks; brick++) {
      const place = grid.brickPlace(brick);
      const key = place.join();
      const middle = place.map((v, c) => grid.origin[c]! + (8 * v + 4) * EDGE);
      grid.brickMiddle(brick).forEach((v, c) => expect(v).toBeCloseTo(middle[c]!, 9));
      expect(grid.lastIn(brick)).toBe(cubes.last.get(key));
      expect(grid.blocksAt(...(middle as unknown as Vec3))).toEqual({
        first: cubes.first.get(key),
        last: cubes.last.get(key),
      });
      const counts = new Array<number>(8).fill(0);
      let wrong = 0;
      for (let n = 0; n < 512; n++) {
        const [x, y, z] = [n >> 6, (n >> 3) & 7, n & 7];
        const is = cubes.has(8 * place[0] + x, 8 * place[1] + y, 8 * place[2] + z);
        if (is) counts[(x >> 2) + 2 * (y >> 2) + 4 * (z >> 2)]!++;
        const word = grid.wordOf(brick, 2 * x + (y >> 2));
        if (((word >>> (8 * (y & 3) + z)) & 1) !== (is ? 1 : 0)) wrong++;
      }
      expect(wrong).toBe(0);
      expect(counts.map((_, octant) => grid.octantCount(brick, octant))).toEqual(counts);
    }
  });

  it('are found at places in millimetres, where there are eight as a mean by nearness', () => {
    const random = seeded(seed + 50);
    const inside = (v: number, c: number): number => Math.floor((v - grid.origin[c]!) / EDGE);
    let partly = 0;
    for (let n = 0; n < 3000; n++) {
      const p = LEAST.map((v, c) => v + (MOST[c]! - v) * random()) as unknown as Vec3;
      const cube = p.map(inside) as [number, number, number];
      expect(grid.at(...p)).toBe(cubes.has(...cube));
      // Each cube counts by how much of a cube about the place it shares (linear in each axis).
      let sum = 0;
      for (let m = 0; m < 27; m++) {
        const at = [m % 3, Math.floor(m / 3) % 3, Math.floor(m / 9)].map(
          (v, c) => v - 1 + cube[c]!,
        );
        if (!cubes.has(at[0]!, at[1]!, at[2]!)) continue;
        sum += at.reduce((product, v, c) => {
          const middle = grid.origin[c]! + (v + 0.5) * EDGE;
          return product * Math.max(0, 1 - Math.abs(p[c]! - middle) / EDGE);
        }, 1);
      }
      expect(grid.share(...p)).toBeCloseTo(sum, 6);
      if (sum > 0.01 && sum < 0.99) partly++;
    }
    expect(partly).toBeGreaterThan(100);
  });
});

it('where nothing is laid there is no block', () => {
  const grid = Grid.between(EDGE, LEAST, MOST);
  expect(grid.blocksAt(0, 4, 1)).toEqual({ first: -1, last: -1 });
  expect(grid.at(0, 4, 1)).toBe(false);
  expect(grid.share(0, 4, 1)).toBe(0);
});

it('leaves room of eight cubes about what is to be laid, and grows its cubes for what is large', () => {
  const grid = Grid.between(EDGE, LEAST, MOST);
  expect(grid.edge).toBe(EDGE);
  grid.origin.forEach((v, c) => expect(v).toBeCloseTo(LEAST[c]! - 0.8, 9));
  const large = Grid.between(EDGE, [0, 0, 0], [100, 2000, 100]);
  // 8,192 cubes along an axis can be addressed; both ends keep their room.
  const [x, y, z] = large.edges;
  expect([x, z]).toEqual([EDGE, EDGE]);
  expect(y).toBeGreaterThan(2000 / 8192);
  expect((2000 + 16 * y) / y).toBeLessThanOrEqual(8192);
  for (const [i, j, k] of [
    [8 * 2048, 1, 1],
    [1, 8 * 2048, 1],
    [1, 1, 8 * 1024],
    [-1, 1, 1],
    [1, -1, 1],
    [1, 1, -1],
  ] as const) {
    expect(() => large.setColumn(i, j, k, k, 0)).toThrow(/outside the grid/);
    expect(large.has(i, j, k)).toBe(false);
  }
});
