/**
 * A process that runs inputs `from`, `from + step`, ... of one subject and writes one line of JSON for
 * each that fails, and now and then how far it is. It may be killed at any time; who started it goes on
 * behind the input at which it was.
 */
import { writeSync } from 'node:fs';
import { Worker } from 'node:worker_threads';
import { Fault } from '../../lib/base/fault.js';
import { seeded } from '../../lib/base/random.js';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import type { Limits } from './guard.js';
import { seedOf } from './seed.js';
import { subjects } from './subjects.js';

export interface Task {
  readonly subject: string;
  readonly seed: number;
  readonly from: number;
  readonly to: number;
  readonly step: number;
  readonly seconds: number;
  readonly megabytes: number;
}

/** What the process says. `at` comes before an input that takes its first look at a second. */
export type Said =
  | { readonly at: number }
  | { readonly fails: number; readonly why: string }
  | { readonly over: string }
  | {
      readonly done: { readonly taken: number; readonly refused: number; readonly slowest: number };
    };

const say = (said: Said): void => void writeSync(1, `${JSON.stringify(said)}\n`);

async function run(task: Task): Promise<void> {
  const subject = subjects(await loadSolidKernel()).find((s) => s.name === task.subject)!;
  const turn = new Int32Array(new SharedArrayBuffer(4));
  const limits: Limits = { turn, seconds: task.seconds, megabytes: task.megabytes };
  const guard = new Worker(new URL('./guard.js', import.meta.url), { workerData: limits });
  const counts = { taken: 0, refused: 0, slowest: 0 };
  for (let i = task.from; i < task.to; i += task.step) {
    Atomics.add(turn, 0, 1);
    say({ at: i });
    const bytes = subject.make(seeded(seedOf(task.seed, i)));
    const begin = process.cpuUsage();
    try {
      subject.run(bytes);
      counts.taken++;
    } catch (error) {
      if (error instanceof Fault) counts.refused++;
      else say({ fails: i, why: String((error as Error).stack ?? error) });
    }
    const { user, system } = process.cpuUsage(begin);
    counts.slowest = Math.max(counts.slowest, (user + system) / 1e6);
  }
  say({ done: counts });
  await guard.terminate();
}

await run(JSON.parse(process.argv[2]!) as Task);
