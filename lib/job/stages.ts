/**
 * Runs the stages of a job one after another: reports progress, takes times, and keeps records where
 * wanted.
 *
 * The processor time of a stage is that of the whole process while the stage lasted. As stages do not
 * overlap, this counts the threads of a pool, and what they leave to other threads: compiling and
 * collecting garbage, which a thread that measures itself does not see. (Node 20 cannot measure one
 * thread at all.)
 */
import { type Watch, step } from '../base/watch.js';
import { type StageStore, kept } from './kept-stages.js';
import type { StageTime, TimeTaken, Timing } from '../report/report.js';

export interface StageTools {
  /** Seconds since any fixed moment; lib never reads a clock itself. */
  readonly clock: () => number;
  /** Processor time of all threads of the process so far, s; left out: it is not told. */
  readonly cpuClock?: () => number;
  readonly watch?: Watch;
  /** Where finished stages are kept; left out: nowhere. */
  readonly keep?: StageStore;
}

/** The stages of one job, with their times. */
export class Stages {
  readonly #tools: StageTools;
  readonly #start: TimeTaken;
  readonly #times: StageTime[] = [];
  #running: { readonly name: string; readonly from: TimeTaken } | undefined;

  constructor(tools: StageTools) {
    this.#tools = tools;
    this.#start = this.#moment();
  }

  /** A stage that is over when `work` returns. */
  now<T>(name: string, work: () => T): T {
    this.#begin(name);
    const result = work();
    this.#end(name);
    return result;
  }

  /** A stage that is over when the promise of `work` is kept. */
  async later<T>(name: string, work: () => Promise<T>): Promise<T> {
    this.#begin(name);
    const result = await work();
    this.#end(name);
    return result;
  }

  /** A stage whose record may have been kept by an earlier run with equal inputs. */
  async kept<T>(name: string, inputs: unknown, work: () => Promise<T>): Promise<T> {
    return this.later(name, () => kept(this.#tools.keep, name, inputs, work));
  }

  /** Times of the stages in the order in which they ran, the one that runs up to now, and of all together. */
  timing(): Timing {
    const running = this.#running;
    const stages = running
      ? [...this.#times, { name: running.name, ...this.#since(running.from) }]
      : [...this.#times];
    return { took: this.#since(this.#start), stages };
  }

  #begin(name: string): void {
    step(this.#tools.watch, name, 0, 1);
    this.#running = { name, from: this.#moment() };
  }

  #end(name: string): void {
    this.#times.push({ name, ...this.#since(this.#running!.from) });
    this.#running = undefined;
    step(this.#tools.watch, name, 1, 1);
  }

  /** Of both clocks, since the fixed moment of each. */
  #moment(): TimeTaken {
    const { clock, cpuClock } = this.#tools;
    return { seconds: clock(), ...(cpuClock && { cpuSeconds: cpuClock() }) };
  }

  #since(from: TimeTaken): TimeTaken {
    const { seconds, cpuSeconds } = this.#moment();
    return {
      seconds: seconds - from.seconds,
      ...(cpuSeconds !== undefined && { cpuSeconds: cpuSeconds - from.cpuSeconds! }),
    };
  }
}
