/** The pool gives what the calling thread gives, bit for bit, and hands Faults over whole. */
import { availableParallelism } from 'node:os';
import { afterAll, describe, expect, test } from 'vitest';
import type { Progress } from '../../lib/base/watch.js';
import { planMotion, planMotionBy } from '../../lib/motion/plan-motion.js';
import { orderRuns } from '../../lib/order/order.js';
import { openPool } from '../../worker/pool.js';
import { jobOf, runJob } from '../support/jobs.js';
import { postWithArm } from '../support/shapes.js';

const settings = { regions: { directions: 40, effort: 12, lean: 0 } };
const input = jobOf(postWithArm(20, 70, 30, 20), 'table-table-ac', settings);

const bytes = ({ buffer }: Float32Array): Buffer => Buffer.from(buffer);

describe('pool', () => {
  const pool = openPool(Math.max(2, availableParallelism()));
  afterAll(() => pool.close());

  test('serial and pooled programs are the same, and so are all path records and the check', async () => {
    const [serial, pooled] = await Promise.all([runJob(input), runJob(input, pool.run)]);
    expect(pooled.program).toEqual(serial.program);
    expect(pooled.paths).toEqual(serial.paths);
    expect(pooled.layers).toEqual(serial.layers);
    expect(pooled.report.check).toEqual(serial.report.check);
    expect(Buffer.compare(bytes(pooled.surface!.error), bytes(serial.surface!.error))).toBe(0);
  });

  describe('the clearance', () => {
    const toPlan = runJob(input).then(({ plan, layers, paths }) => {
      const pathsOf = paths.map((p) => p.paths);
      const { machine, material, job } = input;
      return {
        machine,
        material,
        regions: plan.regions,
        layersOf: layers,
        pathsOf,
        sequence: orderRuns(machine, plan.regions, pathsOf),
        rules: job.motion,
      };
    });

    test('is the same in line and on one, two and three threads', async () => {
      const inLine = planMotion(await toPlan);
      expect(inLine.leastGap).toBeDefined();
      for (const threads of [1, 2, 3]) {
        const own = openPool(threads);
        const steps: number[] = [];
        const progress = ({ stage, done, total }: Progress): void => {
          if (stage === 'clearance') steps.push(done / total);
        };
        const pooled = await planMotionBy(
          (ask) => own.run({ kind: 'nearest', ...ask }),
          await toPlan,
          { progress },
        );
        await own.close();
        expect(pooled).toEqual(inLine);
        expect([steps[0], steps.at(-1)]).toEqual([0, 1]);
      }
    });

    test('ends when it is stopped on its way', async () => {
      const abort = new AbortController();
      const { signal } = abort;
      const asked = planMotionBy(
        (ask) => {
          // After the first of the wave has been handed out.
          setImmediate(() => abort.abort(new Error('stopped')));
          return pool.run({ kind: 'nearest', ...ask }, signal);
        },
        await toPlan,
        { signal },
      );
      await expect(asked).rejects.toThrow();
      expect(signal.aborted).toBe(true);
    });
  });

  test('a Fault in a thread keeps its code and message', async () => {
    const thick = {
      ...input,
      job: { ...input.job, layers: { ...input.job.layers, thickness: 0.9 } },
    };
    await expect(runJob(thick, pool.run)).rejects.toMatchObject({
      name: 'Fault',
      code: 'layers/too-thick',
    });
  });

  test('a signal ends waiting tasks', async () => {
    const abort = new AbortController();
    abort.abort(new Error('stopped'));
    const watch = { signal: abort.signal };
    await expect(runJob(input, pool.run, watch)).rejects.toThrow('stopped');
  });
});
