/**
 * How far the head leans from the normal of the surface in which its beads lie. A nozzle is square at its tip: leaning
 * by an angle it digs into one side of the bead and stands over the other by the radius of its flat times the sine.
 *
 * Along a bead that is the angle between the head's axis and a plane square to the way of the tip, from the bead alone.
 * Across it a bead beside tells, of its own sheet or of the one under it: the slope from tip to tip. Leans of single
 * places are those of a rough surface; what counts is the median of a stretch.
 */
import { dot } from '../base/vector.js';
import { lays } from './laid-pieces.js';
import type { Trace } from './trace.js';
import { besideOf, poseOf } from './turning-beside.js';
import type { TurningHeights } from './turning-heights.js';

/** Places along the beads are so far apart, mm. */
const LEAN_SPACING = 0.8;
/** How the head leans at a place of a bead. */
export interface LeanPlace {
  readonly block: number;
  /** Of bead that it stands for, mm. */
  readonly length: number;
  /** rad, with signs: towards the way of the tip, and to its left seen from above; 0 with no bead beside it. */
  readonly along: number;
  readonly across: number;
}

/**
 * @param sheet of each block (turning-sheets.ts)
 * @param turned all that is laid, and what lies under each bead
 */
export function leansOf(trace: Trace, sheet: Int32Array, turned: TurningHeights): LeanPlace[] {
  const { length, turning, run } = trace;
  const out: LeanPlace[] = [];
  let due = 0;
  for (let b = 1; b < trace.kind.length; b++) {
    if (!lays(trace, b) || turning[run[b]!] !== 1) continue;
    due += length[b]!;
    if (due < LEAN_SPACING) continue;
    out.push({ block: b, length: due, ...leanAt(trace, sheet, turned, b) });
    due = 0;
  }
  return out;
}

function leanAt(
  trace: Trace,
  sheet: Int32Array,
  { pieces, under, depth: depthUnder }: TurningHeights,
  b: number,
): { along: number; across: number } {
  const pose = poseOf(trace, b);
  // The sheet below is as far down as it is found under the bead itself, if that is the one.
  const isBelow = (other: number): boolean =>
    sheet[b]! - sheet[other]! === 1 && under[b]! >= 0 && sheet[under[b]!] === sheet[other];
  const sides = besideOf(
    pieces,
    b,
    pose,
    (other) => sheet[other] === sheet[b] || isBelow(other),
  ).map(
    ({ block, depth, aside }) => (depth - (sheet[block] === sheet[b] ? 0 : depthUnder[b]!)) / aside,
  );
  // A head that leans does so to both sides; one that seems to on one side alone stands beside a bead of another sheet.
  const [slope = 0] = sides.sort((x, y) => Math.abs(x) - Math.abs(y));
  const along = dot(pose.head, pose.way);
  return { along: Math.asin(Math.max(-1, Math.min(1, along))), across: Math.atan(slope) };
}
