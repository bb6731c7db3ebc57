/** Tiny blocks taken together: what is kept, and that times are shared out without a hurry. */
import { describe, expect, it } from 'vitest';
import { BlockList, type MotionBlocks, NO_PATH } from '../../../lib/motion/lay/blocks.js';
import { mergeBlocks, sharedOut } from '../../../lib/motion/timing/merge-blocks.js';
import { MoveKind } from '../../../lib/motion/motion.js';
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
