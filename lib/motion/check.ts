/**
 * The blocks of the runs against what stands around: every body against every other for the whole of
 * every block. Where the rotary joints stand still the blocks of a run are one path for each pair of bodies and are asked about together; the pair's two
 * boxes decide first, then the hierarchies of path and beads, and only what comes near is measured. The
 * head over its own region is not asked about: what is laid of it lies no higher than the tip. Each
 * trouble is told once for a run, at its worst.
 */
import { applyPoint, inverse } from '../base/frame.js';
import type { Vec3 } from '../base/vector.js';
import { type Watch, step } from '../base/watch.js';
import { type Pair, firstClose } from '../clearance/advance.js';
import { TABLE, machineFrom } from '../clearance/bodies.js';
import type { Meeter, Meeting } from '../clearance/meet.js';
import { type Scene, comesNear, pairsOf } from '../clearance/scene.js';
import type { Machine } from '../machine/machine.js';
import type { Blocks } from './blocks.js';
import { ROUGH } from './growth.js';
import { type Straight, straight } from './straight.js';
import type { Complaints } from './travel.js';

/** Blocks from .. to (exclusive) lie in one run. */
export interface Span {
  readonly from: number;
  readonly to: number;
  readonly region: number;
  /** As it is when the run begins. */
  readonly scene: Scene;
}

/** Where two bodies that must keep clear come nearest while material is laid. */
export interface LeastGap {
  /** Signed, mm. */
  readonly gap: number;
  readonly between: readonly [string, string];
  readonly region: number;
  readonly layer: number;
  /** Part frame, mm. */
  readonly point: Vec3;
}

/** Rounding that is no nearness, mm. */
const SLACK = 1e-6;
/** Gaps of more than this many clearances are not measured. */
const FAR = 3;

/**
 * @returns the least gap of the runs; undefined if nothing comes within three clearances
 * @throws Fault `motion/table`, `motion/part` or `motion/obstacle` if the job is to
 *   be refused
 */
export function checkSpans(
  blocks: Blocks,
  spans: readonly Span[],
  complaints: Complaints,
  watch?: Watch,
): LeastGap | undefined {
  let least: LeastGap | undefined;
  spans.forEach((span, i) => {
    step(watch, 'clearance', i, spans.length);
    for (const pair of pairsOf(span.scene, span.region, false)) {
      const near = nearest(blocks, span, pair, least?.gap);
      if (!near) continue;
      if (near.meeting.gap < pair.need - SLACK) tell(blocks, span, pair, near, complaints);
      if (!least || near.meeting.gap < least.gap) least = leastOf(blocks, span, pair, near);
    }
  });
  return least;
}

interface Near {
  readonly meeting: Meeting;
  readonly block: number;
}

/** Where a pair comes nearest, if it comes nearer than it may or than the least gap so far. */
function nearest(
  blocks: Blocks,
  { from, to, scene }: Span,
  pair: Pair,
  least: number | undefined,
): Near | undefined {
  const { machine, meeter, still } = scene.setting;
  const n = blocks.jointCount;
  let within = Math.max(pair.need, least ?? FAR * machine.clearance);
  let near: Near | undefined;
  for (const [a, b, turns] of stretches(machine, blocks, from, to)) {
    const joints = jointsBetween(blocks, a - 1, b);
    if (turns) {
      const ends = [joints.slice(0, n), joints.slice(n)] as const;
      const close = firstClose(machine, meeter, pair, ...ends, still);
      if (!close || close.meeting.gap >= within) continue;
      near = { meeting: close.meeting, block: a };
    } else {
      const way = straight(machine, pair.body, pair.things, joints, n);
      const meeting = nearestOn(meeter, way, pair, within);
      if (!meeting) continue;
      near = { meeting, block: a + meeting.stretch };
    }
    within = near.meeting.gap;
  }
  return near;
}

/**
 * Rough first: most pairs of runs are clear by more than rough beads and ways differ from what they are,
 * and a gap is given as the least that it can be. What is too close to a touch or to the clearance to
 * be told so is measured exactly.
 */
