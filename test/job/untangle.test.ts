/**
 * Two arms that are built towards one another: each head meets the other arm in either order and in
 * turns. The job is laid out by hand, with real beads and the real order, from lists of directions.
 */
import { expect, test } from 'vitest';
import { identity } from '../../lib/base/frame.js';
import { DEG, type Vec3, along, angle, length, scale, sub } from '../../lib/base/vector.js';
import { flatMap, toLayer } from '../../lib/layers/layer-map.js';
import { orderRuns } from '../../lib/order/order.js';
import { type LaidOut, untangled } from '../../lib/job/untangle.js';
import { acJson, machineOf } from '../machine/machines.js';
import { boxJob, type BoxJob } from '../motion/jobs.js';

const machine = machineOf(acJson());
const leaning = (degrees: number): Vec3 => [Math.sin(degrees * DEG), 0, Math.cos(degrees * DEG)];
const feet = (apart: number): readonly Vec3[] => [-1, 1].map((s) => [(s * apart) / 2, 0, 30]);

/** An arm of 12 x 12 x 24 mm that stands at a place along a direction. */
function armAt(foot: Vec3, direction: Vec3): BoxJob {
  const p = toLayer(flatMap(direction), foot);
  return boxJob([p[0] - 6, p[1] - 6, p[2]], [p[0] + 6, p[1] + 6, p[2] + 24], direction, [0]);
}

/** Lays out base plate and arms, each along the first of its directions that is not forbidden to it. */
function laying(apart: number, choices: readonly (readonly Vec3[])[]) {
  const asked: number[] = [];
  const layOut = (forbidden: Parameters<Parameters<typeof untangled>[0]>[0]): Promise<LaidOut> => {
    asked.push(forbidden.length);
    const arms = feet(apart).map((foot, i) => {
      const own = forbidden.filter(({ at }) => Math.sign(at![0]) === Math.sign(foot[0]));
      const free = choices[i]!.filter((d) =>
        own.every(({ direction, within }) => angle(direction, d) > within * DEG),
      );
      return armAt(foot, free[0] ?? choices[i]!.at(-1)!);
    });
    const parts = [boxJob([-60, -10, 0], [60, 10, 2], [0, 0, 1]), ...arms];
    const regions = parts.map((p) => p.region);
    const plan = { regions, partFromGiven: identity() } as unknown as LaidOut['plan'];
    const sequence = orderRuns(
      machine,
      regions,
      parts.map((p) => p.paths),
    );
    return Promise.resolve({ plan, layers: [], paths: [], sequence });
  };
  return { asked, layOut };
}

test('a direction away from the other arm is found, and said', async () => {
  const { asked, layOut } = laying(80, [[leaning(60), leaning(-60)], [leaning(-60)]]);
  const { laidOut, findings } = await untangled(layOut);
  // Perhaps the other arm, which has no other direction, is asked first.
  expect(asked.length).toBeLessThanOrEqual(3);
  expect(laidOut.sequence.stuck).toEqual([]);
  expect(laidOut.plan.regions.map((r) => Math.sign(r.direction[0]))).toEqual([0, -1, -1]);
  expect(findings.map((f) => [f.code, f.severity])).toEqual([['order/turned', 'note']]);
});

test('where none is free both regions and the place are named', async () => {
  const towards = [80, 62, 44].map(leaning);
  const { asked, layOut } = laying(60, [towards, towards.map(([x, y, z]): Vec3 => [-x, y, z])]);
  const { laidOut, findings } = await untangled(layOut);
  expect(asked.length).toBe(5);
  expect(laidOut.sequence.stuck.length).toBe(1);
  expect(findings.map((f) => f.code)).toEqual(['order/in-the-way']);
  expect(findings[0]!.message).toMatch(
    /while region [23] .* where region [32], .* searched 4 times/,
  );
  // The place is on the arm that stands in the way: within its box about the middle of it.
  const { by } = laidOut.sequence.stuck[0]!;
  const { direction } = laidOut.plan.regions[by]!;
  const middle = along(feet(60)[by - 1]!, direction, 12);
  expect(length(sub(findings[0]!.at!.point!, middle))).toBeLessThan(length(scale([6, 6, 12], 1)));
});
