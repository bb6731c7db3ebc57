/**
 * Small jobs as a whole: the same motion whichever way queries are answered, and refusals that name region,
 * joint, value and limit, where the machine's limits are drawn too narrow for them.
 */
import { describe, expect, it } from 'vitest';
import { DEG, unit } from '../../lib/base/vector.js';
import type { Finding } from '../../lib/base/fault.js';
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

  it('a direction for which the joints have no solution at all, by its joints', () => {
    // A is inclined by 30 deg against C, so that the head leans by 60 deg at most.
    const json = acJson();
    json.table.joints = [
      rotary('A', [0, 0.5, Math.sqrt(0.75)], [-180, 180]),
      rotary('C', [0, 0, 1], 'endless'),
    ];
    const d = unit([Math.sin(80 * DEG), 0, Math.cos(80 * DEG)]);
    const steep = boxJob([-4, -4, 20], [4, 4, 22], d, [0]);
    expect(() => planMotion(input([low, steep], machineOf(json)))).toThrow(
      expect.objectContaining({
        code: 'motion/unreachable',
        message:
          'region 2 builds along 0.9848 0.0000 0.1736, where the joints A and C cannot point within their travel',
        at: { region: 1 },
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

it('play that cannot be taken up, since the joint stands at its end there, is reported by joint and region', () => {
  const json = acJson();
  const a = { ...rotary('A', [1, 0, 0], [0, 90]), backlash: 0.2 };
  json.table.joints = [a, rotary('C', [0, 0, 1], 'endless')];
  // A comes down from 30 deg to 0: to come from below it would have to go under its end.
  const leaning = boxJob([-4, -4, 20], [4, 4, 22], unit([0, 0.5, Math.sqrt(0.75)]), [0]);
  const { findings } = planMotion(input([leaning, low], machineOf(json)));
  expect(findings.filter((f) => f.code === 'motion/play')).toEqual([
    {
      code: 'motion/play',
      severity: 'warning',
      message: expect.stringMatching(
        /^joint A comes to region 2 from above.* its play of 0.2 deg /,
      ),
      at: { region: 1, layer: 0 },
    },
  ]);
});

describe('a way that cannot keep all of the clearance', () => {
  // The nozzle widens by .45 mm for each mm of height from .4 mm. The last path of the second region ends 2 mm inside
  // of it; beside that ends a bead of the first one, round (.1 mm), its middle 1.4 mm over the tip: so far from the
  // cone, square to it. Nearer still to where the contours run, but that is not asked here.
  const waysOf = (gap: number): unknown[] => {
    const middle = 0.4 + 0.45 * 1.4 + (gap + 0.1) * Math.hypot(1, 0.45);
    // Beads end 1 mm inside of their box, and half of .45 mm farther out.
    const side = -18 - (middle - 0.1) + 0.775;
    const wall = boxJob([side - 10, -5, 0], [side, 5, 5.5], [0, 0, 1]);
    const own = boxJob([-20, -5, 0], [-10, 5, 4], [0, 0, 1]);
    return planMotion(input([wall, own])).findings.filter((f) => f.code === 'motion/transfer');
  };
  const from = (kept: string): unknown => ({
    code: 'motion/transfer',
    severity: 'warning',
    message: `the way from region 2 keeps ${kept} mm clear, not 1 mm`,
    at: { region: 1, layer: 19 },
  });
  it('is told with what it keeps', () => {
    expect(waysOf(0.85)).toContainEqual(from('0.5'));
    expect(waysOf(0.4)).toContainEqual(from('0.25'));
  });
  it('is not told where it keeps all of it', () => {
    expect(waysOf(1.15)).not.toContainEqual(from('1'));
    expect(waysOf(1.15).filter((f) => /from region 2/.test((f as Finding).message))).toEqual([]);
  });
  it('is an error where none is free', () => {
    expect(waysOf(0.1)).toContainEqual(
      expect.objectContaining({
        severity: 'error',
        message: expect.stringMatching(/^the way from region 2 is not free: the head comes within/),
      }),
    );
  });
});
