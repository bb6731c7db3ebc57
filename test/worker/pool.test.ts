/** The pool gives what the calling thread gives, bit for bit, and hands Faults over whole. */
import { availableParallelism } from 'node:os';
import { afterAll, describe, expect, test } from 'vitest';
import { openPool } from '../../worker/pool.js';
import { jobOf, runJob } from '../support/jobs.js';
import { postWithArm } from '../support/shapes.js';

const settings = { regions: { directions: 40, effort: 12, lean: 0 } };
const input = jobOf(postWithArm(20, 70, 30, 20), 'table-table-ac', settings);

describe('pool', () => {
  const pool = openPool(Math.max(2, availableParallelism()));
  afterAll(() => pool.close());

  test('serial and pooled programs are the same, and so are all path records', async () => {
    const [serial, pooled] = await Promise.all([runJob(input), runJob(input, pool.run)]);
    expect(pooled.program).toEqual(serial.program);
    expect(pooled.paths).toEqual(serial.paths);
    expect(pooled.layers).toEqual(serial.layers);
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
