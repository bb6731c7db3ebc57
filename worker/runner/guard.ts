/**
 * A thread that watches its own process, because the main thread may be busy for minutes: above the memory
 * limit (heap, kernels and threads together), or abandoned by its parent, the process ends.
 */
import { writeSync } from 'node:fs';
import { workerData } from 'node:worker_threads';
import { OVER_MEMORY } from './messages.js';

const { limitBytes, parent } = workerData as { limitBytes: number; parent: number };

setInterval(() => {
  if (process.ppid !== parent) process.kill(process.pid, 'SIGKILL');
  if (process.memoryUsage.rss() > limitBytes) {
    writeSync(2, `${OVER_MEMORY}\n`);
    process.kill(process.pid, 'SIGKILL');
  }
}, 50);
