/**
 * The print in the computer as a whole, from a trace, the machine and, if it is known, the part: the grids
 * of what is laid, stretches in the air, touches and cells that are too full.
 */
import { BOUNDS } from '../base/bounds.js';
import { type Watch, step } from '../base/watch.js';
import type { Machine } from '../machine/machine.js';
import type { BoxTree } from '../mesh/bvh.js';
import { type VolumeCell, Deposit } from './deposit.js';
import { FirstBeads, type Start } from './first-bead.js';
import { Grids } from './grids.js';
import type { HeadTouch } from './contact.js';
import { Headroom } from './headroom.js';
import { type Heights, heightsOf } from './layers.js';
import { type Meeting, Meetings } from './meeting.js';
import { knownPart } from './piece-looks.js';
import type { Stretches } from './hanging-stretches.js';
import { type Trace, TraceKind } from './trace.js';

export interface Print {
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
  readonly touches: readonly HeadTouch[];
  readonly meetings: readonly Meeting[];
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
  const known = part && knownPart(part, theta);
  const deposit = new Deposit(trace, heights, machine, grids, known, span);
  const firstBeads = new FirstBeads(trace, heights, machine, grids);
  const headroom = new Headroom(trace, machine, grids, heights);
  const meetings = new Meetings(trace, machine, grids.corner);
  const blocks = trace.kind.length;
  for (let b = 0; b < blocks; b++) {
    if (b % 10_000 === 0) step(watch, 'print', b, blocks);
    const turning = !headroom.before(b);
    meetings.before(b, turning);
    firstBeads.before(b);
    deposit.block(b);
    if (trace.kind[b] !== TraceKind.deposit) continue;
    headroom.after(b);
    meetings.after(b);
  }
  deposit.stretches.end();
  step(watch, 'print', blocks, blocks);
  const { stretches, cells, length, metered, filled } = deposit;
  return {
    grids,
    heights,
    widest: BOUNDS.beadBores * machine.nozzle.diameter,
    starts: firstBeads.take(),
    stretches,
    cells,
    length,
    metered,
    filled,
    touches: headroom.touches,
    meetings: meetings.found,
  };
}
