/**
 * The pace of every block: blocks and joint limits come in, the time of each block at its feed, the
 * time of the whole job with acceleration counted, and for each joint the share of that time in
 * which it sets the pace come out. No joint is asked for more than its speed, and along a path none
 * for more than its acceleration; corners are taken at the speed of the arc that rounds them by the
 * stated deviation.
 *
 * Path length is measured over the joints, so that blocks in which only a rotary joint turns have one
 * too: mm, a radian counting as RADIAN mm. Limits are per joint, so the weight changes only how far
 * a corner between turning and running counts as one.
 */
import type { Machine } from '../machine/machine.js';
import type { Blocks } from './blocks.js';
import { cornerRadius, trapezoid } from './profile.js';

/** How many mm of path a radian counts as. */
const RADIAN = 50;
/** Nothing but its own limits: the flow, the speed that was asked for. */
const NO_JOINT = 255;

/** What does not depend on how fast the job goes. */
export interface PathShape {
  readonly blocks: Blocks;
  /** Length of each block over the joints, mm. */
  readonly length: Float64Array;
  /** Greatest speed that the joints allow, mm/s of that length, and the joint that says so. */
  readonly speed: Float64Array;
  readonly speedJoint: Uint8Array;
  /** Greatest acceleration along the block, mm/s2 of that length, and the joint that says so. */
  readonly acceleration: Float64Array;
  readonly accelerationJoint: Uint8Array;
  /** Greatest speed at the start of each block, mm/s; 0 where the path stops. */
  readonly corner: Float64Array;
}

export function shapeOf(machine: Machine, blocks: Blocks, cornerDeviation: number): PathShape {
  const n = blocks.kind.length;
  const count = blocks.jointCount;
  const limits = machine.joints;
  const weight = limits.map((j) => (j.kind === 'rotary' ? RADIAN : 1));
  const shape = {
    blocks,
    length: new Float64Array(n),
    speed: new Float64Array(n),
    speedJoint: new Uint8Array(n).fill(NO_JOINT),
    acceleration: new Float64Array(n),
    accelerationJoint: new Uint8Array(n).fill(NO_JOINT),
    corner: new Float64Array(n),
  };
  let e = new Float64Array(count);
  let before = new Float64Array(count);
  let moved = false;
  for (let b = 0; b < n; b++) {
    [e, before] = [before, e];
    let sum = 0;
    for (let j = 0; j < count; j++) {
      const start = b ? blocks.joints[(b - 1) * count + j]! : blocks.from[j]!;
      const step = (blocks.joints[b * count + j]! - start) * weight[j]!;
      e[j] = step;
      sum += step * step;
    }
    const length = Math.sqrt(sum);
    shape.length[b] = length;
    if (!(length > 0)) {
      moved = false;
      continue;
    }
    let speed = Infinity;
    let acceleration = Infinity;
    for (let j = 0; j < count; j++) {
      e[j]! /= length;
      const share = Math.abs(e[j]!) / weight[j]!;
      if (share === 0) continue;
      const joint = limits[j]!;
      if (joint.speed < speed * share) {
        speed = joint.speed / share;
        shape.speedJoint[b] = j;
      }
      if (joint.acceleration < acceleration * share) {
        acceleration = joint.acceleration / share;
        shape.accelerationJoint[b] = j;
      }
    }
    shape.speed[b] = speed;
    shape.acceleration[b] = acceleration;
    shape.corner[b] = moved ? cornerLimit(machine, weight, before, e, cornerDeviation) : 0;
    moved = true;
  }
  return shape;
}

/** Speed through the corner between unit directions u and v, mm/s. */
function cornerLimit(
  machine: Machine,
  weight: readonly number[],
  u: Float64Array,
  v: Float64Array,
  deviation: number,
): number {
  let change = 0;
  for (let j = 0; j < u.length; j++) change += (v[j]! - u[j]!) ** 2;
  const size = Math.sqrt(change);
  if (size < 1e-9) return Infinity;
  // |v - u| = 2 cos(g / 2) for interior angle g.
  const radius = cornerRadius(deviation, 2 * Math.acos(Math.min(1, size / 2)));
  let acceleration = Infinity;
  for (let j = 0; j < u.length; j++) {
    const share = Math.abs(v[j]! - u[j]!) / size / weight[j]!;
    if (share > 0) acceleration = Math.min(acceleration, machine.joints[j]!.acceleration / share);
  }
  return Math.sqrt(acceleration * radius);
}

