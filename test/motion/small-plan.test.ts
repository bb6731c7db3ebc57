/**
 * Small jobs as a whole: the same motion whichever way queries are answered, and refusals that name region,
 * joint, value and limit, where the machine's limits are drawn too narrow for them.
 */
import { describe, expect, it } from 'vitest';
import { unit } from '../../lib/base/vector.js';
import type { Machine } from '../../lib/machine/machine.js';
import { nearestOf } from '../../lib/motion/lay/nearest-approach.js';
import { type MotionInput, planMotion, planMotionBy } from '../../lib/motion/plan-motion.js';
import { motionRules } from '../../lib/motion/rules.js';
import { acJson, machineOf, rotary } from '../machine/machines.js';
import { type BoxJob, boxJob, material, wholeRun } from './jobs.js';

const machine = machineOf(acJson());
const input = (jobs: readonly BoxJob[], of: Machine = machine): MotionInput => ({
  machine: of,
  material: material(),
  regions: jobs.map((j) => j.region),
  layersOf: jobs.map((j) => j.layers),
  pathsOf: jobs.map((j) => j.paths),
  sequence: { runs: jobs.map((_, region) => wholeRun(jobs, region)) },
  rules: motionRules.parse({ touch: 'report' }),
});
const low = boxJob([-30, -10, 0], [-20, 10, 2], [0, 0, 1]);
const beside = boxJob([-16, -10, 0], [-4, 10, 1], [0, 0, 1]);

it('queries answered later give the same motion, bit for bit', async () => {
  const jobs = [low, beside];
  let asked = 0;
  const later = await planMotionBy((one) => {
    asked++;
    return Promise.resolve(nearestOf(one));
  }, input(jobs));
  expect(later).toEqual(planMotion(input(jobs)));
  expect(asked).toBeGreaterThan(0);
  // The second region keeps clear of the first by no more than they lie apart.
  expect(later.leastGap!.gap).toBeLessThan(4);
  expect(later.motion.totalSeconds).toBeGreaterThan(0);
});

describe('refused', () => {
  it('a direction that the joints cannot point in, by its region', () => {
    const json = acJson();
    json.table.joints = [rotary('A', [1, 0, 0], [-10, 10]), rotary('C', [0, 0, 1], 'endless')];
    const d = unit([0.6, 0, 0.8]);
    const steep = boxJob([-4, -4, 20], [4, 4, 22], d, [0]);
    expect(() => planMotion(input([low, steep], machineOf(json)))).toThrow(
      expect.objectContaining({
        message: expect.stringMatching(/region 2\b/),
        at: expect.objectContaining({ region: 1 }),
      }),
    );
  });

  it('a place beyond the travel, by the first layer that is', () => {
    const json = acJson();
    json.head.joints[2] = { ...json.head.joints[2]!, travel: [-500, 1.5] } as never;
    json.ready = { Z: 1 };
    // Layers of 0.2 mm: the eighth, at 1.6 mm, is the first above 1.5 mm.
    expect(() => planMotion(input([low], machineOf(json)))).toThrow(
      expect.objectContaining({
        code: 'motion/travel',
        message:
          'in region 1, from layer 8 on, joint Z would have to stand at 2 mm, its limit is 1.5 mm',
        at: { region: 0, layer: 7 },
      }),
    );
  });
});
