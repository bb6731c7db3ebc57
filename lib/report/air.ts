/**
 * What the check finds in the air, held region by region against what the plan itself leaves: the two
 * share no code, so where they agree the residual is as stated, and where the check finds more it is
 * said. Compared as areas: beads in the air by their width, and what layers leave or bridge.
 */
import type { Finding } from '../base/fault.js';
import type { Hanging } from '../layers/unsupported.js';
import type { Motion } from '../motion/motion.js';
import { type InAir, type Trace, TraceKind } from '../verify/verify.js';

/** Beads of a region as the check finds them. */
export interface RegionAir {
  readonly beadMm: number;
  readonly inAirMm: number;
  readonly inAirMm2: number;
}

/** Share of a region's beads that may hang without a word. */
const SHARE = 1e-3;

/**
 * @param lineOf line of the program a block of the motion
 * @param regions how many there are
 */
export function airByRegion(
  trace: Trace,
  inAir: readonly InAir[],
  motion: Motion,
  lineOf: Uint32Array,
  regions: number,
): RegionAir[] {
  const sums = Array.from({ length: regions }, () => ({ beadMm: 0, inAirMm: 0, inAirMm2: 0 }));
  const regionOf = new Uint32Array(trace.kind.length);
  // Both lists of lines rise: one walk finds the motion's block of each of the trace's.
  let at = 0;
  for (let b = 0; b < trace.kind.length; b++) {
    while (at + 1 < lineOf.length && lineOf[at]! < trace.line[b]!) at++;
    regionOf[b] = motion.region[at]!;
    if (trace.kind[b] === TraceKind.deposit) sums[regionOf[b]!]!.beadMm += trace.length[b]!;
  }
  for (const { block, lengthMm, widthMm } of inAir) {
    const sum = sums[regionOf[block]!]!;
    sum.inAirMm += lengthMm;
    sum.inAirMm2 += lengthMm * widthMm;
  }
  return sums;
}

/** Of each region of whose beads more than SHARE hang: whether the plan leaves as much there. */
export function airFindings(air: readonly RegionAir[], hanging: Hanging): Finding[] {
  return air.flatMap(({ beadMm, inAirMm, inAirMm2 }, region): Finding[] => {
    if (!(inAirMm > SHARE * beadMm)) return [];
    const left = hanging.byRegion[region]!;
    const bridged = hanging.bridges
      .filter((b) => b.region === region)
      .reduce((sum, { mm2 }) => sum + mm2, 0);
    const share = ((100 * inAirMm) / beadMm).toFixed(2);
    const found = `region ${region + 1}: ${share}% of its beads, ${inAirMm2.toFixed(1)} mm2, hang in the air by the check`;
    const plan = `its layers leave ${left.toFixed(1)} mm2 and bridge ${bridged.toFixed(1)} mm2`;
    const planned = inAirMm2 <= left + bridged;
    return [
      planned
        ? { code: 'check/air-planned', severity: 'note', message: `${found}; ${plan}` }
        : {
            code: 'check/air-unplanned',
            severity: 'warning',
            message: `${found}, more than planned: ${plan}`,
          },
    ];
  });
}
