/**
 * What one layer is like by itself: how full the room between its beads is, how wide its beads are, and
 * how much of it are closed beads and how much open ones.
 *
 * Fullness: beads side by side that are to make a closed layer lie a metered section over the layer's
 * height apart. So of two beads the mean section over height times distance is 1 where the filament is
 * right, whatever width was planned; half the flow gives 0.5, and a layer left out under this one too.
 * Fill that runs across contours overlaps them, and dense but open fill lies farther apart: the middle
 * and two quantiles distinguish these from a layer that is wrong as a whole.
 */
import { type Heights, type LaidLayer } from './layers.js';
import { type Trace, TraceKind } from './trace.js';
import { BeadSpacing, type BeadMarks, WAY_MARK_SPACING } from './bead-spacing.js';

export interface LayerLook {
  readonly layer: LaidLayer;
  /** Mean height of its beads as assumed, mm. */
  readonly height: number;
  /** Pairs of beads side by side that were measured, and their fullness: quantiles. */
  readonly pairs: number;
  readonly low: number;
  readonly middle: number;
  readonly high: number;
  /** Median width, section over height, mm. */
  readonly width: number;
  /** Length of beads that close and of beads that do not, mm. */
  readonly closed: number;
  readonly open: number;
  /** Length laid over a bead of this layer, mm, and the block of the later bead where that begins. */
  readonly twice: number;
  readonly twiceAt: number;
}

/** A quarter of a layer may be overlaps, a fifth must be beads that touch. */
const LOW_QUANTILE = 0.25;
const HIGH_QUANTILE = 0.8;
/** Beads below this share of the usual section taper off: they may end on another. */
const TAPER = 0.6;
/**
 * A bead whose end comes back to within this many widths of its start is closed, if it is longer than LOOP.
 */
const CLOSES = 1.01;
const LOOP = 3;

export function looksOf(trace: Trace, heights: Heights, bore: number): LayerLook[] {
  const ways = new BeadSpacing(trace, heights.width, bore);
  return heights.layers.map((layer) => lookOf(trace, heights, layer, ways.look(layer)));
}

function lookOf(trace: Trace, heights: Heights, layer: LaidLayer, marks: BeadMarks): LayerLook {
  const height = heights.height[layer.first]!;
  const fullness: number[] = [];
  const widths = new Float64Array(marks.count);
  let twice = 0;
  let twiceAt = -1;
  const full = TAPER * height * heights.width;
  for (let i = 0; i < marks.count; i++) {
    const section = marks.section[i]!;
    widths[i] = section / height;
    for (let side = 2 * i; side < 2 * i + 2; side++) {
      const gap = marks.gap[side]!;
      if (gap < Infinity) fullness.push((section + marks.beside[side]!) / 2 / height / gap);
    }
    const over = marks.over[i]!;
    const b = marks.block[i]!;
    if (over < 0 || over > b || section < full) continue;
    if (trace.volume[over]! / trace.length[over]! < full) continue;
    twice += WAY_MARK_SPACING;
    if (twiceAt < 0) twiceAt = b;
  }
  const sorted = Float64Array.from(fullness).sort();
  widths.sort();
  return {
    layer,
    height,
    pairs: sorted.length,
    low: quantile(sorted, LOW_QUANTILE),
    middle: quantile(sorted, 0.5),
    high: quantile(sorted, HIGH_QUANTILE),
    width: widths.length > 0 ? quantile(widths, 0.5) : layer.volume / layer.length / height,
    ...lengthsOf(trace, layer, heights.width),
    twice,
    twiceAt,
  };
}

/** Of sorted values; NaN for none. */
function quantile(sorted: Float64Array, share: number): number {
  return sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))] ?? NaN;
}

function lengthsOf(
  { kind, tip, length }: Trace,
  { first, last }: LaidLayer,
  width: number,
): { closed: number; open: number } {
  let [closed, open] = [0, 0];
  let [begin, way] = [-1, 0];
  const end = (b: number): void => {
    if (begin < 0) return;
    const [i, k] = [3 * begin - 3, 3 * b];
    const gap = Math.hypot(tip[i]! - tip[k]!, tip[i + 1]! - tip[k + 1]!, tip[i + 2]! - tip[k + 2]!);
    if (gap < CLOSES * width && way > LOOP * width) closed += way;
    else open += way;
    [begin, way] = [-1, 0];
  };
  for (let b = first; b <= last; b++) {
    if (kind[b] === TraceKind.deposit) {
      if (begin < 0) begin = b;
      way += length[b]!;
    } else end(b - 1);
  }
  end(last);
  return { closed, open };
}
