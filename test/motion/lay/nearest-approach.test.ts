/**
 * Where bodies come nearest while a run is laid, against distances in closed form: a head whose rim passes over a
 * printed box, beside a post of the frame, over the table, and turns.
 */
import { describe, expect, it } from 'vitest';
import { pairsOf } from '../../../lib/clearance/scene.js';
import type { Vec3 } from '../../../lib/base/vector.js';
import type { Machine } from '../../../lib/machine/machine.js';
import { type Near, nearestOf } from '../../../lib/motion/lay/nearest-approach.js';
import { type Json, acJson, machineOf } from '../../machine/machines.js';
import { boxJob } from '../jobs.js';
import { printed } from '../transfer/scenes.js';

const UP: Vec3 = [0, 0, 1];
/** Beads end 1 mm inside of it, and are .45 mm wide: to 11.225 and 4.225 mm from its middle. */
const WIDE: Vec3 = [-12, -5, 0];

type Places = readonly (readonly [x: number, y: number, z: number, a?: number])[];

interface Asked {
  readonly height?: number;
  readonly known?: number;
  readonly change?: Partial<Json>;
  readonly from?: number;
  readonly to?: number;
  /** The head turns, and nothing of its own region is there yet. */
  readonly turns?: boolean;
}

/** What is found for each pair, by the name of its things, while the tip goes from place to place beside the box. */
function found(places: Places, { height = 8, known = 3, change, turns, ...span }: Asked = {}) {
  const machine: Machine = machineOf({ ...acJson(), ...change });
  const tall = boxJob(WIDE, [12, 5, height], UP);
  const next = boxJob([30, -5, 0], [40, 5, 4], UP);
  const { scene } = printed(machine, [tall, next], 0, 1);
  const [start, ...rest] = places.map(([x, y, z, a = 0]) => [x, y, z, a, 0]);
  const nears = nearestOf({
    machine,
    way: { jointCount: 5, from: Float64Array.from(start!), joints: Float64Array.from(rest.flat()) },
    from: span.from ?? 0,
    to: span.to ?? rest.length,
    region: 1,
    printed: scene.printed.map((p) => ({ region: p.region, laid: p.laid, ...p.parted(1) })),
    known,
    ...(turns && { grown: new Uint32Array(rest.length) }),
  });
  const pairs = pairsOf(scene, 1, false);
  expect(nears).toHaveLength(pairs.length);
  const named = new Map<string, Near | undefined>();
  // A part of the head for itself over the base comes after the whole one.
  pairs.forEach((p, i) => {
    const name = `${p.body.name} - ${p.things.name}`;
    if (!named.has(name) || nears[i]) named.set(name, nears[i]);
  });
  return (things: string, body = 'the head'): Near | undefined => named.get(`${body} - ${things}`);
}

/** Path and beads are taken to .02 mm each at first, and a gap so found is told as the least that it can be, mm. */
const SLACK = 0.09;

