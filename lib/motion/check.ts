/**
 * The blocks of the runs against what stands around: the head against the table, and head,
 * table and part against the simple solids at the extreme poses of every layer. Each trouble is told
 * once for a region, at its worst.
 */
import type { Frame } from '../base/frame.js';
import { firstAtLeast } from '../base/sorted.js';
import { type Boxes, turnedBox } from '../order/boxes.js';
import type { Blocks } from './blocks.js';
import { bodiesOf } from './bodies.js';
import { roomAt } from './obstacles.js';
import { headOverTable } from './table.js';
import type { Scene } from './transfer.js';
import type { Complaints } from './travel.js';

/** Blocks from .. to (exclusive) lie in one run. */
export interface Span {
  readonly from: number;
  readonly to: number;
  /** As it is when the run begins. */
  readonly scene: Scene;
  readonly grown: Grown;
}

/** A region as it grows: boxes by their lowest height along the build direction. */
export interface Grown {
  /** Rising. */
  readonly height: Float64Array;
  readonly boxes: Boxes;
  /** Top of each layer, mm of layer space. */
  readonly top: Float64Array;
}

export function grownOf(boxes: Boxes, layerFromPart: Frame, top: Float64Array): Grown {
  const count = boxes.length / 6;
  const lowest = Array.from(
    { length: count },
    (_, i) => turnedBox(layerFromPart, boxes, 6 * i)[2]![0]!,
  );
  const order = [...lowest.keys()].sort((a, b) => lowest[a]! - lowest[b]!);
  const sorted = new Float64Array(boxes.length);
  order.forEach((i, at) => sorted.set(boxes.subarray(6 * i, 6 * i + 6), 6 * at));
  return { height: Float64Array.from(order, (i) => lowest[i]!), boxes: sorted, top };
}

/** What stands once a layer is laid. */
function sceneAt({ scene, grown }: Span, layer: number): Scene {
  const count = firstAtLeast(grown.height, grown.top[layer]!);
  const printed = [...scene.bodies.printed, grown.boxes.subarray(0, 6 * count)];
  return {
    ...scene,
    bodies: bodiesOf(
      scene.machine,
      printed.filter((b) => b.length > 0),
    ),
  };
}

/** @throws Fault `motion/table` or `motion/obstacle` if the job is to be refused */
export function checkSpans(blocks: Blocks, spans: readonly Span[], complaints: Complaints): void {
  for (const span of spans) {
    checkTable(blocks, span, complaints);
    if (span.scene.obstacles.pairs.length) checkObstacles(blocks, span, complaints);
  }
}

function checkTable(blocks: Blocks, { from, to, scene }: Span, complaints: Complaints): void {
  const low = headOverTable(scene.machine, blocks, from, to);
  if (!low) return;
  const region = blocks.region[low.block]!;
  const layer = blocks.layer[low.block]!;
  complaints.error(
    'motion/table',
    `in region ${region + 1}, layer ${layer + 1}, the head comes ${low.missing.toFixed(2)} mm too near to the table, its clearance is ${scene.machine.clearance} mm`,
    { region, layer },
  );
}

/**
 * Room is asked for with the region whole first, and only where that is too tight with as much of it
 * as is laid by then.
 */
function checkObstacles(blocks: Blocks, span: Span, complaints: Complaints): void {
  const n = blocks.jointCount;
  const { scene, grown } = span;
  const whole = bodiesOf(scene.machine, [...scene.bodies.printed, grown.boxes]);
  for (const { layer, poses } of extremes(blocks, span)) {
    for (const block of poses) {
      const joints = blocks.joints.subarray(block * n, block * n + n);
      if (roomAt(scene.obstacles, whole, joints).room >= 0) continue;
      const now = roomAt(scene.obstacles, sceneAt(span, layer).bodies, joints);
      if (now.room >= 0) continue;
      const region = blocks.region[block]!;
      complaints.error(
        'motion/obstacle',
        `in region ${region + 1}, layer ${layer + 1}, ${now.words}`,
        {
          region,
          layer,
        },
      );
      return;
    }
  }
}

/** For each layer the blocks at which some joint is farthest out either way. */
function extremes(blocks: Blocks, { from, to }: Span): { layer: number; poses: number[] }[] {
  const { joints, jointCount: n, layer } = blocks;
  const out: { layer: number; poses: number[] }[] = [];
  for (let a = from; a < to;) {
    let b = a;
    const least = new Array<number>(n).fill(a);
    const most = new Array<number>(n).fill(a);
    for (; b < to && layer[b] === layer[a]; b++) {
      for (let j = 0; j < n; j++) {
        const value = joints[b * n + j]!;
        if (value < joints[least[j]! * n + j]!) least[j] = b;
        if (value > joints[most[j]! * n + j]!) most[j] = b;
      }
    }
    out.push({ layer: layer[a]!, poses: [...new Set([...least, ...most])] });
    a = b;
  }
  return out;
}
