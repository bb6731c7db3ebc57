/**
 * How much filament the beads of curved layers get, against those of the layer under them along which they run: the
 * field changes little from one layer to the next, and so does the room of a bead. Lines of fill cross those of the
 * layer under them and run along those of the one under that, or of one more. Sections are compared and not widths,
 * for they need no height: on five sound programs medians over 15 mm lie between 0.72 and 1.73, widths between 0.42
 * and 1.71.
 */
import { dot, length, sub } from '../base/vector.js';
import { type LaidPieces, lays } from './laid-pieces.js';
import type { Trace } from './trace.js';
import { poseOf } from './turning-beside.js';
import type { TurningHeights } from './turning-heights.js';

/** Beads whose ways differ by less run along each other: cosine. */
const RUNS_ALONG = 0.95;
/** What lies under a bead is of the next layer where it is no deeper, in heights of the bead. */
const NEXT_SHEET = 1.5;

/** Lines of fill lie over one that runs along them within so many layers, and no farther off than this, mm. */
const LINES_TURN = 3;
const LINE_REACH = 1.5;
/** Places along beads that cross what lies under them are so far apart, mm. */
const CROSSING_SPACING = 0.8;

/** A bead over another one that it runs along. */
export interface SectionPlace {
  readonly block: number;
  /** Of bead that it stands for, mm. */
  readonly length: number;
  /** Metered section over that of the bead under it. */
  readonly share: number;
}

export function sectionsOf(
  trace: Trace,
  height: Float64Array,
  sheet: Int32Array,
  { pieces, under, depth }: TurningHeights,
): SectionPlace[] {
  const { volume } = trace;
  const section = (b: number): number => volume[b]! / trace.length[b]!;
  const out: SectionPlace[] = [];
  let due = 0;
  for (let b = 1; b < height.length; b++) {
    const below = under[b]!;
    if (sheet[b] === 0) continue;
    const lies = below >= 0 && lays(trace, below) && depth[b]! <= NEXT_SHEET * height[b]!;
    if (lies && sheet[below] !== sheet[b] && runsAlong(trace, b, below)) {
      // On the table a bead is only as high as its sheet stands over it.
      if (under[below]! < 0) continue;
      out.push({ block: b, length: trace.length[b]!, share: section(b) / section(below) });
      continue;
    }
    due += trace.length[b]!;
    if (due < CROSSING_SPACING) continue;
    const line = lineUnder(trace, pieces, sheet, b);
    if (line >= 0) out.push({ block: b, length: due, share: section(b) / section(line) });
    due = 0;
  }
  return out;
}

/** The nearest bead of the last layers that runs along the middle of a block, off the table; -1 for none. */
function lineUnder(trace: Trace, pieces: LaidPieces, sheet: Int32Array, b: number): number {
  const { tip } = poseOf(trace, b);
  let [found, least] = [-1, LINE_REACH];
  for (const other of pieces.near(tip, LINE_REACH, b)) {
    const lower = sheet[b]! - sheet[other]!;
    if (lower < 1 || lower > LINES_TURN || sheet[other]! <= 1) continue;
    const off = length(sub(pieces.nearest(other, tip), tip));
    if (off < least && runsAlong(trace, b, other)) [found, least] = [other, off];
  }
  return found;
}

const runsAlong = (trace: Trace, a: number, b: number): boolean =>
  Math.abs(dot(poseOf(trace, a).way, poseOf(trace, b).way)) >= RUNS_ALONG;