describe('over the top of what is printed', () => {
  // The rim of 4 to 9 mm lies 8 mm over the tip: z + 8 less the height of the box.
  it.each([
    [1.5, 1.5],
    [2.4, 2.4],
    [1, 1],
    [0.3, 0.3],
    [-0.05, -0.05],
  ])('the tip at %d mm leaves %d mm', (z, gap) => {
    // From 25 mm beside its end past it, 7 mm away, and on.
    const near = found([
      [60, 11, z],
      [0, 11, z],
      [-60, 11, z],
    ])('region 1')!;
    expect(near.gap).toBeLessThan(gap + 1e-6);
    expect(near.gap).toBeGreaterThan(gap - SLACK);
    // It is over the box, at its top.
    expect(Math.abs(near.at[0])).toBeLessThan(11.23);
    expect(near.at[2]).toBeGreaterThan(7.5);
  });

  it('near the clearance and near a touch it is exact', () => {
    for (const gap of [0.99, 1.01, 0.02, -0.02]) {
      const near = found([
        [60, 11, gap],
        [-60, 11, gap],
      ])('region 1')!;
      expect(near.gap).toBeCloseTo(gap, 5);
    }
  });

  it('begins to count from inside too: the rim in the box from the first place on', () => {
    const near = found([
      [0, 11, -2],
      [0, 30, -2],
    ])('region 1')!;
    // How deep is not asked: each bead is a body of its own.
    expect(near.gap).toBeLessThan(1e-9);
    expect(near.block).toBe(0);
  });

  it('is found in the block that comes nearest, wherever the blocks asked about begin', () => {
    const places: Places = [
      [60, 11, 3],
      [40, 11, 3],
      [0, 11, 2],
      [0, 11, 1.5],
      [0, 11, 2.5],
      [60, 11, 2.5],
    ];
    const all = found(places)('region 1')!;
    expect([2, 3]).toContain(all.block);
    // Without the block that comes down.
    const later = found(places, { from: 3, to: 5 })('region 1')!;
    expect(later.block).toBe(3);
    const early = found(places, { from: 0, to: 2 })('region 1')!;
    expect(early.block).toBe(1);
    expect(early.gap).toBeGreaterThan(2 - SLACK);
  });

  it('is nothing beyond what is asked for', () => {
    const places: Places = [
      [60, 11, 2],
      [-60, 11, 2],
    ];
    expect(found(places, { known: 1.5 })('region 1')).toBeUndefined();
    expect(found(places, { known: 2.5 })('region 1')).toBeDefined();
    // What is nearer than the clearance is told, however near something else is.
    const low: Places = [
      [60, 11, 0.8],
      [-60, 11, 0.8],
    ];
    expect(found(low, { known: 0.1 })('region 1')!.gap).toBeGreaterThan(0.8 - SLACK);
  });
});

describe('the table', () => {
  it('is as far as the foot of the head: 1 mm over the tip, which does not count', () => {
    const near = found([
      [60, 40, 1.7],
      [60, 50, 0.2],
      [60, 60, 0.9],
    ])('the table')!;
    expect(near.gap).toBeCloseTo(1.2, 5);
    expect([1, 0]).toContain(near.block);
  });
});

describe('a post of the frame', () => {
  const post: Partial<Json> = {
    obstacles: [
      {
        name: 'post',
        carriedBy: 'frame',
        solid: { shape: 'box', from: [130, -5, 20], to: [140, 5, 200] },
      },
    ],
  };
  it('beside the top of the head: 22 mm', () => {
    // At y = 0 the head is 22 mm wide in X; there and back.
    const near = found(
      [
        [90, 0, 40],
        [106.5, 0, 40],
        [90, 0, 40],
      ],
      { change: post },
    )('"post"')!;
    expect(near.gap).toBeCloseTo(130 - 106.5 - 22, 5);
    expect([0, 1]).toContain(near.block);
    expect(near.at[0]).toBeCloseTo(130, 5);
  });

  it('beside a table that turns about X: its rim comes up to it', () => {
    // The post stands over the rim: the disc of 100 mm at y = 0 does not rise, so one at y = 90 is taken.
    const over: Partial<Json> = {
      obstacles: [
        {
          name: 'post',
          carriedBy: 'frame',
          solid: { shape: 'box', from: [-5, 85, 30], to: [5, 95, 60] },
        },
      ],
    };
    // By A the face rises to y tan A: the lower edge of the post nearest to the face is the outer one.
    const a = 16 * (Math.PI / 180);
    const places: Places = [
      [0, -60, 120, 0],
      [0, -60, 120, a],
      [0, -60, 121, a],
    ];
    const near = found(places, { change: over, known: 4, turns: true })('"post"', 'the table')!;
    const gap = 30 * Math.cos(a) - 95 * Math.sin(a);
    // Turns are proved in stretches, and what is told is the least that it can be.
    expect(near.gap).toBeLessThan(gap + 1e-6);
    expect(near.gap).toBeGreaterThan(gap - 0.05);
    // At the end of the turn, which is where the lift begins.
    expect([0, 1]).toContain(near.block);
  });
});
