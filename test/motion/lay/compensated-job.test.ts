/** Play of the linear joints over a whole job: what is made up for, as the check of the program sees it. */
import { describe, expect, it } from 'vitest';
import type { Machine } from '../../../lib/machine/machine.js';
import { MoveKind } from '../../../lib/motion/motion.js';
import { planMotion } from '../../../lib/motion/plan-motion.js';
import { orderRuns } from '../../../lib/order/order.js';
import { readOptions } from '../../../lib/program/options.js';
import { readProgram } from '../../../lib/program/read-program.js';
import { writeProgram } from '../../../lib/program/write-program.js';
import { traceOf } from '../../../lib/verify/trace.js';
import { verify } from '../../../lib/verify/verify.js';
import { jobOf, runJob } from '../../support/jobs.js';
import { postWithArm } from '../../support/shapes.js';

const PLAY = 0.1;

type Who = NonNullable<Machine['dialect']['play']>;

const withPlay = (drawn: Machine, play: Who): Machine => ({
  ...drawn,
  joints: drawn.joints.map((j) => ({ ...j, backlash: j.kind === 'linear' ? PLAY : 0 })),
  dialect: { ...drawn.dialect, play },
});

describe('a whole job: a post with an arm, play of 0.1 mm in X, Y and Z', () => {
  const input = jobOf(postWithArm(10, 14, 8, 6), 'table-table-ac', {
    regions: { directions: 40, effort: 12, lean: 0 },
    layers: { thickness: 0.3, first: 0.3 },
    check: false,
  });
  const sliced = runJob(input);

  async function printed(play: Who) {
    const { plan, paths, layers } = await sliced;
    const own = withPlay(input.machine, play);
    const lay = paths.map((p) => p.paths);
    const { motion, findings } = planMotion({
      machine: own,
      material: input.material,
      regions: plan.regions,
      layersOf: layers,
      pathsOf: lay,
      sequence: orderRuns(own, plan.regions, lay),
      rules: input.job.motion,
    });
    const { chunks, lineOf } = writeProgram(motion, own, input.material, { part: 'post' });
    const trace = traceOf(readProgram(chunks, readOptions(own)), own);
    const last = new Map([...trace.line].map((line, b) => [line, b]));
    const tips = [...motion.kind.keys()]
      .filter((b) => motion.kind[b] === MoveKind.deposit)
      .map((b) => trace.tip.subarray(3 * last.get(lineOf[b]!)!, 3 * last.get(lineOf[b]!)! + 3));
    return { own, chunks, motion, findings, tips };
  }
  const apart = (a: Float64Array[], b: Float64Array[]): number[] =>
    a.map((p, i) => Math.hypot(...[0, 1, 2].map((c) => p[c]! - b[i]![c]!)));

  it('the check sees every bead off by up to the play in each joint, and made up for within 0.01 mm in each', async () => {
    const [want, made, bare] = await Promise.all(
      (['controller', 'program', 'nobody'] as const).map(printed),
    );
    expect(made!.tips).toHaveLength(want!.tips.length);
    const [after, before] = [apart(made!.tips, want!.tips), apart(bare!.tips, want!.tips)];
    // The chord error is the tolerance; half a decimal of the text twice.
    expect(Math.max(...after)).toBeLessThan(0.01 * Math.sqrt(3) + 2e-4);
    expect(Math.max(...before)).toBeGreaterThan(PLAY);
    expect(Math.max(...before)).toBeLessThan(PLAY * Math.sqrt(3) + 1e-3);
    const codes = (fs: NonNullable<typeof made>['findings']): string[] => fs.map((f) => f.code);
    expect(codes(bare!.findings)).toContain('motion/backlash');
    expect(codes(made!.findings)).not.toContain('motion/backlash');
    expect(made!.chunks[0]).toMatch(/play: .*X 0\.1 mm.* are counted in these values/);
    // The extra blocks take time, and the pace knows it.
    expect(made!.motion.totalSeconds).toBeGreaterThan(want!.motion.totalSeconds);
    const { check } = verify(made!.chunks, made!.own, {});
    expect(check.findings.filter((f) => f.severity === 'error')).toEqual([]);
  });
});
