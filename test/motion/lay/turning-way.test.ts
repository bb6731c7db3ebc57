/**
 * Where bodies come nearest while the rotary joints turn, against dense samples: at each sample the distance of two
 * convex bodies that stand still. Over the table the closed form of a tilted circle: a circle of radius r at height s
 * over the tip comes down to z + s cos t - r sin t.
 */
import { describe, expect, test } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import { DEG } from '../../../lib/base/vector.js';
import { beadsOf } from '../../../lib/clearance/bead-shapes.js';
import {
  type ClearancePair,
  gapAt,
} from '../../../lib/clearance/convex/conservative-advancement.js';
import { lastCarrier } from '../../../lib/clearance/machine-bodies.js';
import { settingOf } from '../../../lib/clearance/scene.js';
import { inverse } from '../../../lib/machine/inverse.js';
import { faceFrame } from '../../../lib/machine/joint-chain.js';
import type { Machine } from '../../../lib/machine/machine.js';
import type { JointPolyline } from '../../../lib/motion/lay/blocks.js';
import { between } from '../../../lib/motion/lay/follow-direction.js';
import { mostIn, shiftIn, travelOf } from '../../../lib/motion/lay/travel.js';
import { TurningWay } from '../../../lib/motion/lay/turning-way.js';
import { WayFrames } from '../../../lib/motion/lay/way-frames.js';
import type { Paths } from '../../../lib/paths/paths.js';
import { sampleMachine } from '../../support/jobs.js';

/** Distances are found to within this, and given as the least that they can be, mm. */
const FOUND_TO = 0.02;
const SAMPLES = 40;

function wayOf(poses: readonly Float64Array[]): JointPolyline {
  const [from, ...rest] = poses as [Float64Array, ...Float64Array[]];
  const joints = new Float64Array(from.length * rest.length);
  rest.forEach((pose, i) => joints.set(pose, i * from.length));
  return { jointCount: from.length, from, joints };
}

/** A tip that wanders over the part while the direction turns, tilted by 50 deg at most. */
function wandering(machine: Machine, seed: number, blocks: number): Float64Array[] {
  const random = seeded(seed);
  const near = machine.ready;
  let [tilt, spin] = [0, 0];
  const tip: [number, number, number] = [0, 0, 25];
  return Array.from({ length: blocks + 1 }, () => {
    for (let c = 0; c < 3; c++) tip[c]! += 2 * (random() - 0.5);
    tilt = Math.min(50 * DEG, Math.max(-50 * DEG, tilt + 4 * DEG * (random() - 0.5)));
    spin += 6 * DEG * (random() - 0.5);
    const d = [
      Math.sin(tilt) * Math.cos(spin),
      Math.sin(tilt) * Math.sin(spin),
      Math.cos(tilt),
    ] as const;
    const [found] = inverse(machine, tip, d, near);
    near.set(found!.joints);
    return found!.joints.slice();
  });
}

/** The least distance at samples of every block. */
function sampled(machine: Machine, pair: ClearancePair, poses: readonly Float64Array[]): number {
  const { search, still } = settingOf(machine);
  let least = Infinity;
  for (let i = 1; i < poses.length; i++) {
    for (let k = 0; k <= SAMPLES; k++) {
      const joints = between(poses[i - 1]!, poses[i]!, k / SAMPLES);
      const near = gapAt(machine, search, pair, joints, still, 1000, 0);
      least = Math.min(least, near!.gap);
    }
  }
  return least;
}

/** Beads across the part at z, one path each. */
function beads(machine: Machine, z: number, count: number): ClearancePair['things'] {
  const ends = Array.from({ length: count }, (_, i) => [-15, 3 * i - 15, z, 15, 3 * i - 15, z]);
  const paths = {
    points: Float64Array.from(ends.flat()),
    width: new Float64Array(2 * count).fill(0.4),
    height: new Float64Array(2 * count).fill(0.2),
    start: Uint32Array.from({ length: count + 1 }, (_, i) => 2 * i),
  } as unknown as Paths;
  return {
    name: 'region 1',
    things: beadsOf(paths),
    carrier: lastCarrier(machine, true),
    fixed: faceFrame(machine),
  };
}

