/** Tiny blocks taken together: what is kept, and that times are shared out without a hurry. */
import { describe, expect, it } from 'vitest';
import { BlockList, type MotionBlocks, NO_PATH } from '../../../lib/motion/lay/blocks.js';
import {
  close,
  inShares,
  endsOfMerged,
  mergeBlocks,
  mergedOffsets,
  sharedOut,
} from '../../../lib/motion/timing/merge-blocks.js';
import { MoveKind } from '../../../lib/motion/motion.js';
import { seeded } from '../../../lib/base/random.js';
import { RADIAN } from '../../../lib/motion/timing/path-limits.js';
import { machine } from '../routes.js';

function beads(...places: [number, number][]): MotionBlocks {
  const list = new BlockList(new Float64Array(5));
  const tag = { kind: MoveKind.deposit, region: 0, layer: 0, pathKind: NO_PATH, speed: 40 };
  for (const [x, y] of places) {
    const far = Math.hypot(x - list.now[0]!, y - list.now[1]!);
    list.push([x, y, 0, 0, 0], far, 0.08, 0.03 * far, tag);
  }
  return list.take();
}

describe('blocks taken together', () => {
  it('are those whose ends lie within the tolerance of the straight way', () => {
    const near = beads([1, 0.009], [2, 0], [2.5, 0.02], [3, 0]);
    expect([...mergeBlocks(machine(), near, 0.01).start]).toEqual([0, 2, 3, 4]);
  });

  it('never those that go there and back again', () => {
    const spike = beads([5, 0], [5, 0.128], [5, 0], [5, -5]);
    const { start, blocks } = mergeBlocks(machine(), spike, 0.1);
    expect([...start]).toEqual([0, 1, 2, 4]);
    expect(Math.min(...blocks.length)).toBeGreaterThan(0.12);
  });

  it('never those that go past the end and come back to it', () => {
    const past = beads([1, 0], [3, 0], [2, 0], [2, 5]);
    expect([...mergeBlocks(machine(), past, 0.01).start]).toEqual([0, 2, 3, 4]);
  });

  it('keep their filament and length, and share the time by length', () => {
    const fine = beads([1, 0], [1.5, 0.001], [3, 0]);
    const merged = mergeBlocks(machine(), fine, 0.01);
    expect([...merged.start]).toEqual([0, 3]);
    const total = fine.length.reduce((a, b) => a + b, 0);
    expect(merged.blocks.length[0]).toBeCloseTo(total, 12);
    expect(merged.blocks.filament[0]).toBeCloseTo(0.03 * total, 12);
    const seconds = sharedOut(machine(), fine, merged, Float64Array.of(0.3));
    expect(seconds.reduce((a, b) => a + b, 0)).toBeCloseTo(0.3, 12);
    expect(seconds[0]! / seconds[2]!).toBeCloseTo(1 / 1.5, 5);
  });
});

describe('only blocks that want the same are taken together', () => {
  const base = { kind: MoveKind.deposit as MoveKind, region: 1, layer: 2, pathKind: 3, speed: 40 };
  /** Two pieces of a straight line; the second one differs. */
  const pair = (change: Partial<typeof base>, section = 0.08): number[] => {
    const list = new BlockList(new Float64Array(5));
    list.push([1, 0, 0, 0, 0], 1, 0.08, 0.03, base);
    list.push([2, 0, 0, 0, 0], 1, section, 0.03, { ...base, ...change });
    return [...mergeBlocks(machine(), list.take(), 0.01).start];
  };
  it.each<[string, Partial<typeof base>, number?]>([
    ['all alike', {}],
    ['a speed that differs by 5 % of the greater one', { speed: 38 }],
    ['the same the other way round', { speed: 40 / 0.95 - 1e-9 }],
    ['a section that does', {}, 0.0761],
  ])('%s: one block', (_, change, section) => {
    expect(pair(change, section)).toEqual([0, 2]);
  });
  it.each<[string, Partial<typeof base>, number?]>([
    ['kind', { kind: MoveKind.link }],
    ['region', { region: 2 }],
    ['layer', { layer: 3 }],
    ['kind of path', { pathKind: 4 }],
    ['a slower speed', { speed: 37.9 }],
    ['a faster speed', { speed: 42.2 }],
    ['a smaller section', {}, 0.0759],
    ['a larger section', {}, 0.0843],
  ])('%s: two blocks', (_, change, section) => {
    expect(pair(change, section)).toEqual([0, 1, 2]);
  });
  it('never where filament alone moves', () => {
    const list = new BlockList(new Float64Array(5));
    for (const x of [1, 2])
      list.push([x, 0, 0, 0, 0], 1, 0, 1, { ...base, kind: MoveKind.filament });
    expect([...mergeBlocks(machine(), list.take(), 0.01).start]).toEqual([0, 1, 2]);
  });
  it('shares of 5 % of the greater value count as the same', () => {
    expect([close(100, 95), close(95, 100), close(0, 0), close(7, 7)]).toEqual(Array(4).fill(true));
    expect([close(100, 94.99), close(94.99, 100), close(0, 1)]).toEqual(Array(3).fill(false));
  });
});

