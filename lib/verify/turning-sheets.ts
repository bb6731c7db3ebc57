/**
 * The sheets of a run in which the head turns: which beads were laid as one layer. A program does not say so where its
 * comments are gone, but what lies under a bead does: its sheet is the next after that of most of what it lies over, or
 * so many more as that is deeper. Of a bead that lies on the table or over a gap of the fill the beads beside it tell: it
 * is of their sheet, or so many further as they are lower along the head's axis. Sheets are laid one after the other, so
 * one of which nothing at all is known is of the sheet in work. A number that is passed over is a sheet that is not
 * there, unless most of what lies over it says otherwise: the first beads of a sheet may lie over a gap.
 */
import { lays } from './laid-pieces.js';
import type { Trace } from './trace.js';
import { besideOf, poseOf } from './turning-beside.js';
import type { TurningHeights } from './turning-heights.js';

/** Places along beads with nothing under them are so far apart, mm. */
const BESIDE_SPACING = 0.8;

/** Of each block the number of its sheet, counted from one; 0 where nothing is laid while the head turns. */
export function sheetsOf(trace: Trace, height: Float64Array, turned: TurningHeights): Int32Array {
  const { under, depth } = turned;
  const sheet = new Int32Array(under.length);
  const { turning, run, length } = trace;
  const turns = (b: number): boolean => lays(trace, b) && turning[run[b]!] === 1;
  let inWork = 1;
  /** Of each sheet the length of bead that says its number, less that which says a lower one, mm. */
  const saidBy: number[] = [];
  for (let first = 1, end; first < under.length; first = end) {
    end = first + 1;
    if (!turns(first)) continue;
    while (end < under.length && turns(end)) end++;
    const votes = new Map<number, number>();
    const vote = (own: number, mm: number): void => {
      votes.set(own, (votes.get(own) ?? 0) + mm);
    };
    let due = 0;
    for (let b = first; b < end; b++) {
      const below = under[b]! >= first ? 0 : (sheet[under[b]!] ?? 0);
      if (below > 0) {
        vote(below + Math.max(1, Math.round(depth[b]! / height[b]!)), length[b]!);
        continue;
      }
      due += length[b]!;
      if (due < BESIDE_SPACING) continue;
      for (const beside of besideOf(turned.pieces, b, poseOf(trace, b), (k) => k < first)) {
        const lower = Math.max(0, Math.round(beside.depth / height[b]!));
        if (sheet[beside.block]! > 0) vote(sheet[beside.block]! + lower, due);
      }
      due = 0;
    }
    const [most] = [...votes].sort(([, x], [, y]) => y - x)[0] ?? [inWork];
    inWork = Math.max(inWork, most);
    sheet.fill(inWork, first, end);
    const said = votes.get(most) ?? 0;
    saidBy[inWork] = (saidBy[inWork] ?? 0) + (most < inWork ? -said : said);
  }
  return withoutGaps(sheet, saidBy);
}

/** The same without numbers that are passed over where most of the next sheet says a lower one. */
function withoutGaps(sheet: Int32Array, saidBy: readonly number[]): Int32Array {
  let passed = 0;
  const number = Array.from({ length: saidBy.length }, (_, k) => {
    if (k > 0 && saidBy[k] === undefined && (saidBy[k + 1] ?? 0) < 0) passed++;
    return k - passed;
  });
  return sheet.map((k) => number[k] ?? 0);
}
