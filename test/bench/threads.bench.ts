/**
 * What more threads give a whole job: a bunny of 69 k triangles, 100 mm high, in flat layers as it is given, by the
 * command, on one thread and on 2, 4 and so on up to the machine's. Of each stage the time on one thread and on more
 * (the ratio is the speed-up), and for the whole job also the processor time (the ratio is what more threads cost).
 * Stages that take less than half a second are left out. Minutes a run.
 */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { availableParallelism, tmpdir } from 'node:os';
import { join } from 'node:path';
import { writeStl } from '../../lib/formats/write-mesh.js';
import type { Report, Timing } from '../../lib/report/report.js';
import type { Row } from './bench.js';
import { commandPath, sampleWords } from './command.js';
import { bunny } from './meshes.js';

/** Of whole jobs: on 16 threads a quarter of the time of one, at 1.3 times the processor time. */
const MOST_COST = 1.3;
const TOLD_FROM = 0.5;

export function run(): Promise<Row[]> {
  const folder = mkdtempSync(join(tmpdir(), 'tiltwright-threads-'));
  try {
    const part = join(folder, 'bunny.stl');
    writeFileSync(part, writeStl(bunny(0)));
    const timing = (threads: number): Timing => {
      const words = ['slice', part, ...sampleWords(), '--layers-form', 'flat', '--json'];
      const own = ['--threads', String(threads), '--out', join(folder, String(threads))];
      const text = execFileSync(process.execPath, [commandPath, ...words, ...own], {
        maxBuffer: 1e9,
        stdio: ['ignore', 'pipe', 'ignore'],
      });
      return JSON.parse(text.toString()) as Report;
    };
    const one = timing(1);
    const counts: number[] = [];
    for (let n = 2; n <= availableParallelism(); n *= 2) counts.push(n);
    return Promise.resolve(counts.flatMap((n) => compare(one, timing(n), n)));
  } finally {
    rmSync(folder, { recursive: true });
  }
}

function compare(one: Timing, more: Timing, threads: number): Row[] {
  const on = `1 thread, ${threads}: s`;
  const row = (name: string, a: number, b: number, ratio: number, want: Row['want'] = {}): Row => ({
    name: `bunny, ${name}, ${on}`,
    a,
    b,
    ratio,
    want,
  });
  const stages = one.stages.flatMap(({ name, seconds }) => {
    const b = more.stages.find((s) => s.name === name)?.seconds ?? 0;
    return seconds < TOLD_FROM ? [] : [row(name, seconds, b, seconds / b)];
  });
  const [a, b] = [one.took, more.took];
  return [
    ...stages,
    row('whole job', a.seconds, b.seconds, a.seconds / b.seconds),
    row('processor time of it', a.cpuSeconds!, b.cpuSeconds!, b.cpuSeconds! / a.cpuSeconds!, {
      most: MOST_COST,
    }),
  ];
}
