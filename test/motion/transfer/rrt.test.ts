/**
 * Paths found by sampling round a screen of the frame, whose distance from the head is a closed form; and none where
 * there is none.
 */
import { describe, expect, it } from 'vitest';
import { settingOf } from '../../../lib/clearance/scene.js';
import type { Machine } from '../../../lib/machine/machine.js';
import { ClearMove } from '../../../lib/motion/transfer/clear-move.js';
import { RRT_BUDGET, explore } from '../../../lib/motion/transfer/rrt.js';
import { type Json, acJson, machineOf } from '../../machine/machines.js';

/** A screen 1 mm thick across X, as wide and high as Y and Z travel but for a gap. */
const HALF = 0.5;

/** Nothing turns. Y travels by 150 mm either way, the screen leaves `gap` of it free on the side of +Y. */
function screened(gap: number, change: Partial<Json> = {}): Machine {
  const json = acJson();
  const travel = { X: [-100, 100], Y: [-150, 150], Z: [10, 60] } as Record<
    string,
    [number, number]
  >;
  const headJoints = json.head.joints.map((j) => ({ ...j, travel: travel[j.letter]! }));
  const tableJoints = json.table.joints.map((j) => ({ ...j, travel: [-1e-3, 1e-3] }));
  return machineOf({
    ...json,
    ready: { Z: 20 },
    head: { ...json.head, joints: headJoints as never },
    table: { ...json.table, joints: tableJoints as never },
    obstacles: [
      {
        name: 'screen',
        carriedBy: 'frame',
        solid: { shape: 'box', from: [-HALF, -400, 8], to: [HALF, 150 - gap, 400] },
      },
    ],
    ...change,
  });
}

const free = (machine: Machine, share = 1): ClearMove =>
  new ClearMove({ setting: settingOf(machine), printed: [] }, share);

const from = Float64Array.of(-60, -20, 20, 0, 0);
const to = Float64Array.of(60, 30, 20, 0, 0);

/** Distance of the head's round steps from the screen's end, mm; the head is 22 mm wide at its top. */
function gapOf(q: Float64Array, gap: number): number {
  const end = 150 - gap;
  return Math.min(
    ...[22, 18, 9].map((r) => {
      const [x, y] = [Math.max(0, Math.abs(q[0]!) - HALF), Math.max(0, q[1]! - end)];
      return Math.hypot(x, y) - r;
    }),
  );
}

describe('round a screen', () => {
  const machine = screened(60);
  const found = explore(free(machine), from, to)!;
  const way = [from, ...found, to];

  it('every place of the way keeps 1 mm', () => {
    expect(found.length).toBeGreaterThan(0);
    let least = Infinity;
    for (let i = 1; i < way.length; i++) {
      for (let k = 0; k <= 400; k++) {
        const q = way[i]!.map((x, j) => way[i - 1]![j]! + (k / 400) * (x - way[i - 1]![j]!));
        least = Math.min(least, gapOf(q, 60));
        q.forEach((x, j) => {
          const joint = machine.joints[j]!;
          expect(x >= joint.least && x <= joint.most).toBe(true);
        });
      }
    }
    expect(least).toBeGreaterThan(1 - 1e-6);
  });

  it('and leads round its end, without detours that could be left out', () => {
    expect(Math.max(...way.map((q) => q[1]!))).toBeGreaterThan(90);
    // Shortened: nowhere are two knots joined by a free move that the way does not take.
    const move = free(machine);
    for (let i = 0; i + 2 < way.length; i++) {
      expect(move.trouble(way[i]!, way[i + 2]!)).toBeDefined();
    }
    expect(way.length).toBeLessThan(8);
  });

  it('is the same every time, and the other way round it is free too', () => {
    expect(explore(free(machine), from, to)).toEqual(found);
    const back = explore(free(machine), to, from)!;
    const all = [to, ...back, from];
    const move = free(machine);
    for (let i = 1; i < all.length; i++) expect(move.trouble(all[i - 1]!, all[i]!)).toBeUndefined();
  });
});

it('where nothing stands between, nothing is in the way', () => {
  const open = screened(60, { obstacles: [] });
  expect(explore(free(open), from, to)).toEqual([]);
});

it('none where a wall leaves no room, and the search ends after its budget', () => {
  let moves = 0;
  const wall = {
    scene: free(screened(60)).scene,
    // A wall at X 0 without an end.
    trouble: (a: Float64Array, b: Float64Array) => {
      moves++;
      return a[0]! < 0 === b[0]! < 0 ? undefined : { words: 'the wall', kind: 'near' };
    },
  } as unknown as ClearMove;
  expect(explore(wall, from, to)).toBeUndefined();
  expect(moves).toBeGreaterThanOrEqual(RRT_BUDGET);
  // A step of either tree more at most.
  expect(moves).toBeLessThan(RRT_BUDGET + 2);
});
