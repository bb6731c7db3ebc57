/**
 * What a pool thread runs: one slice task at a time. Kernels are loaded once per thread. A Fault crosses
 * back as data, because a posted Error loses its name and fields; typed arrays are moved, not copied.
 */
import { move, transferableSymbol, valueSymbol } from 'piscina';
import { Fault, type FaultData } from '../lib/base/fault.js';
import { loadPolygonKernel } from '../lib/kernel/polygon.js';
import { type SliceTask, doTask } from '../lib/job/tasks.js';

export type Answer = { readonly result: unknown } | { readonly fault: FaultData };

const kernel = await loadPolygonKernel();

export default function run(task: SliceTask): unknown {
  const answer = attempt(task);
  return move({
    get [transferableSymbol]() {
      return buffersOf(answer);
    },
    get [valueSymbol]() {
      return answer;
    },
  });
}

function attempt(task: SliceTask): Answer {
  try {
    return { result: doTask(task, kernel) };
  } catch (error) {
    if (error instanceof Fault) return { fault: error.toData() };
    throw error;
  }
}

/** Smaller arrays are copied, which is as quick and leaves constants of the code in place, bytes. */
const WORTH_MOVING = 4096;

/**
 * The distinct large buffers under a record. Those of the shared input stay where they are, and so do those of which an
 * array is only a piece, as frames are of a slab: others live in the rest of it.
 */
function buffersOf(value: unknown, found = new Set<ArrayBuffer>()): ArrayBuffer[] {
  if (ArrayBuffer.isView(value)) {
    const { buffer, byteLength } = value;
    const isWhole = byteLength === buffer.byteLength;
    if (buffer instanceof ArrayBuffer && isWhole && byteLength >= WORTH_MOVING) found.add(buffer);
  } else if (value && typeof value === 'object') {
    for (const inner of Object.values(value)) buffersOf(inner, found);
  }
  return [...found];
}
