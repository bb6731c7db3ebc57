/**
 * The path of the joints, before any speed is asked for: for every block its length, the greatest speed and
 * acceleration along it and how its corners are rounded. Nothing here depends on the speeds that a job asks
 * for.
 *
 * Length is measured over the joints, so that a block in which only a rotary joint turns has one too: mm, a
 * radian counting as RADIAN mm. It is a parameter and no more: limits are those of each joint.
 *
 * A corner is rounded by a parabola of joint space over a length d on either side of it (d of the block
 * before, d of the block after): there every joint's rate dq/ds changes linearly from the one block's to
 * the next one's, so d2q/ds2 = k = jump / 2d, and the path passes the corner at |jump| d / 4. That is held
 * to the stated deviation; d is at most half of either block, so chords of a curve get the curvature of
 * that curve, however fine they are. The tangent arc of the same deviation asks for more acceleration at
 * every angle and in some joints for more than the jump says.
 */
import { tipChange } from '../../machine/forward.js';
import type { Machine } from '../../machine/machine.js';
import type { JointPolyline } from '../lay/blocks.js';

/** How many mm of path a radian counts as, and the least lever at which a corner of one is judged. */
export const RADIAN = 50;
/** No joint. */
export const NO_JOINT = 255;
/** Rates that differ by less are the same direction. */
const SAME_RATES = 1e-9;
/** Cosine between two blocks below which the path turns back: the joints stop there. */
const BACK = -0.9999;

export interface Route {
  readonly machine: Machine;
  readonly polyline: JointPolyline;
  /** Length of each block over the joints, mm; 0 where no joint moves. */
  readonly length: Float64Array;
  /** Greatest speed that the joints allow along a block, mm/s of that length, and whose limit it is. */
  readonly speed: Float64Array;
  readonly speedJoint: Uint8Array;
  /** Greatest acceleration along a block, mm/s2 of that length, and whose limit it is. */
  readonly ramp: Float64Array;
  readonly rampJoint: Uint8Array;
  /**
   * How far the tip strays at the corner at the start of each block for a length of one, mm; 0 straight on.
   */
  readonly stray: Float64Array;
  /** Length on either side over which the corner at the start of each block is rounded, mm. */
  readonly round: Float64Array;
  /** Square of the greatest speed through that corner, mm2/s2; Infinity straight on, 0 at a stop. */
  readonly corner: Float64Array;
  /** Offsets of the segments: blocks `segment[i] .. segment[i + 1]` run from rest to rest. */
  readonly segment: Uint32Array;
  /** How far a corner may be rounded, mm of the tip. */
  readonly deviation: number;
}

/** Length of path that a unit of each joint counts as. */
export const weightsOf = (machine: Machine): readonly number[] =>
  machine.joints.map((joint) => (joint.kind === 'rotary' ? RADIAN : 1));

/** Length of block b over the joints, mm. */
export function lengthOver(
  { jointCount: n, from, joints }: JointPolyline,
  weight: readonly number[],
  b: number,
): number {
  let sum = 0;
  for (let j = 0; j < n; j++) {
    const step = joints[b * n + j]! - (b ? joints[b * n - n + j]! : from[j]!);
    sum += (step * weight[j]!) ** 2;
  }
  return Math.sqrt(sum);
}

export function routeOf(machine: Machine, polyline: JointPolyline, cornerDeviation: number): Route {
  const count = polyline.jointCount;
  const n = polyline.joints.length / count;
  const route = {
    machine,
    polyline,
    length: new Float64Array(n),
    speed: new Float64Array(n),
    speedJoint: new Uint8Array(n).fill(NO_JOINT),
    ramp: new Float64Array(n),
    rampJoint: new Uint8Array(n).fill(NO_JOINT),
    stray: new Float64Array(n),
    round: new Float64Array(n),
    corner: new Float64Array(n),
    segment: new Uint32Array(0),
    deviation: cornerDeviation,
  };
  let rate = new Float64Array(count);
  let before = new Float64Array(count);
  for (let b = 0; b < n; b++) {
    [rate, before] = [before, rate];
    route.length[b] = ratesInto(machine, polyline, b, rate);
    if (!(route.length[b]! > 0)) continue;
    limitBlock(route, b, rate);
    if (b > 0 && route.length[b - 1]! > 0) roundCorner(route, b, before, rate, cornerDeviation);
  }
  return { ...route, segment: segmentsOf(route) };
}

