/**
 * Moves without turning: displacements against the frames of the kinematics at every set of joint values,
 * and boxes that are never said to be apart where two bodies come near.
 */
import { describe, expect, it } from 'vitest';
import { applyPoint, compose, inverse } from '../../../lib/base/frame.js';
import { seeded } from '../../../lib/base/random.js';
import type { Vec3 } from '../../../lib/base/vector.js';
import { bodiesOf, machineFrom } from '../../../lib/clearance/machine-bodies.js';
import { DistanceSearch } from '../../../lib/clearance/nearest-on-path.js';
import { straight } from '../../../lib/motion/transfer/translation.js';
import { type Json, acJson, headTableJson, machineOf } from '../../machine/machines.js';

const post = (json: Json): Json => ({
  ...json,
  obstacles: [
    {
      name: 'post',
      carriedBy: 'frame',
      solid: { shape: 'box', from: [60, -5, 0], to: [70, 5, 30] },
    },
  ],
});

describe.each<[string, Json]>([
  ['a table that turns', post(acJson())],
  ['a table that runs along Y under a head that tilts', post(headTableJson())],
])('%s', (_, json) => {
  const machine = machineOf(json);
  const n = machine.joints.length;
  const { head, table, obstacles } = bodiesOf(machine);
  const random = seeded(7);
  /** Sets of joint values with the rotary ones alike. */
  const sets = (count: number): Float64Array => {
    const rotary = machine.joints.map(() => random() - 0.5);
    return Float64Array.from({ length: count * n }, (__, i) =>
      machine.joints[i % n]!.kind === 'rotary' ? rotary[i % n]! : 200 * (random() - 0.5),
    );
  };

  it.each([
    ['the head over the table', head, table],
    ['the head beside the post', head, obstacles[0]!],
    ['the table beside the post', table, obstacles[0]!],
  ])('%s goes where the joints take it', (__, body, things) => {
    const joints = sets(6);
    const way = straight(machine, body, things, joints, n);
    const { points } = way.path();
    const p: Vec3 = [3, -7, 11];
    const at = (i: number): Vec3 => {
      const q = joints.slice(i * n, i * n + n);
      const frame = compose(
        inverse(machineFrom(machine, body, q)),
        machineFrom(machine, things, q),
      );
      return applyPoint(frame, p);
    };
    const first = applyPoint(way.frame, p);
    at(0).forEach((v, c) => expect(first[c]).toBeCloseTo(v, 9));
    for (let i = 0; i < 6; i++) {
      // The body is displaced against things that stand: they come nearer by what it goes.
      const now = at(i);
      const by = points.subarray(3 * i, 3 * i + 3);
      if (points.length < 18) now.forEach((v, c) => expect(v).toBeCloseTo(first[c]!, 9));
      else now.forEach((v, c) => expect(first[c]! - by[c]!).toBeCloseTo(v, 9));
    }
  });

  it('boxes are apart only where the bodies are', () => {
    const search = new DistanceSearch();
    let [near, apart] = [0, 0];
    for (let k = 0; k < 80; k++) {
      const joints = sets(2);
      const way = straight(machine, head, obstacles[0]!, joints, n);
      const within = 30 * random();
      const comes = way.comesWithin(head.things, obstacles[0]!.things, within);
      const found = search.least({
        body: head.things,
        path: way.path(),
        things: obstacles[0]!.things,
        frame: way.frame,
        within,
        accuracy: 0,
      });
      if (found) {
        near++;
        expect(comes).toBe(true);
      }
      if (!comes) apart++;
    }
    expect(near).toBeGreaterThan(3);
    expect(apart).toBeGreaterThan(3);
  });
});
