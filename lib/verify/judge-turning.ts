/**
 * Curved layers judged from the program alone, sheet by sheet and stretch by stretch: whether a sheet is missing under
 * the next, whether the beads of a stretch get as much filament as those under them, and how far the head leans from
 * the normal of the sheets. Sheets follow from what lies under what (turning-sheets.ts). A stretch is so much of bead in
 * the order in which it is laid, and its median counts, so that ends, crossings and single odd places do not.
 */
import { DEG } from '../base/vector.js';
import { quantile } from './layers.js';
import type { Print } from './print.js';
import type { CheckRules } from './rules.js';
import type { Tally } from './tally.js';
import type { Trace } from './trace.js';
import { type LeanPlace, leansOf } from './turning-lean.js';
import { type SectionPlace, sectionsOf } from './turning-sections.js';
import { sheetsOf } from './turning-sheets.js';
import { placeOf } from './walk.js';

/** Of bead, mm. */
const JUDGED_STRETCH = 15;
/**
 * Median lean of a stretch from which on it is a warning, and an error, deg: the flat of a usual nozzle, 0.4 mm about
 * its axis, then digs 0.07 and 0.2 mm into one side of the bead. Sound programs have stretches of up to 27 deg beside
 * sheets that begin at the table.
 */
const LEANS = 10;
const MOST_LEAN = 30;
/** Median section of a stretch over that of the beads under it that is a fault, either way. */
const MOST_SECTION = 1.8;
/** A sheet is missing where those under and over it have this many times the bound of missing bead. */
const NEIGHBOUR_BOUNDS = 4;

export function judgeTurning(
  trace: Trace,
  { heights: { height, turned } }: Print,
  bounds: CheckRules,
  tally: Tally,
): void {
  if (!turned) return;
  const sheet = sheetsOf(trace, height, turned);
  reportMissing(trace, sheet, bounds, tally);
  reportSections(trace, sectionsOf(trace, height, sheet, turned), tally);
  reportLeans(trace, leansOf(trace, sheet, turned), tally);
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
    const own = length[k] ?? 0;
    // Where several are missing the last of them says so.
    const under = length.slice(1, k).findLast((x) => x >= missing) ?? 0;
    const over = length[k + 1] ?? 0;
    if (own >= missing || Math.min(under, over) < NEIGHBOUR_BOUNDS * missing) continue;
    const b = first[k + 1]!;
    tally.add('verify/level-step', 'error', over, () => ({
      message: `${run(trace, b)}: a curved layer is missing under the beads that begin here: the ones under and over it have ${under.toFixed(1)} and ${over.toFixed(1)} mm of bead, it has ${own.toFixed(1)} mm (the limit is ${missing} mm)`,
      at: placeOf(trace, b),
    }));
  }
}

function reportSections(trace: Trace, places: readonly SectionPlace[], tally: Tally): void {
  const most = Math.log(MOST_SECTION);
  const isOff = (middle: number): boolean => Math.abs(middle) > most;
  for (const { from, to, middle } of stretches(places, (p) => Math.log(p.share), isOff)) {
    const share = Math.exp(middle).toFixed(2);
    const limits = `${(1 / MOST_SECTION).toFixed(2)} to ${MOST_SECTION.toFixed(2)}`;
    tally.add('verify/layer-flow', 'error', Math.abs(middle), () => ({
      message: `${run(trace, from)}: from here to line ${trace.line[to]!} the beads get ${share} times the filament of those under them, the limit is ${limits}`,
      at: placeOf(trace, from),
    }));
  }
}

function reportLeans(trace: Trace, places: readonly LeanPlace[], tally: Tally): void {
  const lean = ({ along, across }: LeanPlace): number => Math.hypot(along, across) / DEG;
  for (const { from, to, middle } of stretches(places, lean, (deg) => deg > LEANS)) {
    tally.add(
      'verify/head-leans',
      middle > MOST_LEAN ? 'error' : 'warning',
      middle,
      () => ({
        message: `from here to line ${trace.line[to]!} the head leans by ${middle.toFixed(1)} deg from the normal of its layer: it digs into one side of its beads`,
        at: placeOf(trace, from),
      }),
      { run: trace.run[from]! },
    );
  }
}

const run = (trace: Trace, b: number): string => `run ${trace.run[b]! + 1}`;

/** First and last block of a stretch, and the median of what is asked about it. */
interface Stretch {
  readonly from: number;
  readonly to: number;
  readonly middle: number;
}

/** Stretches whose median is one that is sought, none of them over another. */
function* stretches<P extends { readonly block: number; readonly length: number }>(
  places: readonly P[],
  value: (place: P) => number,
  isSought: (middle: number) => boolean,
): Generator<Stretch> {
  let [from, size] = [0, 0];
  for (let to = 0; to < places.length; to++) {
    size += places[to]!.length;
    if (size < JUDGED_STRETCH) continue;
    const part = places.slice(from, to + 1);
    const middle = quantile(
      part.map((p) => [value(p), p.length]),
      0.5,
    );
    const found = isSought(middle);
    if (found) yield { from: places[from]!.block, to: places[to]!.block, middle };
    // On by all of it, or by a third.
    const keep = found ? 0 : (2 / 3) * JUDGED_STRETCH;
    while (from <= to && size > keep) size -= places[from++]!.length;
  }
}
