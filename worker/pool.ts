/**
 * One pool of threads for slice tasks. Inputs are put into shared memory once per array, however many tasks
 * name it (10 MB by copy 6 ms, shared 0.1 ms); results are moved.
 */
import { setMaxListeners } from 'node:events';
import { availableParallelism } from 'node:os';
import { Piscina } from 'piscina';
import { Fault, type RunTask } from '../lib/index.js';
import type { SliceTask, TaskResult } from '../lib/job/tasks.js';
import { built } from './built.js';
import type { Answer } from './thread.js';

/** Threads that run the tasks of jobs. */
export interface Pool {
  /** For `SliceTools.run`. */
  readonly run: RunTask;
  /** Ends the threads; without it the process does not end. */
  close(): Promise<void>;
}

/** Opens a pool of `threads` workers. Threads run built JavaScript, so `dist` must be there. */
export function openPool(threads = availableParallelism()): Pool {
  const pool = new Piscina({
    filename: built('thread.js').href,
    minThreads: threads,
    maxThreads: threads,
    idleTimeout: 60_000,
    // Tasks begin in the order in which they are handed in; left out, those that wait change places.
    stricterFIFO: true,
  });
  const shared = new WeakMap<object, object>();
  const run = async <T extends SliceTask>(
    task: T,
    signal?: AbortSignal,
  ): Promise<TaskResult<T>> => {
    signal?.throwIfAborted();
    // Every waiting task listens for the signal; a job has hundreds.
    if (signal) setMaxListeners(0, signal);
    const answer = (await pool.run(share(task, shared), signal ? { signal } : {})) as Answer;
    if ('fault' in answer) throw Fault.fromData(answer.fault);
    return answer.result as TaskResult<T>;
  };
  return { run, close: () => pool.destroy() };
}

/** The same record with every typed array in shared memory; each record and array is copied once. */
function share<T>(value: T, known: WeakMap<object, object>): T {
  if (!value || typeof value !== 'object') return value;
  const seen = known.get(value);
  if (seen) return seen as T;
  const copy = ArrayBuffer.isView(value) ? shareArray(value) : shareRecord(value, known);
  known.set(value, copy);
  return copy as T;
}

function shareRecord(value: object, known: WeakMap<object, object>): object {
  if (Array.isArray(value)) return value.map((v: unknown) => share(v, known));
  return Object.fromEntries(Object.entries(value).map(([k, v]) => [k, share(v as unknown, known)]));
}

function shareArray(view: ArrayBufferView): ArrayBufferView {
  if (view.buffer instanceof SharedArrayBuffer) return view;
  const array = view as Float64Array;
  const Maker = array.constructor as Float64ArrayConstructor;
  const copy = new Maker(new SharedArrayBuffer(array.byteLength));
  copy.set(array);
  return copy;
}