export interface Pace {
  /** Time of each block at its feed, s. */
  readonly seconds: Float64Array;
  /** Time of each block with speeding up and slowing down, s. */
  readonly real: Float64Array;
  readonly totalSeconds: number;
  /** Share of the time in which each joint sets the pace, 0 to 1. */
  readonly paceShare: Float64Array;
}

/**
 * A block's feed is the greatest speed it reaches. Between close corners that may be very little for
 * moments that no nozzle notices, so where something is laid the feed stays at `floor`, if the joints
 * allow it, and the controller slows down in the corners by itself.
 *
 * @param wanted tip speed (filament speed where only filament moves) of each block, mm/s
 * @param floor tip speed under which the feed of a block need not go, mm/s
 */
export function paceOf(shape: PathShape, wanted: Float64Array, floor?: Float64Array): Pace {
  const { blocks, length } = shape;
  const n = length.length;
  const cruise = cruiseOf(shape, wanted);
  const entry = entrySpeeds(shape, cruise);
  const seconds = new Float64Array(n);
  const real = new Float64Array(n);
  const share = new Float64Array(blocks.jointCount);
  let total = 0;
  for (let b = 0; b < n; b++) {
    if (!(length[b]! > 0)) {
      seconds[b] = real[b] = wanted[b]! > 0 ? Math.abs(blocks.filament[b]!) / wanted[b]! : 0;
      total += real[b]!;
      continue;
    }
    const t = trapezoid(length[b]!, entry[b]!, entry[b + 1]!, cruise[b]!, shape.acceleration[b]!);
    const least = floor && blocks.length[b]! > 0 ? (floor[b]! * length[b]!) / blocks.length[b]! : 0;
    seconds[b] = length[b]! / Math.max(t.peak, Math.min(cruise[b]!, least));
    real[b] = t.seconds;
    total += t.seconds;
    const ramp = shape.accelerationJoint[b]!;
    if (ramp !== NO_JOINT) share[ramp]! += t.seconds - t.cruise;
    const flat = shape.speedJoint[b]!;
    if (flat !== NO_JOINT && cruise[b]! >= shape.speed[b]!) share[flat]! += t.cruise;
  }
  if (total > 0) for (let j = 0; j < share.length; j++) share[j]! /= total;
  return { seconds, real, totalSeconds: total, paceShare: share };
}

/** Greatest speed inside each block, mm/s over the joints. */
function cruiseOf(shape: PathShape, wanted: Float64Array): Float64Array {
  const cruise = new Float64Array(shape.length.length);
  for (let b = 0; b < cruise.length; b++) {
    const tip = shape.blocks.length[b]!;
    // A tip that stands still over the part sets no pace; the joints alone do.
    const asked = tip > 0 ? (wanted[b]! * shape.length[b]!) / tip : Infinity;
    cruise[b] = Math.min(shape.speed[b]!, asked);
  }
  return cruise;
}

/** Speed at the start of each block and, last, at the end: backward pass, then forward pass. */
function entrySpeeds(shape: PathShape, cruise: Float64Array): Float64Array {
  const n = cruise.length;
  const v = new Float64Array(n + 1);
  for (let b = n - 1; b >= 0; b--) {
    const stop = Math.sqrt(v[b + 1]! ** 2 + 2 * shape.acceleration[b]! * shape.length[b]!);
    v[b] = Math.min(shape.corner[b]!, cruise[b]!, b ? cruise[b - 1]! : 0, stop);
  }
  for (let b = 0; b < n; b++) {
    const start = Math.sqrt(v[b]! ** 2 + 2 * shape.acceleration[b]! * shape.length[b]!);
    v[b + 1] = Math.min(v[b + 1]!, start);
  }
  return v;
}
