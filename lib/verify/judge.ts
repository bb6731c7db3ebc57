/** Findings from the print in the computer, and its figures: what hangs, what touches, what is too full. */
import type { BoxTree } from '../mesh/bvh.js';
import { reportOverfull } from './overfull.js';
import { placeOn } from './place.js';
import type { Print } from './print.js';
import type { Tally } from './tally.js';
import type { Trace } from './trace.js';
import { placeOf } from './walk.js';

/** Figures of what is laid. */
export interface PrintFigures {
  /** Edge of the widest cells in which what is laid is held, across the layers' direction, mm. */
  readonly edgeMm: number;
  /** Usual height and width of a bead (from the levels of the tip and the metered section), mm. */
  readonly heightMm: number;
  readonly widthMm: number;
  readonly layers: number;
  readonly lengthMm: number;
  readonly inAirMm: number;
  readonly inAirShare: number;
  /** Carried at both ends alone: bridges and fill that crosses fill, mm. */
  readonly bridgedMm: number;
  /** Metered on moves, and room that it takes up: less where beads overlap, mm3. */
  readonly meteredMm3: number;
  readonly filledMm3: number;
  /** Material for which there is no room, in cells that get a quarter too much or more, mm3. */
  readonly overfullMm3: number;
  readonly touches: number;
}

/**
 * Shares of the length that may hang: in the open, where it shows and what is above sags with it, and
 * inside, between beads of sparse fill, where the next layers close over it.
 */
const MOST_HANGING = { open: 1e-3, fill: 5e-3 } as const;
/** Hanging stretches up to this length are only noted, mm. */
const SHORT_HANGING = 1;

export function judgePrint(
  trace: Trace,
  print: Print,
  part: BoxTree | undefined,
  tally: Tally,
): PrintFigures {
  const { grids, heights, stretches } = print;
  for (const { block, length } of stretches.hanging) {
    const short = length <= SHORT_HANGING;
    const code = short ? 'verify/in-air-short' : 'verify/in-air';
    tally.add(
      code,
      short ? 'note' : 'warning',
      length,
      () => ({
        message: `${length.toFixed(2)} mm of bead hang in the air: nothing within three quarters of a layer under them, and no bridge`,
        at: placeOf(trace, block),
      }),
      { run: trace.run[block]!, amount: length, unit: 'mm' },
    );
  }
  reportShares(trace, print, part !== undefined, tally);
  reportTouches(trace, print, tally);
  return {
    edgeMm: grids.edge,
    heightMm: heights.usual,
    widthMm: heights.width,
    layers: heights.layerStart.length,
    lengthMm: print.length,
    inAirMm: stretches.inAir,
    inAirShare: print.length > 0 ? stretches.inAir / print.length : 0,
    bridgedMm: stretches.bridged,
    meteredMm3: print.metered,
    filledMm3: print.filled,
    overfullMm3: reportOverfull(trace, print, part, tally),
    touches: print.touches.length + print.meetings.length,
  };
}

/** @param known whether the part is: otherwise nothing distinguishes fill from the open */
function reportShares(
  trace: Trace,
  { stretches: { hanging }, length }: Print,
  known: boolean,
  tally: Tally,
): void {
  for (const where of ['open', 'fill'] as const) {
    const list = hanging.filter((s) => (known && s.overFill) === (where === 'fill'));
    const sum = list.reduce((all, s) => all + s.length, 0);
    // Where all filament only primes what was drawn back, blocks that should lay a bead lay none.
    const share = length > 0 ? sum / length : 0;
    if (!(share > MOST_HANGING[where])) continue;
    const first = list.reduce((a, b) => (b.length > a.length ? b : a));
    const place = where === 'fill' ? ' between beads of fill' : '';
    tally.add('verify/in-air-share', 'error', share, () => ({
      message: `${sum.toFixed(1)} mm of ${length.toFixed(0)} mm of bead hang in the air${place} (${(100 * share).toFixed(2)}%, the limit is ${100 * MOST_HANGING[where]}%); the longest stretch has ${first.length.toFixed(1)} mm`,
      at: placeOf(trace, first.block),
    }));
  }
}

function reportTouches(trace: Trace, print: Print, tally: Tally): void {
  for (const touch of print.touches) {
    tally.add('verify/touch', 'error', touch.depth, () => ({
      message: `the head is in ${touch.what}: ${touch.depth.toFixed(2)} mm deep, ${touch.above.toFixed(1)} mm above the tip`,
      at: placeOn(trace, touch.block, touch.point),
    }));
  }
  for (const meeting of print.meetings) {
    tally.add('verify/touch', 'error', 0, () => {
      const { block, point, words } = meeting;
      const at = point ? placeOn(trace, block, point) : placeOf(trace, block);
      return { message: words, at };
    });
  }
}
