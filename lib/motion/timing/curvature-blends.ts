/**
 * What a jerk limit makes of the corners of a route: where the path acceleration must be zero, how fast a
 * corner is passed, and what is left of each limit beside the turning.
 *
 * A finite jerk needs continuous curvature. A corner blend has a triangular curvature: it rises linearly
 * over a length h before the corner to k = jump / h and falls over h behind it, which strays by |jump| h /
 * 6. Within the blend the path speed is constant, so a joint's acceleration k v^2 and its jerk k v^3 / h
 * are all there is. Between short blocks no longer than CHORD_RATIO times their neighbours, in which the
 * deviation would allow blends that overlap, the corners are those of a curve in chords: there k = jump
 * over the mean length, changing linearly from corner to corner, and the path speed may change, within what
 * TURNING_ACCELERATION of the acceleration and half of the jerk leave over.
 */
import { NO_JOINT, type Route, ratesInto } from './path-limits.js';

/** A chord of a curve is at most this many times as long as the ones beside it. */
const CHORD_RATIO = 4;
/** Share of a joint's acceleration that the curvature of chords may use. */
export const TURNING_ACCELERATION = 0.7;
/** Share of a joint's jerk that the change of that curvature may use. */
export const TURNING_JERK = 0.5;
/** Share of it that acceleration along a curve may use, 3 k v a. */
export const MIXED_JERK = 0.25;

export interface Bends {
  /** Half length of the blend at the corner at the start of each block, mm; 0 in curves and straight on. */
  readonly blend: Float64Array;
  /** Greatest speed through it, mm/s, and whose limit it is; Infinity where there is no blend. */
  readonly blendSpeed: Float64Array;
  readonly blendJoint: Uint8Array;
  /** Greatest jerk along each block, mm/s3 of its length, and whose limit it is. */
  readonly jerk: Float64Array;
  readonly jerkJoint: Uint8Array;
  /**
   * Chords: greatest square of speed by TURNING_ACCELERATION of some acceleration, mm2/s2; Infinity if
   * straight.
   */
  readonly turn: Float64Array;
  readonly turnJoint: Uint8Array;
  /** Chords: greatest cube of speed by TURNING_JERK of some jerk, mm3/s3. */
  readonly twist: Float64Array;
  /** Chords: least ratio of jerk to acceleration of the joints that turn, 1/s. */
  readonly jerkRatio: Float64Array;
}

type MutableBends = { -readonly [K in keyof Bends]: Bends[K] };

export function bendsOf(route: Route): Bends {
  const n = route.length.length;
  const values = (x: number): Float64Array => new Float64Array(n).fill(x);
  const nobody = (): Uint8Array => new Uint8Array(n).fill(NO_JOINT);
  const bends: MutableBends = {
    blend: values(0),
    blendSpeed: values(Infinity),
    blendJoint: nobody(),
    jerk: values(Infinity),
    jerkJoint: nobody(),
    turn: values(Infinity),
    turnJoint: nobody(),
    twist: values(Infinity),
    jerkRatio: values(Infinity),
  };
  const curved = chordsOf(route);
  const { segment } = route;
  for (let r = 0; r + 1 < segment.length; r++)
    bendSegment(route, bends, curved, segment[r]!, segment[r + 1]!);
  return bends;
}

/** 1 for each block that is a chord of a curve. */
function chordsOf({ length, stray, deviation }: Route): Uint8Array {
  const n = length.length;
  const out = new Uint8Array(n);
  const short = (b: number, at: number): boolean =>
    stray[at]! > 0 && stray[at]! * length[b]! <= 6 * deviation;
  for (let b = 1; b + 1 < n; b++) {
    const chord = short(b, b) && short(b, b + 1);
    const longest = CHORD_RATIO * Math.min(length[b - 1]!, length[b + 1]!);
    if (chord && length[b]! <= longest) out[b] = 1;
  }
  return out;
}

/** Rates of three blocks in a row and curvatures at both ends of the middle one. */
function bendSegment(
  route: Route,
  bends: MutableBends,
  curved: Uint8Array,
  a: number,
  b: number,
): void {
  const count = route.polyline.jointCount;
  let before = new Float64Array(count);
  let here = new Float64Array(count);
  let after = new Float64Array(count);
  const load = (i: number, out: Float64Array): void => {
    ratesInto(route.machine, route.polyline, i, out);
  };
  load(a, here);
  for (let i = a; i < b; i++) {
    if (i + 1 < b) load(i + 1, after);
    limitJerk(route, bends, i, here);
    const jumps = i > a && route.stray[i]! > 0;
    if (jumps && !(curved[i] && curved[i - 1])) putBlend(route, bends, i, before, here);
    if (curved[i]) limitChord(route, bends, curved, i, before, here, after);
    [before, here, after] = [here, after, before];
  }
}

function limitJerk({ machine }: Route, bends: MutableBends, i: number, rate: Float64Array): void {
  for (let j = 0; j < rate.length; j++) {
    const share = Math.abs(rate[j]!);
    if (share === 0 || machine.joints[j]!.jerk >= bends.jerk[i]! * share) continue;
    bends.jerk[i] = machine.joints[j]!.jerk / share;
    bends.jerkJoint[i] = j;
  }
}

function putBlend(
  route: Route,
  bends: MutableBends,
  i: number,
  u: Float64Array,
  v: Float64Array,
): void {
  const { machine, length, stray, deviation } = route;
  const h = Math.min(length[i - 1]! / 2, length[i]! / 2, (6 * deviation) / stray[i]!);
  bends.blend[i] = h;
  for (let j = 0; j < u.length; j++) {
    const jump = Math.abs(v[j]! - u[j]!);
    if (jump === 0) continue;
    const joint = machine.joints[j]!;
    const most = Math.min(
      Math.sqrt((joint.acceleration * h) / jump),
      Math.cbrt((joint.jerk * h * h) / jump),
    );
    if (most >= bends.blendSpeed[i]!) continue;
    bends.blendSpeed[i] = most;
    bends.blendJoint[i] = j;
  }
}

function limitChord(
  route: Route,
  bends: MutableBends,
  curved: Uint8Array,
  i: number,
  before: Float64Array,
  here: Float64Array,
  after: Float64Array,
): void {
  const { machine, length } = route;
  const [l0, l1, l2] = [length[i - 1]!, length[i]!, length[i + 1]!];
  // Towards a blend the curvature fades out before the blend begins, half a block away.
  const [open, close] = [curved[i - 1] === 1, curved[i + 1] === 1];
  const over = open && close ? l1 : l1 / 2;
  for (let j = 0; j < here.length; j++) {
    const joint = machine.joints[j]!;
    const k0 = open ? (2 * (here[j]! - before[j]!)) / (l0 + l1) : 0;
    const k1 = close ? (2 * (after[j]! - here[j]!)) / (l1 + l2) : 0;
    const k = Math.max(Math.abs(k0), Math.abs(k1));
    if (k === 0) continue;
    const turn = (TURNING_ACCELERATION * joint.acceleration) / k;
    if (turn < bends.turn[i]!) {
      bends.turn[i] = turn;
      bends.turnJoint[i] = j;
    }
    const change = Math.abs(k1 - k0) / over;
    bends.twist[i] = Math.min(bends.twist[i]!, (TURNING_JERK * joint.jerk) / change);
    bends.jerkRatio[i] = Math.min(bends.jerkRatio[i]!, joint.jerk / joint.acceleration);
  }
}
