/**
 * Play of the rotary joints over a whole job: the program is read back and run through a joint with
 * play (the driven side follows only once the play is used up), as any textbook has it.
 */
import { describe, expect, it } from 'vitest';
import { DEG } from '../../../lib/base/vector.js';
import { MoveKind } from '../../../lib/motion/motion.js';
import { planMotion } from '../../../lib/motion/plan-motion.js';
import { orderRuns } from '../../../lib/order/order.js';
import type { SliceInput } from '../../../lib/job/lay-out.js';
import type { SliceResult } from '../../../lib/job/pipeline.js';
import { jobOf, runJob } from '../../support/jobs.js';
import { postWithArm } from '../../support/shapes.js';

const input = jobOf(postWithArm(20, 70, 30, 20), 'table-table-ac', {
  regions: { directions: 40, effort: 12, lean: 0 },
  layers: { thickness: 0.3, first: 0.3 },
  check: false,
});
const result = runJob(input);

/** Angles at which each deposit is laid, rad, less what was asked, for play of `play` rad in all. */
function lost(motion: ReturnType<typeof planMotion>['motion'], j: number, play: number): number[] {
  let driven = motion.from[j]! + play / 2;
  const out: number[] = [];
  for (let b = 0; b < motion.kind.length; b++) {
    const asked = motion.joints[b * motion.jointCount + j]!;
    driven = Math.min(Math.max(driven, asked - play / 2), asked + play / 2);
    if (motion.kind[b] === MoveKind.deposit) out.push(driven - asked);
  }
  return out;
}

async function motionOf(change: (joints: SliceInput['machine']['joints']) => typeof joints) {
  const { plan, paths, layers }: SliceResult = await result;
  const machine = { ...input.machine, joints: change(input.machine.joints) };
  const lay = paths.map((p) => p.paths);
  return planMotion({
    machine,
    material: input.material,
    regions: plan.regions,
    layersOf: layers,
    pathsOf: lay,
    sequence: orderRuns(machine, plan.regions, lay),
    rules: input.job.motion,
  });
}

describe('a post with an arm on the A-C machine, play of 0.05 deg in A and C', () => {
  const withPlay = motionOf((joints) =>
    joints.map((j) => (j.kind === 'rotary' ? { ...j, backlash: 0.05 * DEG } : j)),
  );
  const without = motionOf((joints) => joints.map((j) => ({ ...j, backlash: 0 })));

  it.each(['A', 'C'])('%s stands on the lower side of its play in every region', async (letter) => {
    const j = input.machine.joints.findIndex((joint) => joint.letter === letter);
    const { motion, findings } = await withPlay;
    expect(findings.filter((f) => f.code === 'motion/play')).toEqual([]);
    const off = lost(motion, j, 0.05 * DEG);
    expect(Math.min(...off) / DEG).toBeCloseTo(-0.025, 9);
    expect(Math.max(...off) / DEG).toBeCloseTo(-0.025, 9);
  });

  it('what is not taken up shows: without the take-up some joint stands on the upper side', async () => {
    const { motion } = await without;
    const most = ['A', 'C'].map((letter) => {
      const j = input.machine.joints.findIndex((joint) => joint.letter === letter);
      return Math.max(...lost(motion, j, 0.05 * DEG));
    });
    expect(Math.max(...most) / DEG).toBeCloseTo(0.025, 9);
  });

  it('the take-up costs two moves a region at most, and no bead changes', async () => {
    const [a, b] = [(await withPlay).motion, (await without).motion];
    const beads = (m: typeof a): number => m.kind.filter((k) => k === MoveKind.deposit).length;
    const transfers = (m: typeof a): number => m.kind.filter((k) => k === MoveKind.transfer).length;
    expect(beads(a)).toBe(beads(b));
    const { plan } = await result;
    expect(transfers(a)).toBeGreaterThan(transfers(b));
    expect(transfers(a) - transfers(b)).toBeLessThanOrEqual(2 * plan.regions.length);
  });
});
