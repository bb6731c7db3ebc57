/**
 * What the check finds in the air, held layer by layer against what the plan itself leaves: the two
 * share no code, so where they agree the residual is as stated, and where the check finds more it is
 * said. Compared as areas: beads in the air by their width, and what a layer leaves or bridges.
 *
 * The two count differently, and by how much follows from their definitions. The plan counts what lies
 * farther out than the self-supporting angle reaches. The check counts a bead whole as soon as less
 * than a fifth of its width lies on anything: beside what the plan leaves it may lie in the strip that
 * the angle alone carries, and on the material by a fifth of its width. So a layer may hang by that
 * much more along the edge of what it leaves, and not at all where it leaves nothing.
 */
import type { Finding } from '../base/fault.js';
import { type Layers, middles } from '../layers/layers.js';
import type { Hanging } from '../layers/unsupported.js';
import type { Motion } from '../motion/motion.js';
import { type InAir, type Trace, TraceKind } from '../verify/verify.js';

/** Beads of a region as the check finds them. */
export interface RegionAir {
  readonly beadMm: number;
  readonly inAirMm: number;
  readonly inAirMm2: number;
  /** Of that over the inside of the part, between beads of fill: for the plan layers are solid. */
  readonly overFillMm2: number;
  /** What more may hang than its layers leave or bridge, for along the edge of that beads are whole. */
  readonly besideMm2: number;
  /** What hangs beyond all that, layer by layer. */
  readonly unplannedMm2: number;
}

/** What the plan says hangs. */
export interface PlannedAir {
  readonly hanging: Hanging;
  /** Of each region. */
  readonly layers: readonly Layers[];
  /** Steepest self-supporting angle, rad. */
  readonly theta: number;
}

/** Share of a region's beads that may hang without a word; beyond the plan it is told from a bead's square on. */
const SHARE = 1e-3;
/** Share of its width by which a bead that hangs may lie on something, by the check. */
const ON = 0.2;

/** @param lineOf line of the program a block of the motion */
export function airByRegion(
  trace: Trace,
  inAir: readonly InAir[],
  motion: Motion,
  lineOf: Uint32Array,
  planned: PlannedAir,
): RegionAir[] {
  const blockOf = motionBlocks(trace, lineOf);
  const sums = planned.layers.map(() => ({ beadMm: 0, inAirMm: 0, inAirMm2: 0, overFillMm2: 0 }));
  const found = planned.layers.map(({ top }) => ({
    area: new Float64Array(top.length),
    widest: new Float64Array(top.length),
  }));
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
    const { area, widest } = found[region]!;
    area[layer]! += mm2;
    widest[layer] = Math.max(widest[layer]!, mm2 / lengthMm);
  }
  return sums.map((sum, region) => {
    const { area, widest } = found[region]!;
    const { left, beside } = plannedByLayer(planned, region, widest);
    const beyond = area.map((mm2, k) => Math.max(0, mm2 - left[k]! - beside[k]!));
    return { ...sum, besideMm2: sumOf(beside), unplannedMm2: sumOf(beyond) };
  });
}

/** The motion's block of each of the trace's. Both lists of lines rise, so one walk finds them. */
function motionBlocks({ kind, line }: Trace, lineOf: Uint32Array): Uint32Array {
  let at = 0;
  return Uint32Array.from(kind, (_, b) => {
    while (at + 1 < lineOf.length && lineOf[at]! < line[b]!) at++;
    return at;
  });
}

const sumOf = (values: Float64Array): number => values.reduce((a, b) => a + b, 0);

/** What each layer of a region leaves or bridges, and what more may hang along the edge of it, mm2. */
function plannedByLayer(
  { hanging, layers, theta }: PlannedAir,
  region: number,
  widest: Float64Array,
): { left: Float64Array; beside: Float64Array } {
  const own = layers[region]!;
  const middle = middles(own);
  const left = new Float64Array(middle.length);
  const beside = new Float64Array(middle.length);
  for (const { region: of, layer, mm2, edgeMm } of [...hanging.places, ...hanging.bridges]) {
    if (of !== region) continue;
    const step = layer > 0 ? middle[layer]! - middle[layer - 1]! : own.thickness[0]!;
    left[layer]! += mm2;
    beside[layer]! += edgeMm * (step * Math.tan(theta) + ON * widest[layer]!);
  }
  return { left, beside };
}

/** Of each region of whose beads more than SHARE hang: whether the plan leaves as much there. */
export function airFindings(air: readonly RegionAir[], { hanging }: PlannedAir): Finding[] {
  return air.flatMap((found, region): Finding[] => {
    const { beadMm, inAirMm, inAirMm2, overFillMm2, besideMm2, unplannedMm2 } = found;
    if (!(inAirMm > SHARE * beadMm)) return [];
    const left = hanging.byRegion[region]!;
    const bridged = hanging.bridges
      .filter((b) => b.region === region)
      .reduce((sum, { mm2 }) => sum + mm2, 0);
    const share = ((100 * inAirMm) / beadMm).toFixed(2);
    const fill =
      overFillMm2 > 0 ? ` (${overFillMm2.toFixed(1)} mm2 of it between beads of fill)` : '';
    const said = `region ${region + 1}: ${share}% of its beads, ${inAirMm2.toFixed(1)} mm2, hang in the air by the check${fill}`;
    const plan = `its layers leave ${left.toFixed(1)} mm2 and bridge ${bridged.toFixed(1)} mm2, beside which whole beads may hang over ${besideMm2.toFixed(1)} mm2 more`;
    const width = inAirMm2 / inAirMm;
    return [
      unplannedMm2 <= Math.max(SHARE * beadMm * width, width * width)
        ? { code: 'check/air-planned', severity: 'note', message: `${said}; ${plan}` }
        : {
            code: 'check/air-unplanned',
            severity: 'warning',
            message: `${said}, ${unplannedMm2.toFixed(1)} mm2 more than planned: ${plan}`,
          },
    ];
  });
}
