/**
 * How far the head leans from the normal of the surface in which its beads lie. A nozzle is square at its tip: leaning
 * by an angle it digs into one side of the bead and stands over the other by the radius of its flat times the sine.
 *
 * Along a bead that is the angle between the head's axis and a plane square to the way of the tip, from the bead alone.
 * Across it a bead beside tells, of its own sheet or of the one under it: the slope from tip to tip. Leans of single
 * places are those of a rough surface; what counts is the median of a stretch.
 */
import { add, cross, dot, pointAt, scale, sub, unit } from '../base/vector.js';
import { lays } from './laid-pieces.js';
import type { Trace } from './trace.js';
import type { TurningHeights } from './turning-heights.js';

/** Places along the beads are so far apart, mm. */
const LEAN_SPACING = 0.8;
/** A bead beside is so many widths off, and so square to the way: cosine. */
const BESIDE_FROM = 0.55;
const BESIDE_TO = 1.8;
const BESIDE_SQUARE = 0.75;
/** Sheets under its own to which a bead beside may belong. */
const SHEETS_DOWN = 1;

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
  { tip, direction }: Trace,
  sheet: Int32Array,
  { pieces, under, depth: depthUnder }: TurningHeights,
  b: number,
): { along: number; across: number } {
  const [from, to] = [pointAt(tip, b - 1), pointAt(tip, b)];
  const p = scale(add(from, to), 0.5);
  const d = unit(add(pointAt(direction, b - 1), pointAt(direction, b)));
  const t = unit(sub(to, from));
  const left = unit(cross(d, t));
  const width = 2 * pieces.halfWidth(b);
  // The latest bead on either side: those of the own layer come after all others.
  const sides: (number | undefined)[] = [undefined, undefined];
  const latest = [-1, -1];
  for (const block of pieces.near(p, BESIDE_TO * width, b)) {
    const down = sheet[b]! - sheet[block]!;
    if (down < 0 || down > SHEETS_DOWN) continue;
    // The sheet below is as far down as it is found under the bead itself, if that is the one.
    if (down > 0 && (under[b]! < 0 || sheet[under[b]!] !== sheet[block])) continue;
    const v = sub(pieces.nearest(block, p), p);
    const depth = -dot(v, d);
    const aside = Math.sqrt(Math.max(0, dot(v, v) - depth * depth));
    if (aside < BESIDE_FROM * width || aside > BESIDE_TO * width) continue;
    const y = dot(v, left);
    if (Math.abs(y) < BESIDE_SQUARE * aside) continue;
    const side = y > 0 ? 0 : 1;
    if (block < latest[side]!) continue;
    latest[side] = block;
    sides[side] = (depth - (down > 0 ? depthUnder[b]! : 0)) / y;
  }
  // A head that leans does so to both sides; one that seems to on one side alone stands beside a bead of another sheet.
  const [slope = 0] = sides
    .filter((s) => s !== undefined)
    .sort((x, y) => Math.abs(x) - Math.abs(y));
  return { along: Math.asin(Math.max(-1, Math.min(1, dot(d, t)))), across: Math.atan(slope) };
}