it('what is merged has the place of its last block, the sum, the least speed and the largest section', () => {
  const list = new BlockList(Float64Array.of(5, 0, 0, 0, 0));
  const tag = { kind: MoveKind.link, region: 4, layer: 5, pathKind: 6 };
  list.push([6, 0, 0, 0, 0], 1, 0.08, 0.03, { ...tag, speed: 40 });
  list.push([8, 0, 0, 0, 0], 2, 0.082, 0.05, { ...tag, speed: 39 });
  list.push([8, 3, 0, 0, 0], 3, 0.07, 0.07, { ...tag, region: 9, speed: 30 });
  const { start, blocks } = mergeBlocks(machine(), list.take(), 0.01);
  expect([...start]).toEqual([0, 2, 3]);
  expect([...blocks.from]).toEqual([5, 0, 0, 0, 0]);
  expect([...blocks.joints]).toEqual([8, 0, 0, 0, 0, 8, 3, 0, 0, 0]);
  const near = (x: number): unknown => expect.closeTo(x, 12);
  expect([...blocks.length]).toEqual([near(3), 3]);
  expect([...blocks.filament]).toEqual([near(0.08), 0.07]);
  expect([...blocks.speed]).toEqual([39, 30]);
  expect([...blocks.section]).toEqual([0.082, 0.07]);
  expect([...blocks.region]).toEqual([4, 9]);
  expect([...blocks.layer]).toEqual([5, 5]);
  expect([...blocks.kind]).toEqual([MoveKind.link, MoveKind.link]);
  expect([...blocks.pathKind]).toEqual([6, 6]);
  expect([...endsOfMerged(list.take(), Uint32Array.of(0, 3)).joints]).toEqual([8, 3, 0, 0, 0]);
});

it('a path of joints alone is merged by what its caller says is alike', () => {
  const way = { jointCount: 5, from: new Float64Array(5), joints: new Float64Array(5 * 60) };
  for (let b = 0; b < 60; b++) way.joints[5 * b] = b + 1;
  const offsets = (alike: (a: number, b: number) => boolean): number[] => [
    ...mergedOffsets(machine(), way, alike, 0.01),
  ];
  // No more than 24 at once.
  expect(offsets(() => true)).toEqual([0, 24, 48, 60]);
  expect(offsets((_, b) => b !== 7)).toEqual([0, 7, 31, 55, 60]);
  expect(offsets(() => false)).toHaveLength(61);
  expect([
    ...mergedOffsets(machine(), { ...way, joints: new Float64Array(0) }, () => true, 1),
  ]).toEqual([0]);
});

