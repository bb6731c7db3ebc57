/**
 * The order of boxes in space, against what a k-d tree is: of every aligned run that is halved, no middle of the first
 * half lies beyond one of the second along some axis. Ranks of nodes against the least of all things under them.
 */
import { expect, test } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { PrefixTree } from '../../lib/clearance/convex/prefix-tree.js';
import { spatialOrder } from '../../lib/clearance/convex/spatial-order.js';

/** Small boxes anywhere in a cube of 100 mm. */
function boxes(count: number, seed: number): Float64Array {
  const random = seeded(seed);
  return Float64Array.from({ length: 6 * count }, (_, i) => (i % 6 < 3 ? 100 * random() : 0.5));
}

test.each([1, 2, 3, 64, 1000, 4097])('%i boxes, seed 7', (count) => {
  const all = boxes(count, 7);
  const order = spatialOrder(all);
  expect([...order].sort((a, b) => a - b)).toEqual([...Array(count).keys()]);
  const middles = (from: number, to: number, c: number): number[] =>
    [...order.subarray(from, to)].map((i) => all[6 * i + c]!);
  for (let size = 4; size <= count; size *= 2) {
    for (let from = 0; from + size <= count; from += size) {
      const middle = from + size / 2;
      const parted = [0, 1, 2].some(
        (c) =>
          Math.max(...middles(from, middle, c)) <= Math.min(...middles(middle, from + size, c)),
      );
      expect(parted).toBe(true);
    }
  }
});

test('a node knows the first of the things under it, and is small', () => {
  const count = 1000;
  const all = boxes(count, 8);
  const order = spatialOrder(all);
  const sorted = new Float64Array(all.length);
  order.forEach((i, k) => sorted.set(all.subarray(6 * i, 6 * i + 6), 6 * k));
  const tree = new PrefixTree(sorted, undefined, order);
  const under = (level: number, node: number): number[] => {
    if (level < 0) return [order[node]!];
    const [from, to] = level === 0 ? tree.things(node) : tree.children(level, node);
    return Array.from({ length: to - from }, (_, k) => under(level - 1, from + k)).flat();
  };
  for (let level = -1; level <= tree.top; level++) {
    const nodes = level < 0 ? count : tree.levels[level]!.length / 6;
    for (let node = 0; node < nodes; node++) {
      expect(tree.first(level, node)).toBe(Math.min(...under(level, node)));
    }
  }
  // Of 1,000 boxes in a cube 4 fill a 250th of it: a cube of 16 mm, four times as long where they fall badly.
  const leaves = tree.levels[0]!;
  for (let at = 0; at < leaves.length; at += 6) {
    expect(2 * Math.min(leaves[at + 3]!, leaves[at + 4]!, leaves[at + 5]!)).toBeLessThan(64);
  }
});
