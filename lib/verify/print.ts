/**
 * The print in the computer as a whole, from a trace, the machine and, if it is known, the part: the grids
 * of what is laid, stretches in the air, touches and cells that are too full.
 */
import { type Watch, step } from '../base/watch.js';
import type { Machine } from '../machine/machine.js';
import type { BoxTree } from '../mesh/bvh.js';
import { type VolumeCell, Deposit } from './deposit.js';
import { FirstBeads, type Start } from './first-bead.js';
import { Grids } from './grids.js';
import { type Heights, heightsOf } from './layers.js';
import { type HeadFindings, HeadWatch } from './head-spans.js';
import { type PieceLooks, knownPart, widestOf } from './piece-looks.js';
import type { Stretches } from './hanging-stretches.js';
import type { Trace } from './trace.js';

export interface Print extends HeadFindings {
  readonly grids: Grids;
  readonly heights: Heights;
  /** Widest bead that is laid, mm. */
  readonly widest: number;
  /** Layers that begin anew, and what they lie on. */
  readonly starts: readonly Start[];
  readonly stretches: Stretches;
  /** By key, of each grid. */
  readonly cells: readonly ReadonlyMap<number, VolumeCell>[];
  /** mm */
  readonly length: number;
  /** Metered on moves, and room that it takes up, mm3. */
  readonly metered: number;
  readonly filled: number;
}

/** What of a print is known beforehand, because it was found elsewhere. */
export interface FoundBefore {
  readonly heights: Heights;
  readonly looks: readonly PieceLooks[];
}

/**
 * @param span longest bridge, mm
 * @param theta steepest self-supporting angle, rad
 * @returns undefined if the trace lays nothing
 */
export function printOf(
  trace: Trace,
  machine: Machine,
  part: BoxTree | undefined,
  span: number,
  theta: number,
  watch?: Watch,
): Print | undefined {
  if (trace.runStart.length === 0) return undefined;
  const heights = heightsOf(trace, machine.nozzle.diameter);
  const grids = Grids.for(trace, heights, machine.nozzle.diameter);
  const head = new HeadWatch(trace, heights, machine, grids);
  const deposit = new Deposit(trace, heights, machine, grids, part && knownPart(part, theta), span);
  const laid = lay(trace, machine, { heights, grids, deposit }, head, watch);
  return { ...laid, ...head.found() };
}

/** The same with what is found elsewhere, but for what the head touches. */
export function printWith(
  { heights, looks }: FoundBefore,
  trace: Trace,
  machine: Machine,
  part: BoxTree | undefined,
  span: number,
  theta: number,
  watch?: Watch,
): Omit<Print, keyof HeadFindings> {
  const grids = Grids.for(trace, heights, machine.nozzle.diameter);
  const known = part && knownPart(part, theta);
  const deposit = new Deposit(trace, heights, machine, grids, known, span, looks);
  return lay(trace, machine, { heights, grids, deposit }, undefined, watch);
}

function lay(
  trace: Trace,
  machine: Machine,
  { heights, grids, deposit }: { heights: Heights; grids: Grids; deposit: Deposit },
  head: HeadWatch | undefined,
  watch: Watch | undefined,
): Omit<Print, keyof HeadFindings> {
  const firstBeads = new FirstBeads(trace, heights, machine, grids);
  const blocks = trace.kind.length;
  for (let b = 0; b < blocks; b++) {
    if (b % 10_000 === 0) step(watch, 'print', b, blocks);
    head?.before(b);
    firstBeads.before(b);
    deposit.block(b);
    head?.after(b);
  }
  deposit.stretches.end();
  step(watch, 'print', blocks, blocks);
  const { stretches, cells, length, metered, filled } = deposit;
  return {
    grids,
    heights,
    widest: widestOf(machine),
    starts: firstBeads.take(),
    stretches,
    cells,
    length,
    metered,
    filled,
  };
}
