/**
 * The never-miss query against brute force: random straight joint moves past thin obstacles, the head
 * a body of revolution and a box. Brute force knows no hierarchy, no support and no advancement: it
 * steps through the move and takes exact distances from dense points of the thin obstacles to the
 * head as it is drawn (closed forms of lib/machine/solid-distance.ts, which the query does not use).
 */
import { expect, test } from 'vitest';
import { applyPoint, compose, inverse } from '../../../lib/base/frame.js';
import { seeded } from '../../../lib/base/random.js';
import type { Vec3 } from '../../../lib/base/vector.js';
import { firstClose } from '../../../lib/clearance/convex/conservative-advancement.js';
import { bodiesOf } from '../../../lib/clearance/machine-bodies.js';
import { DistanceSearch } from '../../../lib/clearance/nearest-on-path.js';
import { still } from '../../../lib/clearance/body-path.js';
import { carriedBy, machineFromHead } from '../../../lib/machine/joint-chain.js';
import type { Machine } from '../../../lib/machine/machine.js';
import { headDistance, surfacePoints } from '../../../lib/machine/solid-distance.js';
import {
  type Json,
  acJson,
  headHeadJson,
  headTableJson,
  machineOf,
} from '../../machine/machines.js';

/** A wire, a blade and a foil: thinner than any step of the brute force is long. */
const thin = (onTable: string): Json['obstacles'] => [
  {
    name: 'wire',
    carriedBy: onTable,
    solid: { shape: 'cylinder', from: [-30, 25, 20], to: [40, 30, 60], radius: 0.05 },
  },
  {
    name: 'blade',
    carriedBy: 'frame',
    solid: { shape: 'box', from: [20, -40, 10], to: [20.02, -10, 50] },
  },
  {
    name: 'foil',
    carriedBy: onTable,
    solid: { shape: 'box', from: [-60, -30, 30], to: [-30, 30, 30.02] },
  },
];

const boxes: Json['head']['boxes'] = [{ shape: 'box', from: [-6, 9, 20], to: [6, 24, 40] }];

function drawn(machine: Machine, cloud: readonly Vec3[], i: number, joints: Float64Array): number {
  const frame = compose(
    inverse(machineFromHead(machine, joints)),
    carriedBy(machine, joints, machine.obstacles[i]!.carriedBy),
  );
  let least = Infinity;
  for (const p of cloud) least = Math.min(least, headDistance(machine, applyPoint(frame, p)));
  return least;
}

test.each([
  ['table-table', acJson(), 'C'],
  ['head-table', headTableJson(), 'C'],
  ['head-head', headHeadJson(), 'frame'],
] as const)('%s: no miss in 340 random moves (of 1,020), seed 1971', (_, json, onTable) => {
  const random = seeded(1971);
  const machine = machineOf({
    ...json,
    // The query leaves the lowest clearance of the head to the bead: next to nothing here.
    clearance: 1e-9,
    unusual: ['clearance'],
    head: { ...json.head, boxes },
    obstacles: thin(onTable),
  });
  const { head, obstacles } = bodiesOf(machine);
  const clouds = machine.obstacles.map(({ solid }) =>
    solid.shape === 'mesh' ? [] : surfacePoints(solid, 1.5),
  );
  const search = new DistanceSearch();
  const rest = still();
  const pose = (): Float64Array =>
    Float64Array.from(machine.joints, (j) =>
      j.kind === 'linear' ? 80 * (random() - 0.5) : 2.4 * (random() - 0.5),
    );
  let hits = 0;
  let clear = 0;
  for (let n = 0; n < 340; n++) {
    const [a, b] = [pose(), pose()];
    const i = n % obstacles.length;
    const pair = { body: head, things: obstacles[i]!, need: 0.5 };
    const close = firstClose(machine, search, pair, a, b, rest);
    let least = Infinity;
    let first = 1;
    const steps = 100;
    for (let k = 0; k <= steps && least >= 0.5; k++) {
      const joints = a.map((x, j) => x + (k / steps) * (b[j]! - x));
      const d = drawn(machine, clouds[i]!, i, joints);
      if (d < least) [least, first] = [d, k / steps];
    }
    if (close) {
      hits++;
      // Never a false alarm: the points stand for the thin body to within 1.06 mm.
      expect(drawn(machine, clouds[i]!, i, close.joints)).toBeLessThan(0.5 + 1.07);
      if (least < 0.5) expect(close.t).toBeLessThanOrEqual(first + 1e-9);
    } else {
      clear++;
      expect(least).toBeGreaterThanOrEqual(0.5);
    }
  }
  expect(hits).toBeGreaterThan(60);
  expect(clear).toBeGreaterThan(60);
});
