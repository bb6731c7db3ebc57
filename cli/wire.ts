/**
 * A command runs in a thread of its own, because a thread that is deep in a loop cannot hear a signal. The
 * main thread (main.ts) holds the terminal and hears signals; this is what the two share: the text that
 * goes out, what is to be said if the command is stopped, and a state in shared memory that says whether it
 * may be ended at once or is writing a result, which it must then take back itself.
 *
 * Tried before: a handler in the thread of the work. It is called only when the loop is over.
 */
import { Writable } from 'node:stream';
import { parentPort, workerData } from 'node:worker_threads';

/** What the command's thread says. */
export type Said =
  | { readonly kind: 'text'; readonly to: 'stdout' | 'stderr'; readonly text: string | Uint8Array }
  | { readonly kind: 'ifStopped'; readonly text: string }
  | { readonly kind: 'listen' };

/** What the command's thread is started with. */
export interface Given {
  /** `State` and how many results have been written. */
  readonly shared: Int32Array;
  readonly stdout: Terminal;
  readonly stderr: Terminal;
  /** True if somebody sits at the other end of the input stream. */
  readonly isAnswering: boolean;
}

export interface Terminal {
  readonly isTTY: boolean;
  readonly columns: number | undefined;
}

export const State = { free: 0, writing: 1, stopped: 2 } as const;

/** The work was stopped by the person or the system. */
export class Cancelled extends Error {
  constructor() {
    super('cancelled');
    this.name = 'Cancelled';
  }
}

const given = workerData as Given | null;
const abort = new AbortController();

/** Puts the wire in place of the two output streams of this thread, and listens for the wish to stop. */
export function connect(): void {
  if (!parentPort || !given) return;
  for (const to of ['stdout', 'stderr'] as const) {
    const own = process[to];
    const stream = outgoing(to, given[to]);
    // Node's main thread may still ask the thread's own stream for more text; ours never waits, so it owes none.
    for (const key of Object.getOwnPropertySymbols(Object.getPrototypeOf(own) as object)) {
      if (!(key in stream)) Object.defineProperty(stream, key, { value: () => {} });
    }
    Object.defineProperty(process, to, { value: stream });
  }
  parentPort.on('message', () => abort.abort(new Cancelled()));
  // The wish alone is no reason to stay.
  parentPort.unref();
}

/**
 * Text is handed on at once. (A thread's own streams wait after each text until this thread's loop
 * turns, so that progress would stand still in a long stage.)
 */
function outgoing(to: 'stdout' | 'stderr', terminal: Terminal): Writable {
  const stream = new Writable({
    decodeStrings: false,
    write(text: string | Uint8Array, _, done) {
      tell({ kind: 'text', to, text });
      done();
    },
  });
  return Object.assign(stream, terminal);
}

const tell = (said: Said): void => parentPort?.postMessage(said);

/** True if questions can be put to a person. */
export const isAnswering = (): boolean => given?.isAnswering === true;

/** The input stream, which the main thread hands on from now on; nobody else may read it then. */
export function listen(): NodeJS.ReadableStream {
  tell({ kind: 'listen' });
  return process.stdin;
}

/** What the person reads if the command is stopped from now on. */
export const ifStopped = (text: string): void => tell({ kind: 'ifStopped', text });

/**
 * Writes a result: from here on the command is not ended from outside, but asked, through the signal.
 * @throws Cancelled if it was stopped before
 */
export async function writing<T>(work: (signal: AbortSignal) => Promise<T>): Promise<T> {
  const { shared } = given ?? {};
  if (!shared) return work(abort.signal);
  const before = Atomics.compareExchange(shared, 0, State.free, State.writing);
  if (before === State.stopped) throw new Cancelled();
  try {
    const result = await work(abort.signal);
    Atomics.add(shared, 1, 1);
    return result;
  } finally {
    if (before === State.free) Atomics.store(shared, 0, State.free);
  }
}
