/**
 * What first beads lie on: on the table and on bases drawn into the grid, how far the tip is over it, how
 * much of it is slanted, and how long beads have nothing under them. Heights of the bases are drawn.
 */
import { describe, expect, it } from 'vitest';
import type { Vec3 } from '../../lib/base/vector.js';
import { FirstBeads, type Start } from '../../lib/verify/first-bead.js';
import { Grid } from '../../lib/verify/grid.js';
import { heightsOf } from '../../lib/verify/layers.js';
import { printer } from './prints.js';
import { type Block, traceOfBlocks } from './traces.js';

const EDGE = 0.1;
const H = 0.2;
const W = 0.4;
const PITCH = 0.4;
const SIZE = 20;
const machine = printer();

/** `count` beads of 20 mm along X at a level, from y = 0 on. */
const rows = (z: number, count: number, run = 0): Block[] =>
  Array.from({ length: count }, (_, i): Block[] => [
    { to: [i % 2 ? SIZE : 0, i * PITCH, z], run },
    { to: [i % 2 ? 0 : SIZE, i * PITCH, z], run, volume: SIZE * W * H },
  ]).flat();

/** @param top height of the base at a place, mm; NaN for none */
function startsOf(
  blocks: readonly Block[],
  top: (x: number, y: number) => number = () => NaN,
  of = machine,
): Start[] {
  const trace = traceOfBlocks([0, 0, 20], blocks);
  const grid = Grid.between(EDGE, [-2, -2, -1], [SIZE + 2, 12, 12]);
  const count = (c: number, to: number): number => Math.ceil((to - grid.origin[c]!) / EDGE);
  for (let i = 0; i < count(0, SIZE + 1); i++) {
    for (let k = 0; k < count(1, 11); k++) {
      const height = top(grid.origin[0] + (i + 0.5) * EDGE, grid.origin[1] + (k + 0.5) * EDGE);
      if (Number.isNaN(height)) continue;
      const most = Math.round((height - grid.origin[2]) / EDGE);
      grid.setColumn(i, k, most - 12, most - 1, 0);
    }
  }
  const first = new FirstBeads(trace, heightsOf(trace, 0.4), of, grid);
  for (let b = 0; b < trace.kind.length; b++) first.before(b);
  return first.take();
}
/** A run of three levels on a base far over the table: only its first level is a start. */
const onBase = (z: number, top: (x: number, y: number) => number, count = 20): Start => {
  const found = startsOf([...rows(z, count), ...rows(z + H, 2), ...rows(z + 2 * H, 2)], top);
  expect(found).toHaveLength(1);
  return found[0]!;
};

describe('on the table', () => {
  it('marks lie half a millimetre apart, three across, and find the face', () => {
    const [start, ...more] = startsOf([...rows(0.25, 4), ...rows(0.45, 2), ...rows(0.65, 2)]);
    expect(more).toEqual([]);
    expect(start).toMatchObject({
      layer: 0,
      marks: 4 * 40 * 3,
      found: 480,
      onTable: 480,
      hollow: 0,
    });
    expect(start!.under).toBeCloseTo(0.25, 9);
    expect(start!.slant).toBeCloseTo(0, 9);
  });

  it('but not beside it', () => {
    const half = printer((json) => (json.table.face = { shape: 'rectangle', size: [20, 60] }));
    const round = printer((json) => (json.table.face = { shape: 'disc', radius: 10 }));
    for (const of of [half, round]) {
      const [start] = startsOf([...rows(0.2, 1), ...rows(0.4, 1), ...rows(0.6, 1)], undefined, of);
      // The bead runs from x = 0 to 20, the face ends at 10.
      expect(start!.found).toBe(60);
      expect(start!.hollow).toBeCloseTo(10, 9);
    }
  });

  it('a level that begins anew under the one before is a start as well', () => {
    const found = startsOf([...rows(0.2, 1), ...rows(0.4, 1), ...rows(0.2, 1), ...rows(0.4, 1)]);
    expect(found.map((s) => s.layer)).toEqual([0, 2]);
    expect(found.map((s) => s.marks)).toEqual([120, 120]);
  });
});

