#!/usr/bin/env node
/**
 * The command `tiltwright`: the main thread. The command itself (commands.ts) runs in a thread of its
 * own, so that a signal ends it wherever it is; the service alone runs here, for it answers signals itself
 * and has its long work done by child processes.
 *
 * Exit codes: those of commands.ts; 5 the output could not be written to its end (closed, or the device
 * is full); 129, 130, 143 ended by SIGHUP, SIGINT (Ctrl-C), SIGTERM.
 */
import { constants } from 'node:os';
import { Worker } from 'node:worker_threads';
import { type Given, type Said, State, type Terminal } from './wire.js';

const SIGNALS = ['SIGHUP', 'SIGINT', 'SIGTERM'] as const;
const OUTPUT_LOST = 5;
/** A command that takes back what it was writing may take so long, ms. */
const PATIENCE = 10_000;

if (process.argv[2] === 'serve') {
  // The log may go; the service and its jobs do not go with it.
  for (const stream of [process.stdout, process.stderr]) stream.on('error', () => {});
  await import('./commands.js');
} else runThread();

function runThread(): void {
  const shared = new Int32Array(new SharedArrayBuffer(8));
  const given: Given = {
    shared,
    stdout: terminal(process.stdout),
    stderr: terminal(process.stderr),
    isAnswering: process.stdin.isTTY === true,
  };
  const worker = new Worker(new URL('./commands.js', import.meta.url), {
    argv: process.argv.slice(2),
    workerData: given,
    stdin: true,
  });
  let ifStopped = 'cancelled; nothing was written';
  let ending: number | undefined;
  let listening = false;
  const end = (code: number): void => {
    if (ending !== undefined) process.exit(ending);
    ending = code;
    const before = Atomics.compareExchange(shared, 0, State.free, State.stopped);
    if (before !== State.writing) finish();
    worker.postMessage('stop');
    setTimeout(finish, PATIENCE).unref();
  };
  const finish = (): never => {
    if (ending !== OUTPUT_LOST) {
      say('stderr', `${shared[1]! > 0 ? 'cancelled; the result was written' : ifStopped}\n`);
    }
    return process.exit(ending);
  };
  const lose = (error: Error): void => {
    say('stderr', `output/lost: ${error.message}\n`);
    end(OUTPUT_LOST);
  };
  process.stdout.on('error', lose);
  // Where nobody reads what goes wrong, the work goes on.
  process.stderr.on('error', () => {});
  for (const name of SIGNALS) process.on(name, () => end(128 + constants.signals[name]));
  worker.on('message', (said: Said) => {
    if (said.kind === 'ifStopped') ifStopped = said.text;
    else if (said.kind === 'listen') {
      listening = true;
      process.stdin.pipe(worker.stdin!);
    } else if (said.to === 'stderr' || ending === undefined) say(said.to, said.text, lose);
  });
  worker.on('error', (error) => {
    const memory = (error as { code?: string }).code === 'ERR_WORKER_OUT_OF_MEMORY';
    say(
      'stderr',
      memory
        ? `work/memory: the work needs more memory than there is: ${error.message}\n`
        : `defect: ${error.message}; please report it with the input\n`,
    );
    process.exitCode = memory ? 1 : 4;
  });
  worker.on('exit', (code) => {
    // What is still to be read keeps nobody waiting.
    if (listening) process.stdin.destroy();
    if (ending !== undefined) finish();
    process.exitCode ??= code;
  });
}

function terminal({ isTTY, columns }: NodeJS.WriteStream): Terminal {
  return { isTTY: isTTY === true, columns };
}

/** A full device refuses in the call, a closed pipe later. */
function say(
  to: 'stdout' | 'stderr',
  text: string | Uint8Array,
  lost: (error: Error) => void = () => {},
): void {
  try {
    process[to].write(text);
  } catch (error) {
    lost(error as Error);
  }
}
