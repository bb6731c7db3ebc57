/**
 * Moves between regions in scenes where the best height is known: the lowest of the heights that are tried at which
 * the tip keeps 1 mm over what stands between, the height over everything in closed form, and what is said where
 * nothing is free.
 */
import { describe, expect, it } from 'vitest';
import type { Vec3 } from '../../../lib/base/vector.js';
import { forward } from '../../../lib/machine/forward.js';
import type { Machine } from '../../../lib/machine/machine.js';
import { planRetreat, planTransfer, type Transfer } from '../../../lib/motion/transfer/transfer.js';
import { type Json, acJson, machineOf } from '../../machine/machines.js';
import { boxJob } from '../jobs.js';
import { type Printed, printed } from './scenes.js';

const UP: Vec3 = [0, 0, 1];
const machine = machineOf(acJson());
/** Where a region of 4 mm ends, and the places of another one. */
const low = boxJob([-40, -5, 0], [-30, 5, 4], UP);

const go = (
  { scene, bulk }: Printed,
  from: readonly number[],
  to: readonly number[],
  ends = { from: 0, to: -1 },
): Transfer =>
  planTransfer(scene, bulk, Float64Array.from(from), Float64Array.from(to), 0.01, ends);

const knotsOf = ({ knots }: Transfer): number[][] =>
  knots.map((k) => [...k].map((x) => Number(x.toFixed(9))));

describe('over a wall, the tip at 4 mm before and after', () => {
  const tower = boxJob([-40, 60, 0], [-30, 70, 60], UP);

  // 1 mm of clearance and 0.1, 2, 6 or 16 mm: the heights that are tried, the tower left out of account.
  it.each([
    [0, 5.1],
    [4, 5.1],
    [4.4, 7],
    [5.8, 7],
    [6.4, 11],
    [9.8, 11],
    [10.4, 21],
    [19.8, 21],
  ])('%d mm high: at %d mm', (height, z) => {
    const wall = height ? [boxJob([-2, -10, 0], [2, 10, height], UP)] : [];
    const way = go(printed(machine, [low, tower, ...wall]), [-35, 0, 4, 0, 0], [30, 0, 4, 0, 0]);
    expect(knotsOf(way)).toEqual([
      [-35, 0, z, 0, 0],
      [30, 0, z, 0, 0],
      [30, 0, 4, 0, 0],
    ]);
    expect(way).toMatchObject({ trouble: undefined, kept: 1 });
  });

  it.each([4.6, 6.6, 9])('%d mm high and nothing higher: 1.1 mm over it', (height) => {
    const wall = boxJob([-2, -10, 0], [2, 10, height], UP);
    const way = go(printed(machine, [low, wall]), [-35, 0, 4, 0, 0], [30, 0, 4, 0, 0]);
    expect(way.knots[0]![2]).toBeCloseTo(height + 1.1, 5);
    expect(way).toMatchObject({ trouble: undefined, kept: 1 });
  });

  it('so high, for so slow a joint, that it is quicker beside it', () => {
    const json = acJson();
    const slow = json.head.joints.map((j) => (j.letter === 'Z' ? { ...j, speed: 50 } : j));
    const m = machineOf({ ...json, head: { ...json.head, joints: slow } });
    const wall = boxJob([-2, -10, 0], [2, 10, 90], UP);
    // The rim at 100 mm, 6 mm under the face; 22 mm of head, 1 mm of clearance, .1 mm to spare. The ball about
    // the wall is smaller: 45 mm to its middle and half of its diagonal.
    const reach = Math.hypot(100, 6) + 22 + 1.1;
    const way = go(printed(m, [low, wall]), [-35, 0, 4, 0, 0], [30, 0, 4, 0, 0]);
    expect(way.kept).toBe(1);
    const [high, first, second, over, end] = knotsOf(way) as number[][];
    const y = first![1]!;
    expect(Math.abs(y)).toBeCloseTo(reach, 6);
    const near = (...q: number[]): unknown[] => q.map((x): unknown => expect.closeTo(x, 6));
    expect(high).toEqual(near(-35, 0, 5.1, 0, 0));
    expect(first).toEqual(near(-35, y, 5.1, 0, 0));
    expect(second).toEqual(near(30, y, 5.1, 0, 0));
    expect(over).toEqual(near(30, 0, 5.1, 0, 0));
    expect(end).toEqual(near(30, 0, 4, 0, 0));
  });

  it('where nothing is beside it: over everything', () => {
    const json = acJson();
    const short = json.head.joints.map((j) =>
      j.letter === 'Z' ? j : { ...j, travel: [-110, 110] as [number, number] },
    );
    const m = machineOf({ ...json, head: { ...json.head, joints: short } });
    const wall = boxJob([-2, -10, 0], [2, 10, 90], UP);
    const way = go(printed(m, [low, wall]), [-35, 0, 4, 0, 0], [30, 0, 4, 0, 0]);
    const z = expect.closeTo(90 + 1.1, 4) as unknown;
    expect(knotsOf(way)).toEqual([
      [-35, 0, z, 0, 0],
      [30, 0, z, 0, 0],
      [30, 0, 4, 0, 0],
    ]);
    expect(way.kept).toBe(1);
  });
});

