/** Tiny blocks taken together: what is kept, and that times are shared out without a hurry. */
import { describe, expect, it } from 'vitest';
import { BlockList, type MotionBlocks, NO_PATH } from '../../../lib/motion/lay/blocks.js';
import { mergeBlocks, sharedOut } from '../../../lib/motion/timing/merge-blocks.js';
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
  const start = mergeBlocks(machine(), fine, tolerance).start;
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
