/**
 * Play of the linear joints, made up for in the values that are told. What comes of them is found by
 * the play operator of the textbooks (Krasnoselskii and Pokrovskii 1989, from memory): the driven side
 * stays while the drive is inside its play, and is taken along at either end of it.
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import type { Machine } from '../../../lib/machine/machine.js';
import { BlockList, type MotionBlocks } from '../../../lib/motion/lay/blocks.js';
import {
  compensateBacklash,
  compensatesBacklash,
  withRoom,
} from '../../../lib/motion/lay/compensate-backlash.js';
import { MoveKind } from '../../../lib/motion/motion.js';
import { acJson, machineOf } from '../../machine/machines.js';

const PLAY = 0.1;

type Who = NonNullable<Machine['dialect']['play']>;

const withPlay = (drawn: Machine, play: Who, b = PLAY): Machine => ({
  ...drawn,
  joints: drawn.joints.map((j) => ({ ...j, backlash: j.kind === 'linear' ? b : 0 })),
  dialect: { ...drawn.dialect, play },
});

const machine = withPlay(machineOf(acJson()), 'program');
const n = machine.joints.length;
const [X, Y] = ['X', 'Y'].map((l) => machine.joints.findIndex((j) => j.letter === l)) as [
  number,
  number,
];

/** Blocks from place to place in the plane; every one lays material, or those that are named. */
function drawn(
  places: readonly [number, number][],
  lays = (_: number): boolean => true,
): MotionBlocks {
  const list = new BlockList(new Float64Array(n));
  places.forEach(([x, y], i) => {
    const joints = new Float64Array(n);
    joints[X] = x;
    joints[Y] = y;
    const kind = lays(i) ? MoveKind.deposit : MoveKind.link;
    list.push(joints, 1, 0.1, 0.01, { kind, region: 0, layer: 0, pathKind: 0, speed: 50 });
  });
  return list.take();
}

/** Where the tip is at the end of each block, play PLAY in X and Y; the drive may begin anywhere in it. */
function driven({ joints, kind }: MotionBlocks, begin: number): [number, number][] {
  const at = [begin, begin];
  return Array.from(kind, (_, b) => {
    [X, Y].forEach((j, c) => {
      const told = joints[b * n + j]!;
      at[c] = Math.min(Math.max(at[c]!, told), told + PLAY);
    });
    return [at[0]!, at[1]!];
  });
}

describe('a square of 20 mm drawn twice over, play 0.1 mm', () => {
  const round: [number, number][] = [
    [20, 0],
    [20, 20],
    [0, 20],
    [0, 0],
  ];
  const places: [number, number][] = [...round, ...round];

  it('told as it is, it comes out smaller by the play: 19.9 mm (closed form)', () => {
    const second = driven(drawn(places), 0).slice(4);
    const [xs, ys] = [second.map((p) => p[0]), second.map((p) => p[1])];
    expect(Math.max(...xs) - Math.min(...xs)).toBeCloseTo(20 - PLAY, 12);
    expect(Math.max(...ys) - Math.min(...ys)).toBeCloseTo(20 - PLAY, 12);
  });

  it.each([0, 0.05, 0.1])(
    'made up for, every corner is where it is to be, from %s mm on',
    (begin) => {
      const { blocks, at } = compensateBacklash(machine, drawn(places), 0.01, 120);
      const tips = driven(blocks, begin);
      // Where in its play the drive begins is unknown until each joint has gone 0.1 mm.
      places.slice(2).forEach(([x, y], i) => {
        expect(tips[at[i + 2]!]![0]).toBeCloseTo(x, 12);
        expect(tips[at[i + 2]!]![1]).toBeCloseTo(y, 12);
      });
      // X turns round on sides 3, 5, 7 and Y on 4, 6, 8: a block each, without filament, tip standing.
      const passes = [...blocks.kind.keys()].filter((b) => blocks.kind[b] === MoveKind.link);
      expect(passes).toHaveLength(6);
      for (const b of passes) {
        expect(blocks.filament[b]).toBe(0);
        expect(tips[b]![0]).toBeCloseTo(tips[b - 1]![0], 12);
        expect(tips[b]![1]).toBeCloseTo(tips[b - 1]![1], 12);
      }
    },
  );

  it('a link takes the turn along: no block more', () => {
    const links = drawn(places, (i) => i % 2 === 1);
    const { blocks, at } = compensateBacklash(machine, links, 0.01, 120);
    const tips = driven(blocks, 0);
    places.slice(2).forEach(([x, y], i) => {
      expect(tips[at[i + 2]!]![0]).toBeCloseTo(x, 12);
      expect(tips[at[i + 2]!]![1]).toBeCloseTo(y, 12);
    });
    // Only the sides along X are laid: two of them turn X round.
    expect(blocks.kind.length - links.kind.length).toBe(3);
  });
});

it('a circle of 10 mm in 2 deg steps: off by up to the play as it is, by nothing made up for', () => {
  const places = Array.from({ length: 360 }, (_, i): [number, number] => {
    const a = ((i + 1) * Math.PI) / 90;
    return [10 * Math.cos(a), 10 * Math.sin(a)];
  });
  const off = (blocks: MotionBlocks, at: ArrayLike<number>): number =>
    Math.max(
      ...driven(blocks, 0)
        .filter((_, b) => Array.prototype.includes.call(at, b))
        .slice(180)
        .map(([x, y]) => Math.abs(Math.hypot(x, y) - 10)),
    );
  const asIs = drawn(places);
  // Where X stands at -10 of its lower flank the tip is 0.1 mm in: told values reach from above.
  expect(
    off(
      asIs,
      asIs.kind.map((_, i) => i),
    ),
  ).toBeGreaterThan(0.09);
  const { blocks, at } = compensateBacklash(machine, asIs, 0, 120);
  expect(off(blocks, at)).toBeLessThan(1e-12);
});

