/**
 * A child process that does one piece of work at a time. A hostile part, a hang or excessive use of memory
 * ends this process at worst, never the service.
 */
import { setPriority } from 'node:os';
import { Worker } from 'node:worker_threads';
import { Fault, loadSolidKernel, type RunTask, serialRunner } from '../../lib/index.js';
import { openPool } from '../pool.js';
import type { ChildSettings, FromChild, ToChild, Work } from './messages.js';
import { inspectWork, sliceWork } from './work.js';

const { memoryMb, threads } = JSON.parse(process.argv[2]!) as ChildSettings;
const limit = { limitBytes: memoryMb * 1e6, parent: process.ppid };
new Worker(new URL('./guard.js', import.meta.url), { workerData: limit }).unref();
// The service answers while jobs run.
setPriority(10);

const solid = await loadSolidKernel();
const send = (message: FromChild): void => void process.send!(message);
const waiting: (() => void)[] = [];
let runner: Promise<RunTask> | undefined;

process.on('message', (message: ToChild) => {
  if (message.kind === 'granted') waiting.shift()!();
  else void answer(message.work);
});
process.on('disconnect', () => process.exit());

async function answer(work: Work): Promise<void> {
  try {
    send({ kind: 'done', result: await perform(work) });
  } catch (error) {
    if (error instanceof Fault) send({ kind: 'fault', fault: error.toData() });
    else send({ kind: 'defect', message: (error as Error).message });
  }
}

async function perform(work: Work): Promise<unknown> {
  if (work.kind === 'inspect') return inspectWork(work, solid);
  runner ??= threads === 0 ? serialRunner() : Promise.resolve(shared(openPool(threads).run));
  return sliceWork(work, solid, await runner, (progress) => send({ kind: 'progress', progress }));
}

/** Runs a task when the service grants it, so that all jobs together use so many threads at once. */
function shared(run: RunTask): RunTask {
  return async (task, signal) => {
    await new Promise<void>((resolve) => {
      waiting.push(resolve);
      send({ kind: 'want' });
    });
    try {
      return await run(task, signal);
    } finally {
      send({ kind: 'giveBack' });
    }
  };
}
