/**
 * How much filament the beads of curved layers get, against those of the layer under them along which they run: the
 * field changes little from one layer to the next, and so does the room of a bead. Sections are compared and not widths,
 * for they need no height: on five sound programs medians over 15 mm lie between 0.72 and 1.73, widths between 0.42
 * and 1.71.
 */
import { dot, pointAt, sub, unit } from '../base/vector.js';
import { lays } from './laid-pieces.js';
import type { Trace } from './trace.js';
import type { TurningHeights } from './turning-heights.js';

/** Beads whose ways differ by less run along each other: cosine. */
const RUNS_ALONG = 0.95;
/** What lies under a bead is of the next layer where it is no deeper, in heights of the bead. */
const NEXT_SHEET = 1.5;

/** A bead over another one that it runs along. */
export interface SectionPlace {
  readonly block: number;
  /** mm */
  readonly length: number;
  /** Metered section over that of the bead under it. */
  readonly share: number;
}

export function sectionsOf(
  trace: Trace,
  height: Float64Array,
  sheet: Int32Array,
  { under, depth }: TurningHeights,
): SectionPlace[] {
  const { tip, length, volume } = trace;
  const way = (b: number): readonly [number, number, number] =>
    unit(sub(pointAt(tip, b), pointAt(tip, b - 1)));
  const section = (b: number): number => volume[b]! / length[b]!;
  const out: SectionPlace[] = [];
  for (let b = 1; b < height.length; b++) {
    const below = under[b]!;
    if (sheet[b] === 0 || below < 0 || !lays(trace, below)) continue;
    if (depth[b]! > NEXT_SHEET * height[b]! || sheet[below] === sheet[b]) continue;
    // On the table a bead is only as high as its sheet stands over it.
    if (under[below]! < 0) continue;
    if (Math.abs(dot(way(b), way(below))) < RUNS_ALONG) continue;
    out.push({ block: b, length: length[b]!, share: section(b) / section(below) });
  }
  return out;
}