it('the quickest of those that are free, not the first: without a wall the same place again', () => {
  const way = go(printed(machine, [low]), [-35, 0, 4, 0, 0], [-35, 0, 4, 0, 0]);
  expect(knotsOf(way)).toEqual([
    [-35, 0, 5.1, 0, 0],
    [-35, 0, 5.1, 0, 0],
    [-35, 0, 4, 0, 0],
  ]);
});

describe('with a turn of A by 40 deg', () => {
  const turned = 40 * (Math.PI / 180);
  const way = go(printed(machine, [low]), [-35, 0, 4, 0, 0], [-35, 0, 60, turned, 0]);

  it('it ends where it should, and the tip leaves and comes along the head', () => {
    expect(way).toMatchObject({ trouble: undefined, kept: 1 });
    const { knots } = way;
    expect([...knots.at(-1)!]).toEqual([-35, 0, 60, turned, 0]);
    const [before, after] = [knots.at(-2)!, knots.at(-1)!].map((q) => forward(machine, q));
    expect(before!.direction).toEqual(after!.direction);
    const up = before!.tip.map((x, c) => x - after!.tip[c]!);
    const far = Math.hypot(...up);
    up.forEach((x, c) => expect(x / far).toBeCloseTo(after!.direction[c]!, 9));
    // 1 mm of clearance and at least .1 mm over both ends.
    expect(far).toBeGreaterThan(1.1 - 1e-9);
    expect(knots[0]![2]! - 4).toBeGreaterThan(1.1 - 1e-9);
  });

  it('the head comes no nearer than 1 mm to table and part on its way (points of its outline)', () => {
    // The table is a disc of 100 mm, 6 mm thick; the box 10 x 10 x 4 mm. The outline by points of its steps.
    const stack = machine.stack;
    let least = Infinity;
    let before: Float64Array = Float64Array.of(-35, 0, 4, 0, 0);
    way.knots.forEach((knot, i) => {
      // Over the region it comes from the tip is nearer than that, by what it lies over.
      for (let k = i === 0 ? 50 : 0; k <= 50; k++) {
        const q = before.map((x, j) => x + (k / 50) * (knot[j]! - x));
        for (const p of outline(stack, q)) least = Math.min(least, gapOf(p));
      }
      before = knot;
    });
    expect(least).toBeGreaterThan(1 - 1e-6);
  });
});

/** Points of the outline of the head, part frame: the head stands along Z, the table is turned by A about X. */
function outline(stack: Machine['stack'], q: Float64Array): Vec3[] {
  const [x, y, z, a] = q as unknown as [number, number, number, number];
  return stack.flatMap(({ above, radius }) =>
    Array.from({ length: 48 }, (_, i): Vec3 => {
      const t = (i / 48) * 2 * Math.PI;
      const [u, v, w] = [x + radius * Math.cos(t), y + radius * Math.sin(t), z + above];
      // Back by A: a table joint with a rising value carries the part by +A.
      return [u, v * Math.cos(a) + w * Math.sin(a), -v * Math.sin(a) + w * Math.cos(a)];
    }),
  );
}

/** Distance from the table's disc or the printed box, whichever is nearer; part frame. */
function gapOf([x, y, z]: Vec3): number {
  const toBox = (lo: Vec3, hi: Vec3): number =>
    Math.hypot(...[x, y, z].map((v, c) => Math.max(lo[c]! - v, 0, v - hi[c]!)));
  const aside = Math.max(0, Math.hypot(x, y) - 100);
  const table = Math.hypot(aside, Math.max(0, z, -6 - z));
  // The beads of the box end 1 mm inside of it, and are .45 mm wide.
  return Math.min(table, toBox([-39.225, -4.225, 0], [-30.775, 4.225, 4]));
}

