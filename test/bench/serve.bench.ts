/**
 * The job server: how long a page of the list takes while a job runs against while none does, and the
 * memory of the service after 500 submissions against before. Medians of single calls.
 */
import { writeStl } from '../../lib/formats/write-mesh.js';
import { quick, startTestService } from '../support/service.js';
import { cuboid } from '../support/shapes.js';
import type { Row } from './bench.js';

const CALLS = 300;
const SUBMISSIONS = 500;
/** A page that people wait for, ms. */
const WANTED_MS = 50;

export async function run(): Promise<Row[]> {
  const service = await startTestService();
  try {
    const part = (await service.upload(writeStl(cuboid([10, 10, 6])), 'cube.stl')).body.id;
    const list = async (): Promise<number> => {
      const begin = performance.now();
      const { status } = await service.call('/v1/jobs?limit=100');
      if (status !== 200) throw new Error(`the list answers ${status}`);
      return performance.now() - begin;
    };
    await service.ended((await service.submit({ part, settings: quick })).body.id);
    const idle = await median(list);
    globalThis.gc?.();
    const before = process.memoryUsage().rss;
    const ids: number[] = [];
    for (let i = 0; i < SUBMISSIONS; i++) {
      ids.push((await service.submit({ part, settings: quick, name: `cap ${i}` })).body.id);
    }
    const busy = await median(list);
    globalThis.gc?.();
    const after = process.memoryUsage().rss;
    for (const id of ids) service.context.data.jobs.cancel(id);
    return [
      row('list of 100 jobs while one runs and 500 wait, none runs: ms', busy, idle),
      {
        ...row('list of 100 jobs while one runs, the wait allowed: ms', busy, WANTED_MS),
        want: { least: 1 },
        ratio: WANTED_MS / busy,
      },
      {
        ...row('memory after 500 submissions, before: MB', after / 1e6, before / 1e6),
        want: { most: 1.5 },
      },
    ];
  } finally {
    await service.close();
  }
}

const row = (name: string, a: number, b: number): Row => ({ name, a, b, ratio: a / b, want: {} });

async function median(call: () => Promise<number>): Promise<number> {
  const times: number[] = [];
  for (let i = 0; i < CALLS; i++) times.push(await call());
  return times.sort((a, b) => a - b)[CALLS / 2]!;
}