it('ways drawn at random, seeds 1 to 50: never off by more than the tolerance, no filament lost', () => {
  for (let seed = 1; seed <= 50; seed++) {
    const random = seeded(seed);
    let [x, y] = [0, 0];
    const places = Array.from({ length: 200 }, (_, i): [number, number] => {
      // First farther than the play, so that both flanks are known.
      const size = i === 0 ? 5 : 10 ** (3 * random() - 2);
      x += i === 0 ? size : size * (2 * random() - 1);
      y += i === 0 ? size : size * (2 * random() - 1);
      return [x, y];
    });
    const lays = places.map(() => random() < 0.7);
    const tolerance = 0.01;
    const { blocks, at } = compensateBacklash(
      machine,
      drawn(places, (i) => lays[i]!),
      tolerance,
      120,
    );
    const tips = driven(blocks, PLAY * random());
    places.forEach(([px, py], i) => {
      const [tx, ty] = tips[at[i]!]!;
      expect(Math.abs(tx - px), `seed ${seed}`).toBeLessThan(tolerance + 1e-9);
      expect(Math.abs(ty - py), `seed ${seed}`).toBeLessThan(tolerance + 1e-9);
    });
    expect(blocks.filament.reduce((a, b) => a + b, 0)).toBeCloseTo(200 * 0.01, 9);
  }
});

it('the least travel is kept: a value from above is told less by the play', () => {
  const drawnTo = withPlay(machine, 'program', 0.4);
  const z = drawnTo.joints.findIndex((j) => j.letter === 'Z');
  expect(withRoom(drawnTo).joints[z]!.least).toBeCloseTo(drawnTo.joints[z]!.least + 0.4, 12);
  expect(withRoom(drawnTo).joints[z]!.most).toBe(drawnTo.joints[z]!.most);
});

it('is a matter of the program where that is to make up for the play of some linear joint', () => {
  const base = machineOf(acJson());
  expect(compensatesBacklash(withPlay(base, 'program'))).toBe(true);
  expect(compensatesBacklash(withPlay(base, 'controller'))).toBe(false);
  expect(compensatesBacklash(withPlay(base, 'nobody'))).toBe(false);
  expect(compensatesBacklash(withPlay(base, 'program', 0))).toBe(false);
  // Rotary joints take their play up in the transfers.
  const turning = withPlay(base, 'program', 0);
  const joints = turning.joints.map((j) => (j.kind === 'rotary' ? { ...j, backlash: 0.01 } : j));
  expect(compensatesBacklash({ ...turning, joints })).toBe(false);
  expect(withRoom({ ...turning, joints }).joints[3]!.least).toBe(joints[3]!.least);
});

it('what is pushed between is a link of as much as the joints turn round, and all else is kept', () => {
  // Out by 5 mm in X and Y, back by 3 and 1: both turn round before the second block.
  const list = new BlockList(new Float64Array(n));
  const tag = { kind: MoveKind.deposit, region: 4, layer: 5, pathKind: 2, speed: 50 };
  list.push([5, 5, 0, 0, 0], 7, 0.1, 0.3, tag);
  list.push([2, 4, 0, 0, 0], 3, 0.2, 0.4, { ...tag, region: 6, layer: 7, speed: 40 });
  const { blocks, at } = compensateBacklash(machine, list.take(), 0.01, 120);
  expect([...at]).toEqual([0, 2]);
  expect([...blocks.kind]).toEqual([MoveKind.deposit, MoveKind.link, MoveKind.deposit]);
  const near = (x: number): unknown => expect.closeTo(x, 12);
  expect([...blocks.joints]).toEqual(
    [
      [5, 5, 0, 0, 0],
      [4.9, 4.9, 0, 0, 0],
      [1.9, 3.9, 0, 0, 0],
    ]
      .flat()
      .map(near),
  );
  expect([...blocks.length]).toEqual([7, near(2 * PLAY), 3]);
  expect([...blocks.section]).toEqual([0.1, 0, 0.2]);
  expect([...blocks.filament]).toEqual([0.3, 0, 0.4]);
  expect([...blocks.speed]).toEqual([50, 120, 40]);
  expect([...blocks.region]).toEqual([4, 6, 6]);
  expect([...blocks.layer]).toEqual([5, 7, 7]);
  expect([...blocks.pathKind]).toEqual([2, 255, 2]);
});

it.each([
  ['back by no more than the tolerance', 0.01, [5, 4.99], 0],
  ['back by more', 0.01, [5, 4.98], -PLAY],
  ['back by little, twice', 0.01, [5, 4.993, 4.986], -PLAY],
  ['a tolerance beyond the play counts as the play', 1, [5, 4.8], -PLAY],
  ['on after coming back a little', 0.01, [5, 4.995, 6], 0],
  ['there, back and on again', 0.01, [5, 4, 6], 0],
])('%s', (_, tolerance, xs, shift) => {
  const { blocks, at } = compensateBacklash(machine, drawn(xs.map((x) => [x, 0])), tolerance, 120);
  expect(blocks.joints[at.at(-1)! * n + X]).toBeCloseTo(xs.at(-1)! + shift, 12);
});
