/**
 * Runs that are laid in the wrong place as a whole: nothing carries their beginning, or much of what they
 * lay is outside the part. The cause is then not a bead but the turn before them (a sign, an order, a
 * missing region), so the finding stands at the line that turns the head into the run's direction.
 */
import type { Outside } from './outside.js';
import type { Print } from './print.js';
import { sameDirection } from './headroom.js';
import type { Tally } from './tally.js';
import { type Trace, TraceKind } from './trace.js';
import { placeOf } from './walk.js';

/** The start of a run: its first layers until they hold this length, mm. */
const BEGIN = 20;
/** Share of the start that hangs, and of the material that lies outside, from which on it is reported. */
const HANGS = 0.5;
const OUTSIDE_SHARE = 0.02;

/** @param outside left out where no part is known */
export function reportAstray(
  trace: Trace,
  print: Print,
  outside: Outside | undefined,
  tally: Tally,
): void {
  const begins = beginsOf(trace, print);
  const beyond = new Float64Array(begins.length);
  for (const place of outside?.places ?? []) beyond[trace.run[place.block]!]! += place.volume;
  const laid = new Float64Array(begins.length);
  for (let b = 0; b < trace.kind.length; b++) laid[trace.run[b]!]! += trace.volume[b]!;
  begins.forEach(({ length, inAir }, run) => {
    const turn = turnBefore(trace, trace.runStart[run]!);
    const d = trace.direction.subarray(3 * turn, 3 * turn + 3);
    const words = `laid in the direction ${[...d].map((v) => v.toFixed(2)).join(' ')}, into which the head comes here`;
    const report = (code: string, share: number, what: string): void =>
      tally.add(code, 'error', share, () => ({
        message: `${Math.round(100 * share)}% ${what}`,
        at: placeOf(trace, turn),
      }));
    const hangs = inAir / length;
    if (hangs > HANGS) {
      report(
        'verify/base-in-air',
        hangs,
        `of the first ${length.toFixed(0)} mm ${words}, hang in the air`,
      );
    }
    const share = beyond[run]! / laid[run]!;
    if (share > OUTSIDE_SHARE) {
      report('verify/run-outside', share, `of the material ${words}, lie outside the part`);
    }
  });
}

/** Length of the first layers of each run, and how much of them hangs, mm. */
function beginsOf(
  { kind, length, run, runStart }: Trace,
  { heights, stretches }: Print,
): { length: number; inAir: number }[] {
  const begins = [...runStart].map(() => ({ length: 0, inAir: 0, end: 0 }));
  heights.layerStart.forEach((start, layer) => {
    const begin = begins[run[start]!]!;
    if (begin.length >= BEGIN) return;
    const end = heights.layerStart[layer + 1] ?? kind.length;
    for (let b = start; b < end; b++) {
      if (kind[b] === TraceKind.deposit) begin.length += length[b]!;
    }
    begin.end = end;
  });
  for (const stretch of stretches.hanging) {
    const begin = begins[run[stretch.block]!]!;
    if (stretch.block < begin.end) begin.inAir += stretch.length;
  }
  return begins;
}

/** The block by which the head comes into the direction of block b. */
function turnBefore({ direction }: Trace, b: number): number {
  let turn = b;
  while (turn > 0 && sameDirection(direction, turn - 1, b)) turn--;
  return turn;
}
