/**
 * The feed of every block. A bead's speed is held below what the nozzle melts, a layer that would be done
 * too soon is slowed down as far as the nozzle's least flow allows, and the time parameterization of the
 * route then keeps every joint within its limits.
 */
import type { Machine } from '../../machine/machine.js';
import type { Material } from '../../machine/material.js';
import type { MotionBlocks } from '../lay/blocks.js';
import { type MergedBlocks, mergeBlocks, inShares, sharedOut } from './merge-blocks.js';
import { type Motion, MoveKind } from '../motion.js';
import { type WantedTimes, type TimeParameterization, FeedSource } from './wanted-times.js';
import { timedPath, secondsOf, straightening } from './time-path.js';
import type { Route } from './path-limits.js';
import type { MotionRules } from '../rules.js';
import type { Complaints } from '../transfer/travel-limits.js';

/** Rounds of slowing short layers down; each comes closer, since acceleration takes its share of the time. */
const LAYER_ROUNDS = 6;
/** A layer that lasts this share of the least time is long enough. */
const LONG_ENOUGH = 0.999;

export function setTimes(
  machine: Machine,
  material: Material,
  blocks: MotionBlocks,
  rules: MotionRules,
  complaints: Complaints,
): Motion {
  const deviation = rules.cornerDeviation;
  const merged = mergeBlocks(machine, blocks, straightening(deviation));
  const wanted = wantedOf(merged, blocks, material);
  const timed = timedPath(machine, merged.blocks, wanted, deviation);
  const { route, times } = timed;
  holdLayers(merged.blocks, route, wanted, times, material, complaints);
  const totalSeconds = secondsOf(timed);
  reportLowFlow(merged, times, totalSeconds, material, complaints);
  const seconds = sharedOut(machine, blocks, merged, times.seconds);
  return {
    jointCount: blocks.jointCount,
    from: blocks.from,
    joints: blocks.joints,
    kind: blocks.kind,
    filament: blocks.filament,
    seconds,
    lasts: inShares(merged, times.real, seconds),
    length: blocks.length,
    region: blocks.region,
    layer: blocks.layer,
    pathKind: blocks.pathKind,
    totalSeconds,
    paceShare: times.share(),
    asked: { start: merged.start, least: wanted.least },
  };
}

/** Wanted times, and how far they may be stretched. */
interface StretchableTimes extends WantedTimes {
  /**
   * Time beyond which a block's bead would get less than the nozzle's least flow, s; Infinity without one.
   */
  readonly enough: Float64Array;
}

/** The job's speeds, at most what the nozzle melts. */
function wantedOf(
  { blocks, start }: MergedBlocks,
  fine: MotionBlocks,
  material: Material,
): StretchableTimes {
  const count = blocks.speed.length;
  const source = new Uint8Array(count).fill(FeedSource.asked);
  const least = new Float64Array(count);
  const enough = new Float64Array(count).fill(Infinity);
  for (let c = 0; c < count; c++) {
    // A tip that stands still over the part limits no speed; the joints alone do, or the filament.
    const tip = blocks.length[c]!;
    const far = tip > 0 ? tip : Math.abs(blocks.filament[c]!);
    least[c] = far > 0 ? far / blocks.speed[c]! : 0;
    const section = blocks.section[c]!;
    if (!(section > 0)) continue;
    let thinnest = section;
    for (let b = start[c]!; b < start[c + 1]!; b++) {
      thinnest = Math.min(thinnest, fine.section[b]!);
    }
    if (tip > 0) enough[c] = (tip * thinnest) / material.flow.least;
    const melted = (far * section) / material.flow.most;
    if (melted <= least[c]!) continue;
    least[c] = melted;
    source[c] = FeedSource.flow;
  }
  return { least, source, enough };
}

/** Blocks and segments of one layer of one region. */
interface LayerSpan {
  readonly from: number;
  readonly to: number;
  /** Rides that hold the blocks. */
  readonly segmentFrom: number;
  readonly segmentTo: number;
}

function layerSpans({ region, layer, kind }: MotionBlocks, { segment }: Route): LayerSpan[] {
  const out: LayerSpan[] = [];
  let from = 0;
  let rideFrom = 0;
  for (let b = 1; b <= region.length; b++) {
    const same = b < region.length && region[b] === region[from] && layer[b] === layer[from];
    if (same) continue;
    let lays = false;
    for (let i = from; i < b && !lays; i++) lays = kind[i] === MoveKind.deposit;
    while (segment[rideFrom + 1]! <= from) rideFrom++;
    let rideTo = rideFrom + 1;
    while (segment[rideTo]! < b) rideTo++;
    if (lays) out.push({ from, to: b, segmentFrom: rideFrom, segmentTo: rideTo });
    from = b;
  }
  return out;
}