/** Writes dq/ds of every joint in block b, mm and rad for a mm of length; returns the length. */
export function ratesInto(
  machine: Machine,
  polyline: JointPolyline,
  b: number,
  rate: Float64Array,
): number {
  const n = polyline.jointCount;
  let sum = 0;
  for (let j = 0; j < n; j++) {
    const start = b ? polyline.joints[(b - 1) * n + j]! : polyline.from[j]!;
    const step = polyline.joints[b * n + j]! - start;
    rate[j] = step;
    sum += (step * (machine.joints[j]!.kind === 'rotary' ? RADIAN : 1)) ** 2;
  }
  const length = Math.sqrt(sum);
  if (length > 0) for (let j = 0; j < n; j++) rate[j]! /= length;
  return length;
}

type MutableRoute = { -readonly [K in keyof Route]: Route[K] };

function limitBlock(route: MutableRoute, b: number, rate: Float64Array): void {
  let speed = Infinity;
  let ramp = Infinity;
  for (let j = 0; j < rate.length; j++) {
    const share = Math.abs(rate[j]!);
    if (share === 0) continue;
    const joint = route.machine.joints[j]!;
    if (joint.speed < speed * share) {
      speed = joint.speed / share;
      route.speedJoint[b] = j;
    }
    if (joint.acceleration < ramp * share) {
      ramp = joint.acceleration / share;
      route.rampJoint[b] = j;
    }
  }
  route.speed[b] = speed;
  route.ramp[b] = ramp;
}

function roundCorner(
  route: MutableRoute,
  b: number,
  u: Float64Array,
  v: Float64Array,
  deviation: number,
): void {
  const { machine, length } = route;
  let [along, jump, turns] = [0, 0, false];
  for (let j = 0; j < u.length; j++) {
    const rotary = machine.joints[j]!.kind === 'rotary';
    const weight = rotary ? RADIAN : 1;
    const change = (v[j]! - u[j]!) * weight;
    along += u[j]! * v[j]! * weight * weight;
    jump += change * change;
    turns ||= rotary && change !== 0;
  }
  route.corner[b] = Infinity;
  if (jump < SAME_RATES * SAME_RATES) return;
  if (along < BACK) {
    route.corner[b] = 0;
    return;
  }
  const stray = turns ? strayOf(route, b, u, v) : Math.sqrt(jump);
  const d = Math.min(length[b]! / 2, length[b - 1]! / 2, (4 * deviation) / stray);
  route.stray[b] = stray;
  route.round[b] = d;
  let most = Infinity;
  for (let j = 0; j < u.length; j++) {
    const k = Math.abs(v[j]! - u[j]!) / (2 * d);
    if (k > 0) most = Math.min(most, machine.joints[j]!.acceleration / k);
  }
  route.corner[b] = most;
}

/** Half of the difference by which a joint is moved to find how far it carries the tip, rad. */
const LEVER_STEP = 1e-4;

/** How far the tip strays for a unit of the corner's jump. */
function strayOf(route: MutableRoute, b: number, u: Float64Array, v: Float64Array): number {
  const { machine, polyline } = route;
  const n = u.length;
  const at = polyline.joints.subarray((b - 1) * n, b * n);
  return tipShift(
    machine,
    at,
    v.map((rate, j) => rate - u[j]!),
  );
}

/**
 * How far the tip moves at most while the joints change by so much: root sum of squares of the linear
 * joints, levers added, mm.
 * @param at joint values about which they change
 */
export function tipShift(machine: Machine, at: Float64Array, change: Float64Array): number {
  let straight = 0;
  let turned = 0;
  for (let j = 0; j < change.length; j++) {
    if (change[j] === 0) continue;
    if (machine.joints[j]!.kind === 'linear') straight += change[j]! ** 2;
    else turned += Math.abs(change[j]!) * Math.max(RADIAN, leverOf(machine, at.slice(), j));
  }
  return Math.sqrt(straight) + turned;
}

/** Distance of the tip from the axis of a rotary joint, mm. `joints` is left as it was. */
export function leverOf(machine: Machine, joints: Float64Array, j: number): number {
  const [x, y, z] = tipChange(machine, joints, j, LEVER_STEP);
  return Math.sqrt(x * x + y * y + z * z) / (2 * LEVER_STEP);
}

/** A segment ends where no joint moves, where the path turns back, and at the end. */
function segmentsOf({ length, corner }: Route): Uint32Array {
  const out: number[] = [0];
  for (let b = 1; b < length.length; b++) {
    if (!(length[b]! > 0) || !(length[b - 1]! > 0) || corner[b] === 0) out.push(b);
  }
  if (length.length) out.push(length.length);
  return Uint32Array.from(out);
}