describe.each(['table-table-ac', 'table-table-bc', 'head-table'])('%s', (name) => {
  test.each([11, 12, 13])(
    'seed %i: as near as samples show, to within 0.02 mm and their spacing',
    (seed) => {
      const machine = sampleMachine(name);
      const { bodies } = settingOf(machine);
      const poses = wandering(machine, seed, 24);
      const way = new TurningWay(settingOf(machine), wayOf(poses), 0, poses.length - 1);
      for (const things of [
        bodies.table,
        beads(machine, 20, 10),
        ...bodies.obstacles.slice(0, 2),
      ]) {
        const pair = { body: bodies.head, things, need: 1 };
        const least = sampled(machine, pair, poses);
        const found = way.nearest(pair, 1000);
        expect(found!.gap).toBeLessThanOrEqual(least + 1e-6);
        // Between samples of a block of at most 5 mm the bodies come no nearer than by a fraction of their spacing.
        expect(found!.gap).toBeGreaterThan(least - 2 * FOUND_TO - 0.05);
        expect(way.nearest(pair, least - 2 * FOUND_TO - 0.05)).toBeUndefined();
        // The search that expects more of them to come finds the same among those that are all there.
        const count = things.things.tree.count;
        const grown = way.nearestGrowing(pair, least + 1, () => count)!;
        expect(Math.abs(grown.gap - found!.gap)).toBeLessThan(2 * FOUND_TO);
        const none = way.nearestGrowing(pair, least - 2 * FOUND_TO - 0.05, () => count);
        expect(none).toBeUndefined();
      }
    },
  );
});

test('over the table: the foot of the head comes down to z + s cos t - r sin t', () => {
  const machine = sampleMachine('table-table-ac');
  const setting = settingOf(machine);
  const z = 30;
  const tilts = Array.from({ length: 41 }, (_, i) => i * DEG);
  const poses = tilts.map((t) => {
    const [found] = inverse(machine, [0, 0, z], [0, -Math.sin(t), Math.cos(t)], machine.ready);
    return found!.joints;
  });
  const pair = { body: setting.bodies.head, things: setting.bodies.table, need: 1 };
  const found = new TurningWay(setting, wayOf(poses), 0, tilts.length - 1).nearest(pair, 1000)!;
  // Corners of the outline over the lowest clearance, whose foot is as wide as anything below.
  const corners = machine.stack.filter((p) => p.above >= machine.clearance);
  const foot = Math.max(
    ...machine.stack.filter((p) => p.above <= machine.clearance).map((p) => p.radius),
  );
  const lowest = (t: number): number =>
    Math.min(
      z + machine.clearance * Math.cos(t) - foot * Math.sin(t),
      ...corners.map(({ above, radius }) => z + above * Math.cos(t) - radius * Math.sin(t)),
    );
  const least = Math.min(...tilts.map(lowest));
  expect(found.gap).toBeLessThanOrEqual(least + 1e-6);
  expect(found.gap).toBeGreaterThan(least - 2 * FOUND_TO - 0.02);
});

test('things count from the block on at which they are there', () => {
  const machine = sampleMachine('table-table-ac');
  const setting = settingOf(machine);
  const things = beads(machine, 20, 10);
  const count = things.things.tree.count;
  // Down to 12 mm among beads at 20 mm, and up again: blocks 2 and 3 meet there.
  const poses = [40, 30, 24, 12, 24, 40].map((z, i) => {
    const d = [0, -Math.sin(i * DEG), Math.cos(i * DEG)] as const;
    return inverse(machine, [0, 0, z], d, machine.ready)[0]!.joints;
  });
  const way = new TurningWay(setting, wayOf(poses), 0, poses.length - 1);
  const pair = { body: setting.bodies.head, things, need: 1 };
  const nearest = (from: number): number | undefined =>
    way.nearestGrowing(pair, 1, (block) => (block >= from ? count : 0))?.block;
  expect([2, 3]).toContain(nearest(0));
  expect(nearest(3)).toBe(3);
  expect(nearest(4)).toBeUndefined();
});

/*
 * However far two bodies are said to move against each other on a stretch, at most, their distance changes by no more:
 * distances of bodies that stand still, at every pose and in the middle of every block. Short stretches are asked pose by
 * pose, long ones in strides.
 */
test.each([
  ['table-table-ac', 24],
  ['table-table-ac', 200],
  ['head-table', 24],
  ['head-table', 200],
] as const)('%s: %i blocks bring nothing nearer than their bound, seed 17', (name, blocks) => {
  const machine = sampleMachine(name);
  const setting = settingOf(machine);
  const { bodies, search, still } = setting;
  const poses = wandering(machine, 17, blocks);
  const farthest = poses[0]!.map((_, j) => Math.max(...poses.map((pose) => Math.abs(pose[j]!))));
  const frames = new WayFrames(machine, poses);
  const middle = blocks / 2;
  for (const things of [bodies.table, beads(machine, 20, 10)]) {
    const pair = { body: bodies.head, things, need: 1 };
    const moves = frames.moves(pair.body.carrier, things.carrier);
    const bound = mostIn(
      travelOf({ machine, poses, farthest }, pair, moves, shiftIn),
      ...([0, middle, blocks] as const),
    );
    const gap = (t: number): number => {
      const k = Math.min(blocks - 1, Math.floor(t));
      const joints = between(poses[k]!, poses[k + 1]!, t - k);
      return gapAt(machine, search, pair, joints, still, 1000, 0)!.gap;
    };
    const there = gap(middle);
    for (let t = 0; t <= blocks; t += 0.5) {
      expect(Math.abs(gap(t) - there)).toBeLessThan(bound + 1e-6);
    }
  }
});