/** Slows layers down to the least layer time; `wanted` is changed in place. */
function holdLayers(
  blocks: MotionBlocks,
  route: Route,
  wanted: StretchableTimes,
  times: TimeParameterization,
  material: Material,
  complaints: Complaints,
): void {
  const least = material.leastLayerSeconds;
  const short: LayerSpan[] = [];
  for (const span of layerSpans(blocks, route)) {
    for (let round = 0; round < LAYER_ROUNDS; round++) {
      if (timeOf(times, span) >= least * LONG_ENOUGH) break;
      if (!slowDown(blocks, times, wanted, span, least)) break;
      times.run(span.segmentFrom, span.segmentTo);
    }
    if (timeOf(times, span) < least * LONG_ENOUGH) short.push(span);
  }
  reportShort(blocks, times, short, material, complaints);
}

function timeOf({ real }: TimeParameterization, span: LayerSpan): number {
  let sum = 0;
  for (let b = span.from; b < span.to; b++) sum += real[b]!;
  return sum;
}

/** True if any block of the layer became slower. */
function slowDown(
  blocks: MotionBlocks,
  times: TimeParameterization,
  wanted: StretchableTimes,
  span: LayerSpan,
  least: number,
): boolean {
  const { seconds, real } = times;
  let laying = 0;
  for (let b = span.from; b < span.to; b++) {
    if (blocks.kind[b] === MoveKind.deposit) laying += real[b]!;
  }
  if (!(laying > 0)) return false;
  const factor = laying / (laying + least - timeOf(times, span));
  let slower = false;
  for (let b = span.from; b < span.to; b++) {
    if (blocks.kind[b] !== MoveKind.deposit) continue;
    // From what was reached, not from what was asked: that may never have been reached at all.
    const took = seconds[b]!;
    const next = Math.min(took / factor, Math.max(wanted.enough[b]!, took));
    if (next > wanted.least[b]! * (1 + 1e-9)) {
      wanted.least[b] = next;
      wanted.source[b] = FeedSource.layerTime;
      slower = true;
    }
  }
  return slower;
}

function reportShort(
  blocks: MotionBlocks,
  times: TimeParameterization,
  short: readonly LayerSpan[],
  material: Material,
  complaints: Complaints,
): void {
  const first = short[0];
  if (!first) return;
  const worst = short.reduce((a, b) => (timeOf(times, b) < timeOf(times, a) ? b : a), first);
  complaints.add({
    code: 'motion/layer-time',
    severity: 'warning',
    message: `${short.length} layers are done sooner than the material's ${material.leastLayerSeconds} s: its least flow of ${material.flow.least} mm3/s allows no slower; the shortest takes ${timeOf(times, worst).toFixed(2)} s`,
    at: { region: blocks.region[worst.from]!, layer: blocks.layer[worst.from]! },
  });
}

/** Beads that taper off and corners ask for little flow for moments in any part; only longer counts. */
function reportLowFlow(
  { blocks, start }: MergedBlocks,
  took: TimeParameterization,
  totalSeconds: number,
  material: Material,
  complaints: Complaints,
): void {
  const least = material.flow.least;
  const stretch = { seconds: 0, lowest: Infinity, at: -1 };
  const low = { seconds: 0, lowest: Infinity, at: -1 };
  const end = (): void => {
    if (stretch.seconds > LOW_FLOW_MOMENT) {
      low.seconds += stretch.seconds;
      if (stretch.lowest < low.lowest) [low.lowest, low.at] = [stretch.lowest, stretch.at];
    }
    [stretch.seconds, stretch.lowest] = [0, Infinity];
  };
  for (let b = 0; b < blocks.kind.length; b++) {
    const lays = blocks.kind[b] === MoveKind.deposit && took.seconds[b]! > 0;
    const flow = lays ? (blocks.section[b]! * blocks.length[b]!) / took.seconds[b]! : Infinity;
    if (flow >= least * (1 - 1e-6)) {
      end();
      continue;
    }
    stretch.seconds += took.real[b]!;
    if (flow < stretch.lowest) [stretch.lowest, stretch.at] = [flow, b];
  }
  end();
  if (low.at < 0) return;
  complaints.add({
    code: 'motion/low-flow',
    severity: low.seconds < LITTLE * totalSeconds ? 'note' : 'warning',
    message: `for ${low.seconds.toFixed(1)} s, longer than ${LOW_FLOW_MOMENT} s at a time, the feed asks for less flow than the material's least of ${least} mm3/s; the lowest is ${low.lowest.toFixed(3)} mm3/s`,
    at: {
      region: blocks.region[low.at]!,
      layer: blocks.layer[low.at]!,
      block: start[low.at]!,
    },
  });
}

/** A nozzle keeps laying evenly for this long on what it holds, s; common practice, no source. */
const LOW_FLOW_MOMENT = 0.2;
/** Share of the job below which low flow does not mean that a speed is too low. */
const LITTLE = 0.005;
