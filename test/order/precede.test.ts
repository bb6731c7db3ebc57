/**
 * Which region comes first. Gaps follow from the head's radius over its height (`stack` in machines.ts) and
 * from where the tip and the beads are; the order in cases of doubt is the project's own rule.
 */
import { describe, expect, it } from 'vitest';
import type { Vec3 } from '../../lib/base/vector.js';
import { orderRuns } from '../../lib/order/order.js';
import { comesBefore, precedence } from '../../lib/order/precede.js';
import { acJson, machineOf } from '../machine/machines.js';
import { type BoxJob, boxJob } from '../motion/jobs.js';

const machine = machineOf(acJson());
const UP: Vec3 = [0, 0, 1];

const parts = (jobs: readonly BoxJob[]) =>
  [jobs.map((p) => p.region), jobs.map((p) => p.paths)] as const;

/** Posts of 14 x 20 mm, their facing sides 20.7 mm apart along X: tips stay 1 mm inside of them. */
const postAt = (place: number, height: number): BoxJob =>
  boxJob([34.7 * place, -10, 0], [34.7 * place + 14, 10, height], UP);

/*
 * 22.7 mm from the tips of the one post to the middles of the other's beads, which are 0.45 mm wide: the
 * head, 22 mm wide at 60 mm over the tip, comes within 0.5 mm of the top of a finished neighbour as high
 * as that, which is less than the clearance of 1 mm, and does not touch it.
 */
describe('posts of 60 mm to which the head comes too near without touching them', () => {
  it.each([
    ['left to right', [0, 1]],
    ['right to left', [1, 0]],
    ['three, middle first', [1, 0, 2]],
    ['four, from the right', [3, 2, 1, 0]],
  ])('come in the order in which they are given: %s', (_, places) => {
    const [regions, pathsOf] = parts(places.map((p) => postAt(p, 60)));
    const { before, cycles } = precedence(machine, regions, pathsOf);
    expect(cycles).toEqual([]);
    for (let a = 0; a < places.length; a++) {
      for (let b = 0; b < places.length; b++) {
        const near = Math.abs(places[a]! - places[b]!) === 1;
        if (near) expect(comesBefore(before, a, b)).toBe(a < b);
      }
    }
    const { runs, stuck } = orderRuns(machine, regions, pathsOf);
    const order = runs.map((r) => r.region);
    for (let a = 1; a < places.length; a++) {
      for (let b = 0; b < a; b++) {
        const near = Math.abs(places[a]! - places[b]!) === 1;
        if (near) expect(order.indexOf(b)).toBeLessThan(order.indexOf(a));
      }
    }
    expect(stuck).toEqual([]);
  });

  it('but what is low comes first, even if it is given last', () => {
    // 6 mm end under the block of the head, which begins 8 mm over the tip; 60 mm stand in its way.
    const [regions, pathsOf] = parts([postAt(0, 60), postAt(1, 6)]);
    const { before } = precedence(machine, regions, pathsOf);
    expect(before).toEqual([[1], []]);
  });

  it('and the low one comes last if it stands on the tall one', () => {
    const low = postAt(1, 6);
    const [regions, pathsOf] = parts([
      postAt(0, 60),
      { ...low, region: { ...low.region, standsOn: [0] } },
    ]);
    const { before, cycles } = precedence(machine, regions, pathsOf);
    expect(before).toEqual([[], [0]]);
    expect(cycles).toEqual([]);
  });
});

describe('a chain', () => {
  const before = [[], [0], [1], [], [2, 3]];
  it.each([
    [0, 1, true],
    [0, 2, true],
    [0, 4, true],
    [3, 4, true],
    [4, 0, false],
    [3, 2, false],
    [0, 3, false],
    [1, 0, false],
  ])('%d before %d: %s', (a, b, yes) => {
    expect(comesBefore(before, a, b)).toBe(yes);
  });

  it('that closes on itself is still walked to an end', () => {
    expect(comesBefore([[1], [0], []], 2, 0)).toBe(false);
    expect(comesBefore([[1], [0], []], 1, 0)).toBe(true);
  });
});