describe('what is shared out among the blocks of a merged one', () => {
  // X at most 1000 mm/s, C 360 deg/s.
  const fine = beads([3, 0], [4, 0.002], [10, 0], [10, 5]);
  const taken = () => mergeBlocks(machine(), fine, 0.01);

  it('time by length, and a single block has its own', () => {
    const merged = taken();
    expect([...merged.start]).toEqual([0, 3, 4]);
    const seconds = sharedOut(machine(), fine, merged, Float64Array.of(1, 0.25));
    [0.3, 0.1, 0.6].forEach((share, b) => expect(seconds[b]).toBeCloseTo(share, 6));
    expect(seconds[3]).toBe(0.25);
  });

  it('no less time than its joints need, though it runs askew', () => {
    const merged = taken();
    // Y turned very slow: 0.002 mm of it in the second and third block at 0.01 mm/s.
    const m = machine();
    const joints = m.joints.map((j, i) => (i === 1 ? { ...j, speed: 0.01 } : j));
    const seconds = sharedOut({ ...m, joints }, fine, merged, Float64Array.of(1, 0.25));
    expect(seconds[0]).toBeCloseTo(0.3, 6);
    expect(seconds[1]).toBeCloseTo(0.2, 9);
    expect(seconds[2]).toBeCloseTo(0.6, 6);
    // At 1 mm a second of X the first block takes 3 s, not 2.
    const slow = m.joints.map((j, i) => (i === 0 ? { ...j, speed: 1 } : j));
    const held = sharedOut({ ...m, joints: slow }, fine, merged, Float64Array.of(2, 1));
    [3, 1, 6].forEach((t, b) => expect(held[b]).toBeCloseTo(t, 9));
  });

  it('any quantity in proportion to time, or evenly where none is known', () => {
    const start = Uint32Array.of(0, 3, 4, 6);
    const shared = inShares(
      { ...taken(), start },
      Float64Array.of(8, 5, 3),
      Float64Array.of(1, 2, 1, 7, 0, 0),
    );
    expect([...shared]).toEqual([2, 4, 2, 5, 1.5, 1.5]);
  });
});

/** Most blocks that become one; the project's own rule. */
const MOST = 24;

/** Mostly straight on in all joints, with turns, steps back and shares of a tolerance aside. */
function wandering(count: number, tolerance: number, seed: number): MotionBlocks {
  const random = seeded(seed);
  const list = new BlockList(new Float64Array(5));
  const tag = { kind: MoveKind.deposit, region: 0, layer: 0, pathKind: NO_PATH, speed: 40 };
  const any = (): number[] => Array.from({ length: 5 }, () => random() - 0.5);
  let heading = any();
  const at = [0, 0, 0, 0, 0];
  for (let n = 0; n < count; n++) {
    const kind = random();
    if (kind < 0.15) heading = any();
    else if (kind < 0.25) heading = heading.map((x) => -x);
    const far = 3 * tolerance * random();
    const aside = any().map((x) => 0.8 * tolerance * x);
    // A and C count by the length that a radian stands for.
    heading.forEach((x, j) => (at[j]! += (far * x + aside[j]!) / (j > 2 ? RADIAN : 1)));
    list.push(at, far, 0.08, 0.03 * far, tag);
  }
  return list.take();
}

describe.each([1, 2, 3, 4])('any path of the joints, seed %d', (seed) => {
  const tolerance = 0.02;
  const fine = wandering(600, tolerance, seed);
  /** Joint values where block b ends, mm; -1 for the start of the path. */
  const place = (b: number): number[] =>
    [0, 1, 2, 3, 4].map((j) => (b < 0 ? 0 : fine.joints[5 * b + j]!) * (j > 2 ? RADIAN : 1));

  /** Whether the ends between lie in order along the straight way and near to it. */
  function straight(a: number, b: number): boolean {
    const [from, to] = [place(a - 1), place(b - 1)];
    const way = to.map((x, j) => x - from[j]!);
    const far = Math.hypot(...way);
    let before = 0;
    for (let k = a; k < b - 1; k++) {
      const off = place(k).map((x, j) => x - from[j]!);
      const along = off.reduce((sum, x, j) => sum + (x * way[j]!) / far, 0);
      const aside = Math.hypot(...off.map((x, j) => x - (along * way[j]!) / far));
      if (along < before || along > far || aside > tolerance) return false;
      before = along;
    }
    return true;
  }

  it('is merged where it is straight, and as far as it is straight', () => {
    const { start } = mergeBlocks(machine(), fine, tolerance);
    expect(start[0]).toBe(0);
    expect(start.at(-1)).toBe(600);
    expect(start.length).toBeLessThan(450);
    for (let c = 0; c + 1 < start.length; c++) {
      const [a, b] = [start[c]!, start[c + 1]!];
      expect(b).toBeGreaterThan(a);
      expect(b - a).toBeLessThanOrEqual(MOST);
      expect(straight(a, b)).toBe(true);
      if (b < 600 && b - a < MOST) expect(straight(a, b + 1)).toBe(false);
    }
  });
});
