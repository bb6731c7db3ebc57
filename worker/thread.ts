/**
 * What a pool thread runs: one slice task at a time. Kernels are loaded once a thread. A Fault
 * crosses back as data, because a posted Error loses its name and fields; typed arrays are moved,
 * not copied.
 */
import { transferableSymbol, valueSymbol } from 'piscina';
import { Fault, type FaultData } from '../lib/base/fault.js';
import { loadPolygonKernel } from '../lib/kernel/polygon.js';
import { type SliceTask, doTask } from '../lib/tasks.js';

export type Answer = { readonly result: unknown } | { readonly fault: FaultData };

const kernel = await loadPolygonKernel();

export default function run(task: SliceTask): object {
  const answer = attempt(task);
  return {
    get [transferableSymbol]() {
      return buffersOf(answer);
    },
    get [valueSymbol]() {
      return answer;
    },
  };
}

function attempt(task: SliceTask): Answer {
  try {
    return { result: doTask(task, kernel) };
  } catch (error) {
    if (error instanceof Fault) return { fault: error.toData() };
    throw error;
  }
}

/** The distinct buffers under a record; those of the shared input stay where they are. */
function buffersOf(value: unknown, found = new Set<ArrayBuffer>()): ArrayBuffer[] {
  if (ArrayBuffer.isView(value)) {
    if (value.buffer instanceof ArrayBuffer) found.add(value.buffer);
  } else if (value && typeof value === 'object') {
    for (const inner of Object.values(value)) buffersOf(inner, found);
  }
  return [...found];
}
