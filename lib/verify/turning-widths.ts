/**
 * How wide the filament makes the beads of curved layers, against those of the layer under them along which they run:
 * the field changes little from one layer to the next, and so does the room between beads.
 */
import { dot, pointAt, sub, unit } from '../base/vector.js';
import { lays } from './laid-pieces.js';
import type { Trace } from './trace.js';
import type { TurningHeights } from './turning-heights.js';

/** Beads whose ways differ by less run along each other: cosine. */
const ALONGSIDE = 0.95;
/** What lies under a bead is of the next layer where it is no deeper, in heights of the bead. */
const NEXT = 1.5;

/** A bead over another one that it runs along. */
export interface WidthPlace {
  readonly block: number;
  /** mm */
  readonly length: number;
  /** Width over that of the bead under it. */
  readonly share: number;
}

export function widthsOf(
  trace: Trace,
  height: Float64Array,
  sheet: Int32Array,
  { under, depth }: TurningHeights,
): WidthPlace[] {
  const { tip, length, volume } = trace;
  const way = (b: number): readonly [number, number, number] =>
    unit(sub(pointAt(tip, b), pointAt(tip, b - 1)));
  const width = (b: number): number => volume[b]! / length[b]! / height[b]!;
  const out: WidthPlace[] = [];
  for (let b = 1; b < height.length; b++) {
    const below = under[b]!;
    if (sheet[b] === 0 || below < 0 || !lays(trace, below)) continue;
    if (depth[b]! > NEXT * height[b]! || sheet[below] === sheet[b]) continue;
    if (Math.abs(dot(way(b), way(below))) < ALONGSIDE) continue;
    out.push({ block: b, length: length[b]!, share: width(b) / width(below) });
  }
  return out;
}
