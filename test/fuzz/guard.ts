/** A thread that ends its process when one input takes too much processor time or memory. */
import { writeSync } from 'node:fs';
import { workerData } from 'node:worker_threads';

export interface Limits {
  /** Rises by one with each input. */
  readonly turn: Int32Array;
  readonly seconds: number;
  readonly megabytes: number;
}

const { turn, seconds, megabytes } = workerData as Limits;
let last = -1;
let begin = 0;
setInterval(() => {
  const { user, system } = process.cpuUsage();
  const now = Atomics.load(turn, 0);
  if (now !== last) [last, begin] = [now, user + system];
  // Processor time: a machine that is busy with other work must not look like a hang.
  if (user + system - begin > 1e6 * seconds) end(`took more than ${seconds} s`);
  if (process.memoryUsage.rss() > 1e6 * megabytes) end(`took more than ${megabytes} MB`);
}, 50);

function end(why: string): void {
  writeSync(1, `${JSON.stringify({ over: why })}\n`);
  process.kill(process.pid, 'SIGKILL');
}