describe('where nothing is free', () => {
  const limited = (travel: [number, number]): Machine => {
    const json = acJson();
    const joints = json.head.joints.map((j) => (j.letter === 'Z' ? { ...j, travel } : j));
    return machineOf({ ...json, head: { ...json.head, joints } });
  };

  it('is said what the path over everything would need', () => {
    // 90 mm of wall: the tip at 91.1 mm.
    const wall = boxJob([-2, -10, 0], [2, 10, 90], UP);
    const way = go(printed(limited([-500, 5]), [low, wall]), [-35, 0, 4, 0, 0], [30, 0, 4, 0, 0]);
    expect(way.kept).toBe(0);
    expect(way.trouble!.kind).toBe('travel');
    expect(way.trouble!.words).toMatch(
      /^joint Z would have to stand at 91\.[1-3]\d* mm, its limit is 5 mm$/,
    );
    expect([...way.knots.at(-1)!]).toEqual([30, 0, 4, 0, 0]);
  });

  it('is said what is near, by the whole clearance', () => {
    // A roof of the frame 70 mm over the table: no head of 60 mm rises by more than 10 mm under it.
    const json: Json = {
      ...acJson(),
      obstacles: [
        {
          name: 'roof',
          carriedBy: 'frame',
          solid: { shape: 'box', from: [-300, -300, 64.5], to: [300, 300, 70] },
        },
      ],
    };
    const way = go(printed(machineOf(json), [low]), [-35, 0, 4, 0, 0], [30, 0, 4, 0, 0]);
    expect(way).toMatchObject({
      kept: 0,
      trouble: { kind: 'near', words: 'the head comes within 1 mm of "roof"' },
    });
  });
});

it('keeps a half or a quarter of the clearance where it begins too near for all of it', () => {
  // The nozzle widens by .45 mm for each mm of height from .4 mm. Beside it ends a bead of another region, round at
  // its edge (radius .1 mm), with its middle 1.4 mm over the tip: so far from the cone, square to it.
  const kept = (gap: number): number => {
    const middle = 0.4 + 0.45 * 1.4 + (gap + 0.1) * Math.hypot(1, 0.45);
    // Beads end 1 mm inside of their box, and half of .45 mm farther out.
    const side = -20 - (middle - 0.1) + 0.775;
    const near = boxJob([side - 10, -5, 0], [side, 5, 5.5], UP, [], 0.2);
    const own = boxJob([-20, -5, 0], [-10, 5, 4], UP);
    return go(printed(machine, [own, near]), [-20, 0, 4, 0, 0], [30, 0, 4, 0, 0]).kept;
  };
  expect(kept(1.15)).toBe(1);
  expect(kept(0.85)).toBe(0.5);
  expect(kept(0.6)).toBe(0.5);
  expect(kept(0.4)).toBe(0.25);
  expect(kept(0.15)).toBe(0);
});

describe('the retreat', () => {
  const wall = boxJob([-2, -10, 0], [2, 10, 90], UP);
  const { scene, bulk } = printed(machine, [low, wall]);

  it.each([0, 0.4, -0.7])('leaves along the head until all is 1.1 mm behind it, A at %d', (a) => {
    const start = Float64Array.of(-35, 0, a ? 45 : 4, a, 0);
    const { knots, trouble, kept } = planRetreat(scene, bulk, start, 0);
    expect({ trouble, kept, count: knots.length }).toEqual({
      trouble: undefined,
      kept: 1,
      count: 1,
    });
    const [from, to] = [forward(machine, start), forward(machine, knots[0]!)];
    const d = from.direction;
    d.forEach((x, c) => expect(to.direction[c]).toBeCloseTo(x, 12));
    const dot = (p: Vec3): number => p[0] * d[0] + p[1] * d[1] + p[2] * d[2];
    // Rim of the disc and corners of the wall.
    const reach = Math.max(
      100 * Math.hypot(d[0], d[1]),
      ...[-2, 2].flatMap((x) => [-10, 10].map((y) => dot([x, y, 90]))),
    );
    expect(dot(to.tip)).toBeCloseTo(reach + 1.1, 6);
    // Straight along the head.
    const aside = to.tip.map((x, c) => x - from.tip[c]! - (dot(to.tip) - dot(from.tip)) * d[c]!);
    expect(Math.hypot(...aside)).toBeLessThan(1e-9);
  });

  it('stays where it is if all is behind it already', () => {
    const start = Float64Array.of(-35, 0, 95, 0, 0);
    expect([...planRetreat(scene, bulk, start, 0).knots[0]!]).toEqual([...start]);
  });

  it('says what is in the way', () => {
    const json = acJson();
    const joints = json.head.joints.map((j) =>
      j.letter === 'Z' ? { ...j, travel: [-500, 50] as [number, number] } : j,
    );
    const m = machineOf({ ...json, head: { ...json.head, joints } });
    const there = printed(m, [low, wall]);
    const way = planRetreat(there.scene, there.bulk, Float64Array.of(-35, 0, 4, 0, 0), 0);
    expect(way.kept).toBe(0);
    expect(way.trouble).toEqual({
      kind: 'travel',
      words: 'joint Z would have to stand at 91.1 mm, its limit is 50 mm',
    });
  });
});
