/**
 * Curved layers judged from the program alone, sheet by sheet and stretch by stretch: whether a sheet is missing under
 * the next, whether the filament of a stretch makes beads as wide as those under it, and how far the head leans from
 * the normal of the sheets. Sheets follow from what lies under what (turning-sheets.ts); a stretch is so much of bead in
 * the order in which it is laid, and its median counts, so that ends, crossings and single odd places do not.
 */
import { DEG } from '../base/vector.js';
import type { CheckRules } from './rules.js';
import { quantile } from './layers.js';
import type { Print } from './print.js';
import type { Tally } from './tally.js';
import type { Trace } from './trace.js';
import { type LeanPlace, leansOf } from './turning-lean.js';
import { sheetsOf } from './turning-sheets.js';
import { type WidthPlace, widthsOf } from './turning-widths.js';
import { placeOf } from './walk.js';

/** Of bead, mm. */
const LEAN_STRETCH = 60;
const WIDTH_STRETCH = 30;
/** Median lean of a stretch that is a fault, deg. */
const MOST_LEAN = 20;
/** Median width of a stretch over that of the beads under it that is a fault, either way. */
const MOST_WIDTH = 1.8;
/** A sheet is missing where its neighbours have this many times the bound of missing bead. */
const NEIGHBOURS = 4;

export function judgeTurning(
  trace: Trace,
  { heights: { height, turned } }: Print,
  bounds: CheckRules,
  tally: Tally,
): void {
  if (!turned) return;
  const sheet = sheetsOf(trace, height, turned);
  reportMissing(trace, sheet, bounds, tally);
  reportWidths(trace, widthsOf(trace, height, sheet, turned), tally);
  reportLeans(trace, leansOf(trace, height, sheet, turned.pieces), tally);
}

/** Sheets of which nothing, or next to nothing, is there. */
function reportMissing(
  trace: Trace,
  sheet: Int32Array,
  { missing }: CheckRules,
  tally: Tally,
): void {
  const length: number[] = [];
  const first: number[] = [];
  sheet.forEach((k, b) => {
    if (k === 0) return;
    length[k] = (length[k] ?? 0) + trace.length[b]!;
    first[k] ??= b;
  });
  for (let k = 2; k + 1 < length.length; k++) {
    const [under, own, over] = [k - 1, k, k + 1].map((n) => length[n] ?? 0) as [
      number,
      number,
      number,
    ];
    const about = Math.min(under, over);
    if (own >= missing || about < NEIGHBOURS * missing) continue;
    const b = first[k + 1]!;
    tally.add('verify/level-step', 'error', about, () => ({
      message: `run ${trace.run[b]! + 1}: under the beads that begin here a curved layer is missing: those under and over it have ${under.toFixed(1)} and ${over.toFixed(1)} mm of bead, it has ${own.toFixed(1)} mm`,
      at: placeOf(trace, b),
    }));
  }
}

function reportWidths(trace: Trace, places: readonly WidthPlace[], tally: Tally): void {
  for (const { from, to, middle } of stretches(places, WIDTH_STRETCH, ({ share }) =>
    Math.log(share),
  )) {
    const share = Math.exp(middle);
    if (Math.max(share, 1 / share) <= MOST_WIDTH) continue;
    const b = places[from]!.block;
    tally.add('verify/layer-flow', 'error', Math.abs(middle), () => ({
      message: `run ${trace.run[b]! + 1}: from here to line ${trace.line[places[to]!.block]!} the filament makes beads ${share.toFixed(2)} times as wide as those under them, the limit is ${(1 / MOST_WIDTH).toFixed(2)} to ${MOST_WIDTH.toFixed(2)}`,
      at: placeOf(trace, b),
    }));
  }
}

function reportLeans(trace: Trace, places: readonly LeanPlace[], tally: Tally): void {
  const lean = ({ along, across }: LeanPlace): number => Math.hypot(along, across);
  for (const { from, to, middle } of stretches(places, LEAN_STRETCH, lean)) {
    if (middle <= MOST_LEAN * DEG) continue;
    const b = places[from]!.block;
    tally.add('verify/head-leans', 'error', middle, () => ({
      message: `run ${trace.run[b]! + 1}: from here to line ${trace.line[places[to]!.block]!} the head leans by ${(middle / DEG).toFixed(0)} deg from the normal of its layer (the limit is ${MOST_LEAN} deg): it digs into one side of its bead`,
      at: placeOf(trace, b),
    }));
  }
}

interface Stretch {
  /** Places, the last one included. */
  readonly from: number;
  readonly to: number;
  readonly middle: number;
}

/** Stretches of a length, one after the other, with the median of a value. */
function* stretches<P extends { readonly length: number }>(
  places: readonly P[],
  size: number,
  value: (place: P) => number,
): Generator<Stretch> {
  for (let from = 0, to = 0; from < places.length; from = to) {
    let sum = 0;
    for (; to < places.length && sum < size; to++) sum += places[to]!.length;
    if (sum < size) return;
    const weighted = places.slice(from, to).map((p) => [value(p), p.length] as const);
    yield { from, to: to - 1, middle: quantile(weighted, 0.5) };
  }
}