describe('on what is printed', () => {
  it.each([0.2, 0.1, 0, -0.1, 0.3, 0.5])('the tip is %d mm over it', (gap) => {
    const start = onBase(5 + gap, () => 5);
    expect(start.found).toBe(start.marks);
    expect(start.onTable).toBe(0);
    // The grid's material ends where its share is a half: to a part of a cube.
    expect(Math.abs(start.under - gap)).toBeLessThan(0.011);
    expect(start.slant).toBeLessThan(1e-6);
    expect(start.hollow).toBeCloseTo(gap > 0.4 ? 20 * SIZE : 0, 9);
  });

  it('has nothing farther down than four heights', () => {
    const start = onBase(5.9, () => 5, 1);
    expect(start).toMatchObject({ found: 0, onTable: 0 });
    expect(start.under).toBeNaN();
    expect(start.hollow).toBeCloseTo(SIZE, 9);
  });

  it('hangs where there is no base, and not where one of three marks finds it', () => {
    const start = onBase(5 + H, (x) => (x < 5 ? 5 : NaN), 1);
    expect(Math.abs(start.hollow - 15)).toBeLessThan(0.6);
    expect(Math.abs(start.found - 30)).toBeLessThan(4);
    // Marks lie 0.12 mm to either side of y = 0.
    expect(onBase(5 + H, (_, y) => (y < -0.02 ? 5 : NaN), 1).hollow).toBe(0);
    expect(onBase(5 + H, (_, y) => (y > 0.02 ? 5 : NaN), 1).hollow).toBe(0);
    expect(onBase(5 + H, (_, y) => (Math.abs(y) > 0.25 ? 5 : NaN), 1).hollow).toBeCloseTo(SIZE, 9);
  });

  it('leaves out a tenth at either end, as holes and lumps', () => {
    // A twentieth of the way is 0.4 mm deeper, another as much higher.
    const uneven = (x: number): number => (x < 1 ? 4.6 : x > 19 ? 5.2 : 5);
    expect(Math.abs(onBase(5 + H, uneven).under - H)).toBeLessThan(0.011);
    const half = onBase(5.3, (x) => (x < 10 ? 5 : 5.2));
    // The mean of 0.3 and 0.1 mm.
    expect(Math.abs(half.under - 0.2)).toBeLessThan(0.02);
  });
});

describe('on a slant', () => {
  it.each<[string, (x: number, y: number) => number, number]>([
    ['along the beads', (x) => 5 + 0.02 * x, 0.02 * SIZE],
    ['against them', (x) => 5.4 - 0.02 * x, 0.02 * SIZE],
    ['across them', (_, y) => 5 + 0.04 * y, 0.04 * 20 * PITCH],
    ['both ways', (x, y) => 5 + 0.015 * x + 0.03 * y, Math.hypot(0.015 * SIZE, 0.03 * 20 * PITCH)],
  ])('%s: the rise over its width', (_, top, want) => {
    const start = onBase(5.6, top);
    // Cubes of a tenth make stairs of the plane, and its width across is to a bead.
    expect(Math.abs(start.slant - want)).toBeLessThan(0.03);
  });

  it('with too few marks is not told', () => {
    // A bead has 40 places of three marks.
    expect(onBase(5.4, (x) => 5 + 0.02 * x, 1).slant).toBe(0);
    expect(onBase(5.4, (x) => 5 + 0.02 * x, 2).slant).toBeGreaterThan(0.3);
  });

  it('along one line of marks says nothing of the other way', () => {
    const line = Array.from({ length: 6 }, (_, i): Block[] => [
      { to: [0, 0.001 * i, 5.4] },
      { to: [SIZE, 0.001 * i, 5.4], volume: SIZE * W * H },
    ]).flat();
    const [start] = startsOf(line, (x) => 5 + 0.02 * x);
    expect(start!.slant).toBe(0);
  });
});

it('looks along the head', () => {
  // A wall at y = 3, and beads 0.2 mm before it laid along +Y at different heights.
  const d: Vec3 = [0, 1, 0];
  const blocks = Array.from({ length: 8 }, (_, i): Block[] => [
    { to: [2, 3.2, 2 + i * PITCH], direction: d },
    { to: [12, 3.2, 2 + i * PITCH], direction: d, volume: 10 * W * H },
  ]).flat();
  const [start] = startsOf(blocks, (_, y) => (y < 3 ? 8 : NaN));
  expect(start!.found).toBe(0);
  const trace = traceOfBlocks([0, 9, 5], blocks, d);
  const grid = Grid.between(EDGE, [-2, -2, -1], [SIZE + 2, 12, 12]);
  const cube = (v: number, c: number): number => Math.floor((v - grid.origin[c]!) / EDGE + 1e-9);
  for (let x = 0; x < cube(15, 0); x++) {
    for (let y = cube(1, 1); y < cube(3, 1); y++) grid.setColumn(x, y, cube(0, 2), cube(8, 2), 0);
  }
  const first = new FirstBeads(trace, heightsOf(trace, 0.4), machine, grid);
  for (let b = 0; b < trace.kind.length; b++) first.before(b);
  const [found] = first.take();
  expect(found!.found).toBe(8 * 20 * 3);
  expect(Math.abs(found!.under - 0.2)).toBeLessThan(0.011);
});
