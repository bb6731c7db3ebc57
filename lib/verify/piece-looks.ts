/**
 * What lies under the pieces of beads. It follows from the paths alone, not from what other looks found, so the looks of
 * different stretches of a program may be taken side by side.
 */
import type { BoxTree } from '../mesh/bvh.js';
import { windingNumbers } from '../mesh/query.js';
import { BOUNDS } from '../base/bounds.js';
import type { Machine } from '../machine/machine.js';
import { BeadPieces } from './bead-pieces.js';
import {
  type KnownPart,
  type PiecePlace,
  type Support,
  BeadSupport,
  onFaceOf,
} from './bead-support.js';
import type { Grids } from './grids.js';
import type { Heights } from './layers.js';
import { type Trace, TraceKind } from './trace.js';
import { TurningSupport } from './turning-support.js';

/** Samples across a bead, as shares of its width from its middle. */
const SHARES_ACROSS = [-0.4, -0.2, 0, 0.2, 0.4] as const;

/** What lies under the pieces of blocks `from` to `to` (exclusive). */
export interface PieceLooks {
  readonly from: number;
  readonly to: number;
  /** Pieces of block b are `start[b - from] .. start[b - from + 1]`. */
  readonly start: Uint32Array;
  /** Of each piece how many of the samples across it rest on something. */
  readonly resting: Uint8Array;
  /** mm2 of each piece that hang in the open. */
  readonly air: Float64Array;
}

/** How many of the samples across a piece find something under them. */
export function restingOf(support: Support, place: PiecePlace): number {
  let resting = 0;
  for (const share of SHARES_ACROSS) {
    if (support.rests(place, 2 * place.halfWidth * share)) resting++;
  }
  return resting;
}

/** What of a piece hangs in the open, mm2. */
export const airOf = (
  support: Support,
  place: PiecePlace,
  resting: number,
  length: number,
): number => (resting < SHARES_ACROSS.length ? length * support.beyond(place) : 0);

/** The part as looks ask it. */
export const knownPart = (tree: BoxTree, theta: number): KnownPart => ({
  inside: (p) => (windingNumbers(tree, p).get(0) ?? 0) > 0,
  theta,
});

/** What lies under the beads of runs in levels and of those in which the head turns. */
export class Supports {
  readonly #trace: Trace;
  readonly #levels: Support;
  readonly #turned: Support | undefined;

  constructor(trace: Trace, heights: Heights, machine: Machine, part: KnownPart | undefined) {
    this.#trace = trace;
    this.#levels = new BeadSupport(trace, heights, machine, part);
    const { turned } = heights;
    this.#turned = turned && new TurningSupport(turned.pieces, part, onFaceOf(machine));
  }

  /** For the bead of a block, which comes next; blocks come in order. */
  aim(block: number, height: number): Support {
    const { run, turning } = this.#trace;
    const support = this.#turned && turning[run[block]!] === 1 ? this.#turned : this.#levels;
    support.aim(block, height);
    return support;
  }
}

/** Looks under the pieces of blocks `from` to `to` (exclusive). @param grids whose cells say how long a piece is */
export function looksUnder(
  trace: Trace,
  heights: Heights,
  machine: Machine,
  part: KnownPart | undefined,
  grids: Grids,
  { from, to }: Pick<PieceLooks, 'from' | 'to'>,
): PieceLooks {
  const pieces = new BeadPieces(trace, heights.height, widestOf(machine), grids);
  const supports = new Supports(trace, heights, machine, part);
  const start = new Uint32Array(to - from + 1);
  const resting: number[] = [];
  const air: number[] = [];
  for (let b = from; b < to; b++) {
    if (isLaid(trace, b) && pieces.aim(b)) {
      const support = supports.aim(b, pieces.height);
      for (let n = 0; n < pieces.count; n++) {
        pieces.place(n);
        const found = restingOf(support, pieces.here);
        resting.push(found);
        air.push(airOf(support, pieces.here, found, 2 * pieces.halfLength));
      }
    }
    start[b - from + 1] = resting.length;
  }
  return { from, to, start, resting: Uint8Array.from(resting), air: Float64Array.from(air) };
}

/** Whether block b lays a bead, however short. */
export const isLaid = ({ kind, volume }: Trace, b: number): boolean =>
  b > 0 && kind[b] === TraceKind.deposit && volume[b]! > 0;

/** No bead is taken as wider, mm. */
export const widestOf = ({ nozzle }: Machine): number => BOUNDS.beadBores * nozzle.diameter;
