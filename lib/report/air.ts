/**
 * What the check finds in the air, held layer by layer against what the plan counts. Both count by one rule:
 * in the open, by area, what lies farther out than the self-supporting angle reaches; between beads of fill,
 * whole pieces that nothing carries (paths/hanging, verify/hanging-stretches.ts). The plan counts its beads
 * as it planned them, the check those that it read from the program; the two share no code, so where they
 * agree the residual is as stated, and where the check finds more it is said.
 */
import type { Finding } from '../base/fault.js';
import type { Layers } from '../layers/layers.js';
import type { LayerHanging } from '../layers/unsupported.js';
import type { Motion } from '../motion/motion.js';
import { type InAir, type Trace, TraceKind } from '../verify/verify.js';

/** Beads of a region as the check finds them. */
export interface RegionAir {
  readonly beadMm: number;
  readonly inAirMm: number;
  readonly inAirMm2: number;
  /** Of that over the inside of the part, between beads of fill. */
  readonly overFillMm2: number;
  /** What hangs beyond what the plan counts, layer by layer, or in the next. */
  readonly unplannedMm2: number;
}

/** What hangs according to the plan. */
export interface PlannedAir {
  readonly hanging: LayerHanging;
  /** Of each region. */
  readonly layers: readonly Pick<Layers, 'top'>[];
}

/** Share of a region's beads that may hang without a finding. */
const MAY_HANG = 1e-3;
/** Plan and check agree where they differ by no more than this share, or this much, mm2. */
export const AGREE = { share: 0.1, mm2: 1 } as const;

/** @param lineOf line of the program for each block of the motion */
export function airByRegion(
  trace: Trace,
  inAir: readonly InAir[],
  motion: Motion,
  lineOf: Uint32Array,
  planned: PlannedAir,
): RegionAir[] {
  const blockOf = motionBlocks(trace, lineOf);
  const sums = planned.layers.map(() => ({ beadMm: 0, inAirMm: 0, inAirMm2: 0, overFillMm2: 0 }));
  const found = planned.layers.map(({ top }) => new Float64Array(top.length));
  for (let b = 0; b < trace.kind.length; b++) {
    if (trace.kind[b] !== TraceKind.deposit) continue;
    sums[motion.region[blockOf[b]!]!]!.beadMm += trace.length[b]!;
  }
  for (const { block, lengthMm, mm2, overFill } of inAir) {
    const [region, layer] = [motion.region[blockOf[block]!]!, motion.layer[blockOf[block]!]!];
    const sum = sums[region]!;
    sum.inAirMm += lengthMm;
    sum.inAirMm2 += mm2;
    if (overFill) sum.overFillMm2 += mm2;
    found[region]![layer]! += mm2;
  }
  const left = planned.layers.map(({ top }) => new Float64Array(top.length));
  for (const { region, layer, mm2 } of planned.hanging.places) left[region]![layer]! += mm2;
  return sums.map((sum, region) => {
    const unplannedMm2 = beyond(found[region]!, left[region]!);
    return { ...sum, unplannedMm2 };
  });
}

/**
 * What is found in layers beyond what is left in them. What lies on the border of two layers the one may count in this
 * and the other in the next, above all where curved layers begin on the table: what a layer has to spare goes to those
 * beside it.
 */
function beyond(found: Float64Array, left: Float64Array): number {
  const spare = left.map((mm2, k) => Math.max(0, mm2 - found[k]!));
  return found.reduce((sum, mm2, k) => {
    let over = Math.max(0, mm2 - left[k]!);
    for (const beside of [k - 1, k + 1]) {
      const taken = Math.min(over, spare[beside] ?? 0);
      if (taken === 0) continue;
      over -= taken;
      spare[beside]! -= taken;
    }
    return sum + over;
  }, 0);
}

/** The motion's block of each of the trace's. Both lists of lines rise, so one walk finds them. */
function motionBlocks({ kind, line }: Trace, lineOf: Uint32Array): Uint32Array {
  let at = 0;
  return Uint32Array.from(kind, (_, b) => {
    while (at + 1 < lineOf.length && lineOf[at]! < line[b]!) at++;
    return at;
  });
}

/** Of each region of whose beads more hang than the plan leaves, or more than MAY_HANG. */
export function airFindings(air: readonly RegionAir[], { hanging }: PlannedAir): Finding[] {
  return air.flatMap((found, region): Finding[] => {
    const { beadMm, inAirMm, inAirMm2, overFillMm2, unplannedMm2 } = found;
    const left = hanging.byRegion[region]!;
    const agreed = unplannedMm2 <= Math.max(AGREE.share * left, AGREE.mm2);
    if (agreed && !(inAirMm > MAY_HANG * beadMm)) return [];
    const bridged = hanging.bridges
      .filter((b) => b.region === region)
      .reduce((sum, { mm2 }) => sum + mm2, 0);
    const share = ((100 * inAirMm) / beadMm).toFixed(2);
    const fill =
      overFillMm2 > 0 ? ` (${overFillMm2.toFixed(1)} mm2 of it between beads of fill)` : '';
    const said = `region ${region + 1}: ${share}% of its beads, ${inAirMm2.toFixed(1)} mm2, hang in the air by the check${fill}`;
    const plan = `its layers leave ${left.toFixed(1)} mm2 and bridge ${bridged.toFixed(1)} mm2`;
    return [
      agreed
        ? { code: 'check/air-planned', severity: 'note', message: `${said}; ${plan}` }
        : {
            code: 'check/air-unplanned',
            severity: 'error',
            message: `${said}, ${unplannedMm2.toFixed(1)} mm2 more than planned: ${plan}`,
          },
    ];
  });
}
