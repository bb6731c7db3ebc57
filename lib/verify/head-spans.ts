/**
 * The head against all that stands, in spans of a program that are judged by themselves once what was laid before each
 * of them stands. A span begins where the head turns, so that no map of heights goes over its beginning. Spans follow
 * from the program alone, and one that is judged after another forgets what that saw: the same touches are found,
 * whoever judges which.
 */
import type { Machine } from '../machine/machine.js';
import type { HeadTouch } from './contact.js';
import { Grids } from './grids.js';
import { Headroom, sameDirection } from './headroom.js';
import type { Heights } from './layers.js';
import { PlainDeposit } from './laying.js';
import { type Meeting, Meetings } from './meeting.js';
import { type Trace, TraceKind } from './trace.js';

/** A span has at least so many blocks, for all before it is laid again; and there are no more of them than that. */
const LEAST_BLOCKS = 10_000;
const MOST_SPANS = 8;

/** Blocks `from` to `to` (exclusive). */
export interface CheckSpan {
  readonly from: number;
  readonly to: number;
}

export interface HeadFindings {
  readonly touches: readonly HeadTouch[];
  readonly meetings: readonly Meeting[];
}

/** All blocks of a program in spans as long as each other. */
export function evenSpans({ kind }: Trace): CheckSpan[] {
  const count = Math.min(MOST_SPANS, Math.max(1, Math.floor(kind.length / LEAST_BLOCKS)));
  const at = (n: number): number => Math.round((n * kind.length) / count);
  return Array.from({ length: count }, (_, n) => ({ from: at(n), to: at(n + 1) }));
}

/** The same, each but the first beginning where the head turns. */
export function headSpans(trace: Trace): CheckSpan[] {
  const { kind, direction, run, runStart, turning } = trace;
  const turns = (b: number): boolean => {
    const r = run[b]!;
    const inRun = turning[r] === 1 && kind[b] !== TraceKind.transfer && b >= runStart[r]!;
    return inRun || !sameDirection(direction, b - 1, b);
  };
  const starts = [0];
  for (const { from } of evenSpans(trace).slice(1)) {
    let b = Math.max(from, starts.at(-1)! + 1);
    while (b < kind.length && !turns(b)) b++;
    if (b < kind.length) starts.push(b);
  }
  return starts.map((from, n) => ({ from, to: starts[n + 1] ?? kind.length }));
}

/** Judges the head block by block. */
export class HeadWatch {
  readonly #trace: Trace;
  readonly #headroom: Headroom;
  readonly #meetings: Meetings;
  readonly #starts: ReadonlySet<number>;

  /** @param grids what is laid so far, whenever it is asked */
  constructor(trace: Trace, heights: Heights, machine: Machine, grids: Grids) {
    this.#trace = trace;
    this.#headroom = new Headroom(trace, machine, grids, heights);
    this.#meetings = new Meetings(trace, machine, grids.corner);
    this.#starts = new Set(headSpans(trace).map(({ from }) => from));
  }

  /** Judges the path of block b, before its bead is laid. */
  before(b: number): void {
    if (this.#starts.has(b)) {
      this.#headroom.forget();
      this.#meetings.forget();
    }
    const turning = !this.#headroom.before(b);
    this.#meetings.before(b, turning);
  }

  /** The bead of block b stands from now on. */
  after(b: number): void {
    if (this.#trace.kind[b] !== TraceKind.deposit) return;
    this.#headroom.after(b);
    this.#meetings.after(b);
  }

  /** The same for a block that is not judged. */
  passed(b: number): void {
    if (this.#trace.kind[b] === TraceKind.deposit) this.#meetings.after(b);
  }

  found(): HeadFindings {
    return { touches: this.#headroom.touches, meetings: this.#meetings.found };
  }
}

/** Judges a span of `headSpans` by itself. */
export function headIn(
  trace: Trace,
  heights: Heights,
  machine: Machine,
  { from, to }: CheckSpan,
): HeadFindings {
  const grids = Grids.for(trace, heights, machine.nozzle.diameter);
  const deposit = new PlainDeposit(trace, heights, machine, grids);
  const head = new HeadWatch(trace, heights, machine, grids);
  for (let b = 0; b < from; b++) {
    deposit.block(b);
    head.passed(b);
  }
  for (let b = from; b < to; b++) {
    head.before(b);
    deposit.block(b);
    head.after(b);
  }
  return head.found();
}
