/**
 * The print in the computer as a whole, from a trace, the machine and, if it is known, the part: the grid
 * of what is laid, stretches in the air, touches and cells that are too full.
 */
import { BOUNDS } from '../base/bounds.js';
import { type Watch, step } from '../base/watch.js';
import type { Vec3 } from '../base/vector.js';
import type { Machine } from '../machine/machine.js';
import type { BoxTree } from '../mesh/bvh.js';
import { windingNumbers } from '../mesh/query.js';
import { type VolumeCell, Deposit } from './deposit.js';
import { FirstBeads, type Start } from './first-bead.js';
import type { Grid } from './grid.js';
import type { HeadTouch } from './contact.js';
import { Headroom } from './headroom.js';
import { type Heights, heightsOf } from './layers.js';
import { type Meeting, Meetings } from './meeting.js';
import type { Stretches } from './hanging-stretches.js';
import { type Trace, TraceKind } from './trace.js';

export interface Print {
  readonly grid: Grid;
  readonly heights: Heights;
  /** Widest bead that is laid, mm. */
  readonly widest: number;
  /** Layers that begin anew, and what they lie on. */
  readonly starts: readonly Start[];
  readonly stretches: Stretches;
  readonly cells: ReadonlyMap<number, VolumeCell>;
  /** mm */
  readonly length: number;
  /** Metered on moves, mm3. */
  readonly metered: number;
  readonly touches: readonly HeadTouch[];
  readonly meetings: readonly Meeting[];
}

/** The grid is as fine as half a layer and a quarter of a bead's width. */
const HALF_LAYER = 0.5;
const QUARTER_BEAD = 0.25;

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
  const edge = Math.max(
    BOUNDS.finestMm,
    Math.min(HALF_LAYER * heights.usual, QUARTER_BEAD * heights.width),
  );
  const inside =
    (tree: BoxTree) =>
    (p: Vec3): boolean =>
      (windingNumbers(tree, p).get(0) ?? 0) > 0;
  const known = part && { inside: inside(part), theta };
  const deposit = new Deposit(trace, heights, machine, edge, known, span);
  const firstBeads = new FirstBeads(trace, heights, machine, deposit.grid);
  const headroom = new Headroom(trace, machine, deposit.grid, heights);
  const meetings = new Meetings(trace, machine, deposit.grid);
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
  const { grid, stretches, cells, length, metered } = deposit;
  return {
    grid,
    heights,
    widest: BOUNDS.beadBores * machine.nozzle.diameter,
    starts: firstBeads.take(),
    stretches,
    cells,
    length,
    metered,
    touches: headroom.touches,
    meetings: meetings.found,
  };
}
