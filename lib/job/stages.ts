/**
 * Runs the stages of a job one after another: reports progress, takes times, and keeps records where
 * wanted.
 */
import { type Watch, step } from '../base/watch.js';
import { type StageStore, kept } from './kept-stages.js';
import type { StageTime } from '../report/report.js';

export interface StageTools {
  /** Seconds since any fixed moment; lib never reads a clock itself. */
  readonly clock: () => number;
  readonly watch?: Watch;
  /** Where finished stages are kept; left out: nowhere. */
  readonly keep?: StageStore;
}

/** Times of the stages, in the order in which they ran. */
export class Stages {
  readonly times: StageTime[] = [];
  readonly #tools: StageTools;

  constructor(tools: StageTools) {
    this.#tools = tools;
  }

  now<T>(name: string, work: () => T): T {
    const from = this.#begin(name);
    const result = work();
    this.#end(name, from);
    return result;
  }

  async later<T>(name: string, work: () => Promise<T>): Promise<T> {
    const from = this.#begin(name);
    const result = await work();
    this.#end(name, from);
    return result;
  }

  /** A stage whose record may have been kept by an earlier run with equal inputs. */
  async kept<T>(name: string, inputs: unknown, work: () => Promise<T>): Promise<T> {
    return this.later(name, () => kept(this.#tools.keep, name, inputs, work));
  }

  #begin(name: string): number {
    step(this.#tools.watch, name, 0, 1);
    return this.#tools.clock();
  }

  #end(name: string, from: number): void {
    this.times.push({ name, seconds: this.#tools.clock() - from });
    step(this.#tools.watch, name, 1, 1);
  }
}
