/**
 * A place where one piece of work is done at a time, by a child process that is started when needed and
 * ended when it exceeds its time or memory.
 */
import { type ChildProcess, fork } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { Fault } from '../../lib/index.js';
import { built } from '../built.js';
import type { Step } from './advance.js';
import {
  type ChildSettings,
  type Done,
  type FromChild,
  OVER_MEMORY,
  type Work,
} from './messages.js';
import { Share } from './share.js';

/** The child ended, or was ended, before the work was done. */
export class Ended extends Error {
  readonly why: 'memory' | 'time' | 'stopped' | 'crash';

  constructor(why: Ended['why'], message: string) {
    super(message);
    this.name = 'Ended';
    this.why = why;
  }
}

export interface Bench {
  /**
   * @throws Fault as the work threw it; Ended; Error with the message of a defect
   */
  perform<W extends Work>(work: W, seconds: number, watch?: BenchWatch): Promise<Done<W>>;
  /** Ends the child at once; work that was going on rejects with Ended `stopped`. */
  end(): void;
}

export interface BenchWatch {
  progress(event: Step): void;
}

interface Task {
  readonly watch: BenchWatch | undefined;
  readonly timer: NodeJS.Timeout;
  resolve(result: unknown): void;
  reject(error: Error): void;
}

/** A child, what its error stream says, and why it was ended if it was. */
interface Child {
  readonly process: ChildProcess;
  task?: Task;
  ended?: Ended;
  complaint: string;
}

export function openBench(settings: ChildSettings, share = new Share(Infinity)): Bench {
  let child: Child | undefined;

  const end = (which: Child, why: Ended): void => {
    which.ended ??= why;
    which.process.kill('SIGKILL');
    // The next work gets a new child, though this one may still be ending.
    if (child === which) child = undefined;
  };
  const start = (): Child => {
    const made: Child = { process: spawn(settings), complaint: '' };
    const { process } = made;
    process.stderr!.on('data', (text: Buffer) => {
      made.complaint = `${made.complaint}${text}`.slice(-2000);
    });
    process.on('message', (message: FromChild) => hear(made, message, share));
    // 'close' comes after the streams have ended, so the complaint is whole.
    process.on('close', (code, signal) => {
      share.gone(process);
      if (child === made) child = undefined;
      settle(made, (t) => t.reject(made.ended ?? causeOf(code, signal, made.complaint, settings)));
    });
    process.on('error', (error) => settle(made, (t) => t.reject(error)));
    return made;
  };
  return {
    perform<W extends Work>(work: W, seconds: number, watch?: BenchWatch) {
      const at = (child ??= start());
      if (at.task) throw new Error('a bench does one piece of work at a time');
      return new Promise<Done<W>>((resolve, reject) => {
        const late = `took longer than ${seconds} s`;
        const timer = setTimeout(() => end(at, new Ended('time', late)), seconds * 1000);
        at.task = { watch, timer, resolve: resolve as (result: unknown) => void, reject };
        // A failed send means that the child is ending, which 'close' reports.
        at.process.send({ kind: 'work', work }, () => {});
      });
    },
    end() {
      if (child) end(child, new Ended('stopped', 'was stopped'));
    },
  };
}

function hear(child: Child, message: FromChild, share: Share): void {
  const { process } = child;
  switch (message.kind) {
    case 'progress':
      return child.task?.watch?.progress(message.progress);
    case 'want':
      return share.want(process, () => {
        if (process.connected) process.send({ kind: 'granted' }, () => {});
      });
    case 'giveBack':
      return share.giveBack(process);
    case 'done':
      return settle(child, (t) => t.resolve(message.result));
    case 'fault':
      return settle(child, (t) => t.reject(Fault.fromData(message.fault)));
    case 'defect':
      return settle(child, (t) => t.reject(new Error(message.message)));
  }
}

function settle(child: Child, finish: (task: Task) => void): void {
  const { task } = child;
  if (!task) return;
  clearTimeout(task.timer);
  delete child.task;
  finish(task);
}

function spawn(settings: ChildSettings): ChildProcess {
  return fork(fileURLToPath(built('runner/child.js')), [JSON.stringify(settings)], {
    execArgv: [`--max-old-space-size=${settings.memoryMb}`],
    env: { PATH: process.env['PATH'] },
    serialization: 'advanced',
    stdio: ['ignore', 'ignore', 'pipe', 'ipc'],
  });
}

function causeOf(
  code: number | null,
  signal: string | null,
  complaint: string,
  { memoryMb }: ChildSettings,
): Ended {
  if (complaint.includes(OVER_MEMORY) || /heap out of memory/.test(complaint))
    return new Ended('memory', `needed more than ${memoryMb} MB of memory`);
  return new Ended('crash', `its process ended (${signal ?? `exit ${code}`})`);
}
