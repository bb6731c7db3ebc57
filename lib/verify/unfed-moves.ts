/**
 * What the filament does where no bead is laid, and what the head does where no filament is fed: material
 * that leaves the nozzle while it stands, beads laid at the speed of travel moves, and moves that go round
 * as if laying with nothing fed.
 *
 * A travel move goes straight, or back along a bead: it turns by less than a quarter before the head lays
 * again. What goes round once and more would have been a contour or fill.
 */
import type { CheckRules } from './rules.js';
import { quantile } from './layers.js';
import type { Print } from './print.js';
import type { Tally } from './tally.js';
import { type Trace, TraceKind } from './trace.js';
import { placeOf } from './walk.js';

/** Turning from which on a move goes round, rad. */
const FULL_TURN = 2 * Math.PI;
/** Steeper moves rise or sink and do not follow a layer: sine. */
const STEEP = 0.05;
/** Shorter blocks do not turn anything, mm. */
const TURNLESS_LENGTH = 0.01;
/** Levels closer than this are one, mm. */
const DRY_LEVEL = 0.02;
/** Beads are laid at less than this factor of the speed that all but a hundredth of them keep. */
const FASTER = 1.5;
const ALL_BUT = 0.99;

export function judgeDry(
  trace: Trace,
  seconds: Float64Array,
  print: Print,
  bounds: CheckRules,
  tally: Tally,
): void {
  reportDry(trace, print, bounds, tally);
  reportBlobs(trace, bounds, tally);
  reportFast(trace, seconds, bounds, tally);
}

/** A move without material along layers, since the last bead. */
interface DryWay {
  block: number;
  length: number;
  turned: number;
  levels: number;
  level: number;
}

function reportDry(trace: Trace, { heights }: Print, { dry }: CheckRules, tally: Tally): void {
  const { kind, tip, direction, length, runStart, run } = trace;
  const section = heights.usual * heights.width;
  let way: DryWay | undefined;
  let before: readonly number[] | undefined;
  const end = (): void => {
    if (way && way.length > dry && way.turned > FULL_TURN) report(way);
    way = undefined;
    before = undefined;
  };
  const report = ({ block, length: mm, turned, levels }: DryWay): void =>
    tally.add('verify/dry', 'error', mm, () => ({
      message: `run ${run[block]! + 1}: the head goes round ${(turned / FULL_TURN).toFixed(1)} times over ${mm.toFixed(1)} mm and ${levels} ${levels === 1 ? 'level' : 'levels'} and no filament is fed: about ${(mm * section).toFixed(0)} mm3 are missing (the limit is ${dry} mm)`,
      at: placeOf(trace, block),
    }));
  for (let b = (runStart[0] ?? kind.length) + 1; b < kind.length; b++) {
    if (kind[b] === TraceKind.deposit) {
      end();
      continue;
    }
    const size = length[b]!;
    if (!(size > TURNLESS_LENGTH)) continue;
    const i = 3 * b;
    const v = [0, 1, 2].map((c) => (tip[i + c]! - tip[i - 3 + c]!) / size);
    const rise = v[0]! * direction[i]! + v[1]! * direction[i + 1]! + v[2]! * direction[i + 2]!;
    if (Math.abs(rise) > STEEP || Number.isNaN(rise)) {
      before = undefined;
      continue;
    }
    const level =
      tip[i]! * direction[i]! + tip[i + 1]! * direction[i + 1]! + tip[i + 2]! * direction[i + 2]!;
    way ??= { block: b, length: 0, turned: 0, levels: 0, level: NaN };
    if (!(Math.abs(level - way.level) < DRY_LEVEL)) way.levels++;
    way.level = level;
    way.length += size;
    if (before) {
      const cosine = before[0]! * v[0]! + before[1]! * v[1]! + before[2]! * v[2]!;
      // Straight back is going back along a bead.
      if (cosine > -1 + 1e-6) way.turned += Math.acos(Math.min(1, cosine));
    }
    before = v;
  }
  end();
}

function reportBlobs(trace: Trace, { blob }: CheckRules, tally: Tally): void {
  const { kind, volume, runStart } = trace;
  for (let b = (runStart[0] ?? kind.length) + 1; b < kind.length; b++) {
    if (kind[b] !== TraceKind.wait || !(volume[b]! > blob)) continue;
    tally.add('verify/blob', 'error', volume[b]!, () => ({
      message: `${volume[b]!.toFixed(2)} mm3 leave the nozzle while it stands: more is primed than was drawn back (the limit is ${blob} mm3)`,
      at: placeOf(trace, b),
    }));
  }
}

/** Beads much faster than all others: a travel move that feeds filament, or a wrong feed. */
function reportFast(
  trace: Trace,
  seconds: Float64Array,
  { missing }: CheckRules,
  tally: Tally,
): void {
  const { kind, length } = trace;
  const speeds: [number, number][] = [];
  for (let b = 0; b < kind.length; b++) {
    if (kind[b] === TraceKind.deposit && seconds[b]! > 0) {
      speeds.push([length[b]! / seconds[b]!, length[b]!]);
    }
  }
  const most = FASTER * quantile(speeds, ALL_BUT);
  for (let b = 0; b < kind.length; b++) {
    if (kind[b] !== TraceKind.deposit || length[b]! < missing) continue;
    const speed = length[b]! / seconds[b]!;
    if (!(speed > most)) continue;
    tally.add('verify/laid-fast', 'error', speed, () => ({
      message: `${length[b]!.toFixed(1)} mm of bead are laid at ${speed.toFixed(1)} mm/s, all but a hundredth of this program's beads at ${(most / FASTER).toFixed(1)} mm/s or less (the limit is ${FASTER} times that)`,
      at: placeOf(trace, b),
    }));
  }
}
