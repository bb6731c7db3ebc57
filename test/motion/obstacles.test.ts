/**
 * Gaps that are remembered never promise more room than there is: against distances from points on
 * the obstacles, 1.5 mm apart, to head, table and part as drawn, at every tenth step of random walks.
 */
import { expect, it } from 'vitest';
import { applyPoint, compose, inverse } from '../../lib/base/frame.js';
import { seeded } from '../../lib/base/random.js';
import type { Vec3 } from '../../lib/base/vector.js';
import { carriedBy, machineFromHead, machineFromPart } from '../../lib/machine/chain.js';
import type { Machine, Solid } from '../../lib/machine/machine.js';
import { headDistance, solidDistance, surfacePoints } from '../../lib/machine/solids.js';
import { bodiesOf } from '../../lib/motion/bodies.js';
import { obstaclesOf, roomAt } from '../../lib/motion/obstacles.js';
import { boxesOf } from '../../lib/order/boxes.js';
import { type Json, acJson, headHeadJson, headTableJson, machineOf } from '../machine/machines.js';
import { post } from './jobs.js';

const solids = (onHead: string, onTable: string): Json['obstacles'] => [
  {
    name: 'post',
    carriedBy: 'frame',
    solid: { shape: 'cylinder', from: [95, 75, -50], to: [95, 75, 90], radius: 8 },
  },
  {
    name: 'beam',
    carriedBy: onHead,
    solid: { shape: 'box', from: [-60, 50, 30], to: [60, 70, 50] },
  },
  {
    name: 'arm',
    carriedBy: onTable,
    solid: { shape: 'box', from: [-130, -20, -40], to: [-110, 20, 30] },
  },
];

/** Table and post of the test job, part frame. */
const TABLE: Solid = { shape: 'cylinder', from: [0, 0, -6], to: [0, 0, 0], radius: 100 };
const PART: Solid = { shape: 'box', from: [-10, -10, 0], to: [10, 10, 40] };

/** Least distance of any pair that must keep clear, from points on the obstacles. */
function drawnGap(machine: Machine, clouds: Vec3[][], joints: Float64Array): number {
  const headFrom = inverse(machineFromHead(machine, joints));
  const partFrom = inverse(machineFromPart(machine, joints));
  let least = Infinity;
  machine.obstacles.forEach((o, i) => {
    const frame = carriedBy(machine, joints, o.carriedBy);
    const carrier = machine.joints[o.carriedBy];
    const toHead = compose(headFrom, frame);
    const toPart = compose(partFrom, frame);
    for (const p of clouds[i]!) {
      if (!carrier || carrier.carriesTable) {
        least = Math.min(least, headDistance(machine, applyPoint(toHead, p)));
      }
      if (!carrier?.carriesTable) {
        const q = applyPoint(toPart, p);
        least = Math.min(least, solidDistance(TABLE, q), solidDistance(PART, q));
      }
    }
  });
  return least;
}

it.each([
  ['table-table', acJson(), 'Z', 'A'],
  ['head-table', headTableJson(), 'Z', 'Y'],
  ['head-head', headHeadJson(), 'Z', 'frame'],
] as const)('%s, a walk of 1,500 small steps, seed 31', (_, json, onHead, onTable) => {
  const random = seeded(31);
  const machine = machineOf({ ...json, obstacles: solids(onHead, onTable) });
  const clouds = machine.obstacles.map((o) => surfacePoints(o.solid, 1.5));
  const bodies = bodiesOf(machine, [boxesOf(post().region.mesh)]);
  const remembered = obstaclesOf(machine);
  const joints = Float64Array.from(machine.joints, (j) =>
    j.kind === 'linear' ? 30 * random() : 0,
  );
  let tight = 0;
  for (let n = 0; n < 1500; n++) {
    machine.joints.forEach((j, i) => {
      joints[i]! += (random() - 0.5) * (j.kind === 'linear' ? 20 : 0.2);
      joints[i] = Math.min(Math.max(joints[i]!, Math.max(j.least, -110)), Math.min(j.most, 110));
    });
    const { room } = roomAt(remembered, bodies, joints);
    if (n % 10) continue;
    const drawn = drawnGap(machine, clouds, joints) - machine.clearance;
    expect(room).toBeLessThanOrEqual(drawn + 1e-9);
    if (room >= 0) continue;
    // Too little room is always measured, not feared: points and boxes forgive less than 5 mm.
    expect(drawn).toBeLessThan(5);
    tight++;
  }
  expect(tight).toBeGreaterThan(0);
});
