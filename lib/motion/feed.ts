/**
 * The feed of every block: blocks come in with the tip speed that the job asks for, the motion record
 * goes out. A bead's speed is held under what the nozzle melts, a layer that would be done too soon
 * is slowed down as far as the nozzle's least flow allows, and the pace stage then holds every joint
 * to its limits.
 */
import type { Machine } from '../machine/machine.js';
import type { Material } from '../machine/material.js';
import type { Blocks } from './blocks.js';
import { type Motion, MoveKind } from './motion.js';
import { type Pace, type PathShape, paceOf, shapeOf } from './pace.js';
import type { MotionRules } from './rules.js';
import type { Complaints } from './travel.js';

/** Rounds of slowing short layers down; each comes closer, as speeding up takes its share. */
const ROUNDS = 4;
/** A layer that lasts this share of the least time is long enough. */
const LONG_ENOUGH = 0.999;

export function setPace(
  machine: Machine,
  material: Material,
  blocks: Blocks,
  rules: MotionRules,
  complaints: Complaints,
): Motion {
  const shape = shapeOf(machine, blocks, rules.cornerDeviation);
  const speed = withinFlow(blocks, material);
  const pace = holdLayers(shape, speed, floorOf(blocks, material), material, complaints);
  tellLowFlow(blocks, pace, material, complaints);
  return {
    jointCount: blocks.jointCount,
    from: blocks.from,
    joints: blocks.joints,
    kind: blocks.kind,
    filament: blocks.filament,
    seconds: pace.seconds,
    length: blocks.length,
    region: blocks.region,
    layer: blocks.layer,
    pathKind: blocks.pathKind,
    totalSeconds: pace.totalSeconds,
    paceShare: pace.paceShare,
  };
}

/** Speed asked for, at most what the nozzle melts, mm/s. */
function withinFlow(blocks: Blocks, material: Material): Float64Array {
  const speed = blocks.speed.slice();
  for (let b = 0; b < speed.length; b++) {
    const section = blocks.section[b]!;
    if (section > 0) speed[b] = Math.min(speed[b]!, material.flow.most / section);
  }
  return speed;
}

/** Tip speed at which a bead has the least flow, mm/s; 0 where nothing is laid. */
function floorOf(blocks: Blocks, material: Material): Float64Array {
  return blocks.section.map((section) => (section > 0 ? material.flow.least / section : 0));
}

/** A stretch of blocks in one layer of one region. */
interface LayerSpan {
  readonly from: number;
  readonly to: number;
}

function layerSpans(blocks: Blocks): LayerSpan[] {
  const out: LayerSpan[] = [];
  const { region, layer, kind } = blocks;
  let from = 0;
  for (let b = 1; b <= region.length; b++) {
    const same = b < region.length && region[b] === region[from] && layer[b] === layer[from];
    if (same) continue;
    let lays = false;
    for (let i = from; i < b && !lays; i++) lays = kind[i] === MoveKind.deposit;
    if (lays) out.push({ from, to: b });
    from = b;
  }
  return out;
}

/** Slows layers down to the least layer time; `speed` is changed in place. */
function holdLayers(
  shape: PathShape,
  speed: Float64Array,
  floor: Float64Array,
  material: Material,
  complaints: Complaints,
): Pace {
  const { blocks } = shape;
  const spans = layerSpans(blocks);
  const least = material.leastLayerSeconds;
  let pace = paceOf(shape, speed, floor);
  const short = (): LayerSpan[] => spans.filter((s) => timeOf(pace, s) < least * LONG_ENOUGH);
  for (let round = 0; round < ROUNDS; round++) {
    let slower = false;
    for (const span of short()) {
      slower = slowDown(blocks, pace, speed, floor, span, least) || slower;
    }
    if (!slower) break;
    pace = paceOf(shape, speed, floor);
  }
  tellShort(blocks, pace, short(), material, complaints);
  return pace;
}

function timeOf(pace: Pace, span: LayerSpan): number {
  let sum = 0;
  for (let b = span.from; b < span.to; b++) sum += pace.real[b]!;
  return sum;
}

/** True if any block of the layer became slower. */
function slowDown(
  blocks: Blocks,
  pace: Pace,
  speed: Float64Array,
  floor: Float64Array,
  span: LayerSpan,
  least: number,
): boolean {
  let laying = 0;
  for (let b = span.from; b < span.to; b++) {
    if (blocks.kind[b] === MoveKind.deposit) laying += pace.real[b]!;
  }
  if (!(laying > 0)) return false;
  const factor = laying / (laying + least - timeOf(pace, span));
  let slower = false;
  for (let b = span.from; b < span.to; b++) {
    if (blocks.kind[b] !== MoveKind.deposit) continue;
    // From what was reached, not from what was asked: that may never have been reached at all.
    const reached = blocks.length[b]! / pace.seconds[b]!;
    const next = Math.max(reached * factor, Math.min(floor[b]!, reached));
    if (next < speed[b]! * (1 - 1e-9)) {
      speed[b] = next;
      slower = true;
    }
  }
  return slower;
}

function tellShort(
  blocks: Blocks,
  pace: Pace,
  short: readonly LayerSpan[],
  material: Material,
  complaints: Complaints,
): void {
  const first = short[0];
  if (!first) return;
  const worst = short.reduce((a, b) => (timeOf(pace, b) < timeOf(pace, a) ? b : a), first);
  complaints.add({
    code: 'motion/layer-time',
    severity: 'warning',
    message: `${short.length} layers are done sooner than the material's ${material.leastLayerSeconds} s: its least flow of ${material.flow.least} mm3/s allows no slower; the shortest takes ${timeOf(pace, worst).toFixed(2)} s`,
    at: { region: blocks.region[worst.from]!, layer: blocks.layer[worst.from]! },
  });
}

function tellLowFlow(blocks: Blocks, pace: Pace, material: Material, complaints: Complaints): void {
  const least = material.flow.least;
  let seconds = 0;
  let worst = -1;
  let lowest = Infinity;
  for (let b = 0; b < blocks.kind.length; b++) {
    if (blocks.kind[b] !== MoveKind.deposit || !(pace.seconds[b]! > 0)) continue;
    const flow = (blocks.section[b]! * blocks.length[b]!) / pace.seconds[b]!;
    if (flow >= least * (1 - 1e-6)) continue;
    seconds += pace.real[b]!;
    if (flow < lowest) {
      lowest = flow;
      worst = b;
    }
  }
  if (worst < 0) return;
  complaints.add({
    code: 'motion/low-flow',
    // Beads that taper off do it for moments in any part; a warning is for a speed that is too low.
    severity: seconds < MOMENTS * pace.totalSeconds ? 'note' : 'warning',
    message: `for ${seconds.toFixed(1)} s the feed asks for less flow than the material's least of ${least} mm3/s; the lowest is ${lowest.toFixed(3)} mm3/s`,
    at: { region: blocks.region[worst]!, layer: blocks.layer[worst]! },
  });
}

/** Share of the job under which low flow counts as momentary. */
const MOMENTS = 0.005;
