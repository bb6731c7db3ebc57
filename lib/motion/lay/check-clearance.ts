/**
 * The blocks of the runs against what stands around: every body against every other for the whole of every
 * block. The head is not checked against its own region where layers are flat, for its beads lie no higher than
 * the tip. Runs are
 * checked in chunks, WAVE of them at a time, wherever a thread is free; what one wave finds bounds what the
 * next one looks for. Chunks and waves do not depend on the number of threads, so neither does the result.
 * Each pair that comes too near is reported once for a run, at its worst place.
 */
import { applyPoint, inverse } from '../../base/frame.js';
import type { Vec3 } from '../../base/vector.js';
import { type Watch, step } from '../../base/watch.js';
import type { ClearancePair } from '../../clearance/convex/conservative-advancement.js';
import { TABLE_NAME, machineFrom } from '../../clearance/machine-bodies.js';
import { GAP_ROUNDING, type Scene, comesNear, pairsOf } from '../../clearance/scene.js';
import type { MotionBlocks } from './blocks.js';
import { type Near, type NearestQuery, type Nears, nearestOf } from './nearest-approach.js';
import type { Complaints } from '../transfer/travel-limits.js';

/** Blocks from .. to (exclusive) lie in one run. */
export interface BlockSpan {
  readonly from: number;
  readonly to: number;
  readonly region: number;
  /** As it is when the run begins; of curved layers with all of its own region. */
  readonly scene: Scene;
  /** Of curved layers: how many beads of the own region are there while each block is made. */
  readonly grown?: Uint32Array;
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

/** Gaps of more than this many clearances are not measured. */
const MEASURED_CLEARANCES = 3;
/** Blocks per chunk: about a second of work. */
const CHUNK_BLOCKS = 20_000;
/** Chunks that are checked in parallel. */
const WAVE = 8;

/** Work that yields waves of queries, which may be answered anywhere, and continues with the answers. */
export type Asking<T> = Generator<readonly NearestQuery[], T, readonly Nears[]>;

/** Answers on the calling thread. */
export function answered<T>(asking: Asking<T>): T {
  let at = asking.next();
  while (!at.done) at = asking.next(at.value.map(nearestOf));
  return at.value;
}

/** Answers by `ask`, on whichever thread, the queries of a wave in parallel. */
export async function answeredBy<T>(
  ask: (one: NearestQuery) => Promise<Nears>,
  asking: Asking<T>,
): Promise<T> {
  let at = asking.next();
  while (!at.done) at = asking.next(await Promise.all(at.value.map(ask)));
  return at.value;
}

/**
 * @returns the least gap of the runs; undefined if nothing comes within three clearances
 * @throws Fault `motion/table`, `motion/part` or `motion/obstacle` if the job is to
 *   be refused
 */
export function* checkSpans(
  blocks: MotionBlocks,
  spans: readonly BlockSpan[],
  complaints: Complaints,
  watch?: Watch,
): Asking<LeastGap | undefined> {
  const chunks = chunksOf(spans);
  const nears = spans.map((): NearestSlots => []);
  let known = Infinity;
  for (let i = 0; i < chunks.length; i += WAVE) {
    step(watch, 'clearance', i, chunks.length);
    const wave = chunks.slice(i, i + WAVE);
    const answers = yield wave.map((c) => askOf(blocks, c, known));
    wave.forEach(({ span }, k) => keepNearer(nears[span]!, answers[k]!));
    known = Math.min(known, ...answers.flat().map((near) => near?.gap ?? Infinity));
    const [done, next] = [wave[0]!.span, chunks[i + WAVE]?.span ?? spans.length];
    for (let s = done; s < next; s++) reportAll(blocks, spans[s]!, nears[s]!, complaints);
  }
  step(watch, 'clearance', chunks.length, chunks.length);
  return leastOf(blocks, spans, nears);
}

/** Blocks of one run. */
interface Chunk extends BlockSpan {
  /** Number of the span. */
  readonly span: number;
}

function chunksOf(spans: readonly BlockSpan[]): Chunk[] {
  return spans.flatMap((whole, span) => {
    const count = Math.ceil((whole.to - whole.from) / CHUNK_BLOCKS);
    const at = (k: number): number =>
      whole.from + Math.round(((whole.to - whole.from) * k) / count);
    return Array.from({ length: count }, (_, k) => ({
      ...whole,
      span,
      from: at(k),
      to: at(k + 1),
      ...(whole.grown && {
        grown: whole.grown.subarray(at(k) - whole.from, at(k + 1) - whole.from),
      }),
    }));
  });
}

function askOf(
  blocks: MotionBlocks,
  { from, to, region, scene, grown }: Chunk,
  known: number,
): NearestQuery {
  const { machine } = scene.setting;
  const { jointCount, joints } = blocks;
  return {
    machine,
    way: { jointCount, joints, from: blocks.from },
    from,
    to,
    region,
    printed: scene.printed.map((p) => ({
      region: p.region,
      laid: p.laid,
      ...p.parted(region),
      ...(p.curved && { curved: true }),
    })),
    ...(grown && { grown }),
    known: Math.min(known, MEASURED_CLEARANCES * machine.clearance),
  };
}

type NearestSlots = (Near | undefined)[];

/** Keeps the nearer one of each pair, the first of equal ones. */
function keepNearer(into: NearestSlots, found: Nears): void {
  found.forEach((near, i) => {
    if (near && !(into[i] && into[i].gap <= near.gap)) into[i] = near;
  });
}

function reportAll(
  blocks: MotionBlocks,
  span: BlockSpan,
  nears: Nears,
  complaints: Complaints,
): void {
  pairsOf(span.scene, span.region, false).forEach((pair, i) => {
    const near = nears[i];
    if (near && near.gap < pair.need - GAP_ROUNDING) report(blocks, span, pair, near, complaints);
  });
}

function report(
  blocks: MotionBlocks,
  span: BlockSpan,
  pair: ClearancePair,
  near: Near,
  complaints: Complaints,
): void {
  const region = blocks.region[near.block]!;
  const layer = blocks.layer[near.block]!;
  const { rounding } = span.scene.setting;
  const mayTouch = near.gap <= rounding;
  const gap = `${Math.abs(near.gap).toFixed(2)} mm`;
  const left =
    near.gap <= 0
      ? `they touch, ${gap} deep`
      : `${gap} is left` + (mayTouch ? `, they may touch where the corner is rounded` : '');
  const point = rounded(pointOf(blocks, span, pair, near));
  complaints.error(
    mayTouch ? 'touch' : 'tooNear',
    codeOf(pair),
    `in region ${region + 1}, layer ${layer + 1}, ${comesNear(pair)}: ${left}`,
    { region, layer, point, frame: 'part' },
  );
}

const codeOf = ({ things }: ClearancePair): string =>
  things.name === TABLE_NAME
    ? 'motion/table'
    : things.name.startsWith('region')
      ? 'motion/part'
      : 'motion/obstacle';

function leastOf(
  blocks: MotionBlocks,
  spans: readonly BlockSpan[],
  nears: readonly Nears[],
): LeastGap | undefined {
  let least: { span: BlockSpan; i: number; near: Near } | undefined;
  spans.forEach((span, s) => {
    nears[s]!.forEach((near, i) => {
      if (near && !(least && least.near.gap <= near.gap)) least = { span, i, near };
    });
  });
  if (!least) return undefined;
  const { span, near } = least;
  const pair = pairsOf(span.scene, span.region, false)[least.i]!;
  return {
    gap: near.gap,
    between: [pair.body.name, pair.things.name],
    region: blocks.region[near.block]!,
    layer: blocks.layer[near.block]!,
    point: pointOf(blocks, span, pair, near),
  };
}

/** The point of the things that is nearest, as it stands against the part at the end of the block. */
function pointOf(
  blocks: MotionBlocks,
  { scene }: BlockSpan,
  { things }: ClearancePair,
  near: Near,
): Vec3 {
  const { machine, bodies } = scene.setting;
  const n = blocks.jointCount;
  const joints = blocks.joints.subarray(near.block * n, (near.block + 1) * n);
  const pMachine = applyPoint(machineFrom(machine, things, joints), near.at);
  return applyPoint(inverse(machineFrom(machine, bodies.table, joints)), pMachine);
}

const rounded = (p: Vec3): Vec3 => p.map((x) => Math.round(x * 1000) / 1000) as unknown as Vec3;
