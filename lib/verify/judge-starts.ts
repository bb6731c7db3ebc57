/** First beads against the table or against what they are laid on. */
import type { CheckRules } from './rules.js';
import type { Start } from './first-bead.js';
import type { LayerLook } from './layer-look.js';
import type { Print } from './print.js';
import type { Tally } from './tally.js';
import type { Trace } from './trace.js';
import { placeOf } from './walk.js';

/** Least number of marks that say something. */
const LEAST_MARKS = 48;
/**
 * A base that was cut at a slant is a stair, and beads along its steps lie on one of them: two rows may
 * differ by a whole layer. With so many marks they are no more than that; farther ones even out.
 */
const STAIR_MARKS = 300;
/** Share of the marks that must find something, or it is a bridge or an island and reported as such. */
const CARRIED = 0.5;
/**
 * Share of the first beads that may have nothing under them, as at the edge of a base that was cut at a
 * slant; sound programs have up to 0.08. Shorter lengths than the bound may be any share.
 */
const HOLLOW = 0.1;
/** Least number of pairs of beads that say how high the filament makes a layer. */
const PAIRS = 8;

export function judgeStarts(
  trace: Trace,
  print: Print,
  looks: readonly LayerLook[],
  bounds: CheckRules,
  tally: Tally,
): void {
  for (const start of print.starts) {
    if (start.found < LEAST_MARKS || start.found < CARRIED * start.marks) continue;
    if (start.onTable > start.found / 2) reportTable(trace, print, looks, start, bounds, tally);
    else reportBase(trace, looks, start, bounds, tally);
  }
}

/** On the table the filament says how high its bead is: the rest below it is air. */
function reportTable(
  trace: Trace,
  { heights }: Print,
  looks: readonly LayerLook[],
  { layer, under, slant }: Start,
  { tableGap }: CheckRules,
  tally: Tally,
): void {
  const { pairs, middle, width, height, layer: of } = looks[layer]!;
  const full = pairs >= PAIRS ? middle : width / heights.width;
  const gap = under - full * height;
  if (slant > tableGap) {
    tally.add('verify/first-on-table', 'error', slant, () => ({
      message: `first layer on the table: one side of it is ${slant.toFixed(3)} mm higher over the table than the other (the limit is ${tableGap} mm)`,
      at: placeOf(trace, of.first),
    }));
  }
  if (Math.abs(gap) <= tableGap) return;
  const made = `the tip is ${under.toFixed(3)} mm over the table, the filament makes a bead ${(full * height).toFixed(3)} mm high`;
  const so =
    gap > 0
      ? `${gap.toFixed(3)} mm of air are under it, it cannot hold`
      : `${(-gap).toFixed(3)} mm too much for its room, the nozzle is too low`;
  tally.add('verify/first-on-table', 'error', Math.abs(gap), () => ({
    message: `first layer on the table: ${made}: ${so} (the limit is ${tableGap} mm)`,
    at: placeOf(trace, of.first),
  }));
}

function reportBase(
  trace: Trace,
  looks: readonly LayerLook[],
  { layer, under, slant, found, hollow }: Start,
  { baseGap, hollow: most }: CheckRules,
  tally: Tally,
): void {
  const { height, layer: of } = looks[layer]!;
  const gap = under - height;
  const off: string[] = [];
  const limit = `(the limit is ${baseGap} mm)`;
  if (gap > baseGap) off.push(`${gap.toFixed(3)} mm of air are under them ${limit}`);
  if (gap < -baseGap) off.push(`they lie ${(-gap).toFixed(3)} mm in what is there ${limit}`);
  const mostSlant = Math.max(baseGap, height * Math.sqrt(STAIR_MARKS / found));
  if (slant > mostSlant) {
    off.push(
      `they are ${slant.toFixed(3)} mm nearer to it on one side than on the other (the limit is ${mostSlant.toFixed(2)} mm)`,
    );
  }
  const place = placeOf(trace, of.first);
  const first = `first beads of run ${of.run + 1} on what is printed`;
  if (hollow > most && hollow > HOLLOW * of.length) {
    tally.add('verify/base-hollow', 'error', hollow, () => ({
      message: `${first}: ${hollow.toFixed(1)} of their ${of.length.toFixed(1)} mm have nothing within a layer under them (the limit is ${most} mm where that is more than ${HOLLOW * 100}%)`,
      at: place,
    }));
  }
  if (off.length === 0) return;
  tally.add('verify/first-on-base', 'error', Math.max(Math.abs(gap), slant / 2), () => ({
    message: `${first}: ${off.join(', and ')}`,
    at: place,
  }));
}
