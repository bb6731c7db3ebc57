/**
 * The job server: ten small jobs in a row by calls of the command and by the service, which keeps its threads warm; how
 * long a page of the list takes while a job runs against while none does, and the memory of the service after 500
 * submissions against before. Medians of single calls.
 */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { writeStl } from '../../lib/formats/write-mesh.js';
import { quick, startTestService } from '../support/service.js';
import { cuboid } from '../support/shapes.js';
import type { Row } from './bench.js';
import { commandPath, sampleWords } from './command.js';

const CALLS = 300;
const SUBMISSIONS = 500;
/** Small jobs in a row. */
const IN_A_ROW = 10;
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
      await inARow(),
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

/** Both on one thread beside the main one, and the same job each time. */
async function inARow(): Promise<Row> {
  const folder = mkdtempSync(join(tmpdir(), 'tiltwright-row-'));
  const service = await startTestService();
  try {
    const bytes = writeStl(cuboid([10, 10, 6]));
    const [part, job] = [join(folder, 'cube.stl'), join(folder, 'job.json')];
    writeFileSync(part, bytes);
    writeFileSync(job, JSON.stringify(quick));
    const words = ['slice', part, '--job', job, ...sampleWords(), '--threads', '0'];
    const begin = performance.now();
    for (let i = 0; i < IN_A_ROW; i++) {
      execFileSync(process.execPath, [commandPath, ...words, '--out', join(folder, String(i))], {
        stdio: 'ignore',
      });
    }
    const called = performance.now() - begin;
    const { id } = (await service.upload(bytes, 'cube.stl')).body;
    const first = performance.now();
    for (let i = 0; i < IN_A_ROW; i++) {
      const job = await service.submit({ part: id, settings: quick, name: `cube ${i}` });
      const ended = await service.ended(job.body.id);
      if (ended.state !== 'finished') throw new Error(`job ${ended.id} is ${ended.state}`);
    }
    const served = performance.now() - first;
    return {
      name: `${IN_A_ROW} small jobs in a row, by the command, by the service: ms`,
      a: called,
      b: served,
      ratio: called / served,
      want: { least: 3 },
    };
  } finally {
    await service.close();
    rmSync(folder, { recursive: true });
  }
}