function nearestOn(
  meeter: Meeter,
  way: Straight,
  { body, things, until, rough, need }: Pair,
  within: number,
): Meeting | undefined {
  if (!way.comesWithin(body.things, things.things, within)) return undefined;
  const path = way.path();
  const joined = path.joined(ROUGH);
  const ask = { body: body.things, frame: way.frame };
  const slack = ROUGH + (rough?.slack ?? 0);
  const first = meeter.least({
    ...ask,
    path: joined,
    things: rough?.things ?? things.things,
    ...(rough && { until: rough.until }),
    within: within + slack,
  });
  if (!first) return undefined;
  const stretch = joined.origin(first.stretch);
  const known = { ...first, stretch, gap: first.gap - slack };
  const unsure = (limit: number): boolean => Math.abs(first.gap - limit) <= slack;
  if (rough && !unsure(need) && !unsure(0)) return known;
  const exact = meeter.least({
    ...ask,
    path,
    things: things.things,
    ...(until !== undefined && { until }),
    within: first.gap + slack,
  });
  return exact ?? known;
}

/** Blocks from .. to in pieces in which the rotary joints stand, and single ones in which they turn. */
function stretches(
  machine: Machine,
  blocks: Blocks,
  from: number,
  to: number,
): [number, number, boolean][] {
  const n = blocks.jointCount;
  const rotary = machine.joints.flatMap((j, i) => (j.kind === 'rotary' ? [i] : []));
  const at = (b: number, j: number): number =>
    b < 0 ? blocks.from[j]! : blocks.joints[b * n + j]!;
  const out: [number, number, boolean][] = [];
  for (let a = from; a < to;) {
    const turns = (b: number): boolean => rotary.some((j) => at(b, j) !== at(b - 1, j));
    let b = a + 1;
    if (turns(a)) out.push([a, b, true]);
    else {
      while (b < to && !turns(b)) b++;
      out.push([a, b, false]);
    }
    a = b;
  }
  return out;
}

/** Joint values at the ends of blocks first .. to (exclusive); block -1 is where the motion begins. */
function jointsBetween(blocks: Blocks, first: number, to: number): Float64Array {
  const n = blocks.jointCount;
  if (first >= 0) return blocks.joints.subarray(first * n, to * n);
  const out = new Float64Array((to + 1) * n);
  out.set(blocks.from);
  out.set(blocks.joints.subarray(0, to * n), n);
  return out;
}

function tell(
  blocks: Blocks,
  span: Span,
  pair: Pair,
  { meeting, block }: Near,
  complaints: Complaints,
): void {
  const region = blocks.region[block]!;
  const layer = blocks.layer[block]!;
  const left =
    meeting.gap > 0
      ? `${meeting.gap.toFixed(2)} mm is left`
      : `they touch, ${(-meeting.gap).toFixed(2)} mm deep`;
  const point = rounded(pointOf(blocks, span, pair, { meeting, block }));
  complaints.error(
    meeting.gap > 0 ? 'tooNear' : 'touch',
    codeOf(pair),
    `in region ${region + 1}, layer ${layer + 1}, ${comesNear(pair)}: ${left}`,
    { region, layer, point, frame: 'part' },
  );
}

const codeOf = ({ things }: Pair): string =>
  things.name === TABLE
    ? 'motion/table'
    : things.name.startsWith('region')
      ? 'motion/part'
      : 'motion/obstacle';

function leastOf(blocks: Blocks, span: Span, pair: Pair, near: Near): LeastGap {
  return {
    gap: near.meeting.gap,
    between: [pair.body.name, pair.things.name],
    region: blocks.region[near.block]!,
    layer: blocks.layer[near.block]!,
    point: pointOf(blocks, span, pair, near),
  };
}

/** The point of the things that is nearest, as it stands against the part at the end of the block. */
function pointOf(blocks: Blocks, { scene }: Span, { things }: Pair, near: Near): Vec3 {
  const { machine, bodies } = scene.setting;
  const n = blocks.jointCount;
  const joints = blocks.joints.subarray(near.block * n, (near.block + 1) * n);
  const pMachine = applyPoint(machineFrom(machine, things, joints), near.meeting.at);
  return applyPoint(inverse(machineFrom(machine, bodies.table, joints)), pMachine);
}

const rounded = (p: Vec3): Vec3 => p.map((x) => Math.round(x * 1000) / 1000) as unknown as Vec3;
