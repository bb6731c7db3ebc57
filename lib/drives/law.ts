/**
 * From a path of joints to joints over time: blocks and limits come in, pieces of constant joint
 * acceleration go out. Along a block the speed follows a trapezoid (RAMP), at a corner all joints
 * change their speed evenly over a blend (lines with parabolic blends; Craig, Introduction to
 * Robotics, from memory), so joint speeds have no steps and energy can be balanced. A corner is
 * passed at the greatest speed whose blend asks no joint for more than its acceleration, leaves the
 * corner by no more than the deviation, |dv| b / 8, and fits into half of both blocks. Jerk is not
 * limited. Controllers differ: this law is an assumption and is said to be one.
 *
 * Path length is measured over the joints: mm, a radian counting as `lever` mm.
 */
import { trapezoid } from '../motion/profile.js';
import type { JointPath } from './path.js';

/** Greatest speed and acceleration of each joint, mm and rad. */
export interface Limits {
  readonly speed: Float64Array;
  readonly acceleration: Float64Array;
}

/** Share by which speeds may differ and count as equal: rounding of lengths and times. */
const EVEN = 1e-6;
/** Pieces shorter than this are rounding, s. */
const MOMENT = 1e-9;

/** Nothing but the feed that was asked for. */
export const FEED = -1;

export interface Law {
  readonly path: JointPath;
  readonly length: Float64Array;
  /** Joint steps a unit of length, `jointCount` a block. */
  readonly unit: Float64Array;
  /** Greatest speed inside each block, and the joint that says so or FEED. */
  readonly most: Float64Array;
  readonly mostBy: Int8Array;
  /** Greatest acceleration along each block, and the joint that says so. */
  readonly ramp: Float64Array;
  readonly rampBy: Int8Array;
  /** Speed at the start of each block and, last, at the end; 0 where the path stops. */
  readonly corner: Float64Array;
  readonly cornerBy: Int8Array;
  /** Time of the blend around each start, s. */
  readonly blend: Float64Array;
}

/**
 * @param lever mm that a radian counts as, such as the radius of the table face
 * @param deviation how far the path may leave a corner, mm
 */
export function timeLaw(
  path: JointPath,
  limits: Limits,
  lever: readonly number[],
  deviation: number,
): Law {
  const law = measured(path, limits, lever);
  const factor = corners(law, limits, lever, deviation);
  settle(law, factor);
  soften(law, factor, lever, deviation);
  return law;
}

/** Lengths, directions and limits of each block by itself. */
function measured(path: JointPath, limits: Limits, lever: readonly number[]): Law {
  const n = path.least.length;
  const count = path.jointCount;
  const law: Law = {
    path,
    length: new Float64Array(n),
    unit: new Float64Array(n * count),
    most: new Float64Array(n),
    mostBy: new Int8Array(n).fill(FEED),
    ramp: new Float64Array(n),
    rampBy: new Int8Array(n),
    corner: new Float64Array(n + 1),
    cornerBy: new Int8Array(n + 1).fill(FEED),
    blend: new Float64Array(n + 1),
  };
  for (let b = 0; b < n; b++) {
    const at = b * count;
    let sum = 0;
    for (let j = 0; j < count; j++) {
      const before = b ? path.joints[at - count + j]! : path.from[j]!;
      const step = path.joints[at + j]! - before;
      law.unit[at + j] = step;
      sum += (step * lever[j]!) ** 2;
    }
    const length = Math.sqrt(sum);
    if (!(length > 1e-9)) continue;
    law.length[b] = length;
    let most = path.least[b]! > 0 ? length / path.least[b]! : Infinity;
    let ramp = Infinity;
    for (let j = 0; j < count; j++) {
      const u = (law.unit[at + j]! /= length);
      if (u === 0) continue;
      const speed = limits.speed[j]! / Math.abs(u);
      if (speed < most) {
        most = speed;
        law.mostBy[b] = j;
      }
      const acceleration = limits.acceleration[j]! / Math.abs(u);
      if (acceleration < ramp) {
        ramp = acceleration;
        law.rampBy[b] = j;
      }
    }
    law.most[b] = most;
    law.ramp[b] = ramp;
  }
  return law;
}

/** Caps of the corners by themselves. Returns the least time of each blend over its speed, s/(mm/s). */
function corners(
  law: Law,
  limits: Limits,
  lever: readonly number[],
  deviation: number,
): Float64Array {
  const { length, most, unit, corner, cornerBy, path } = law;
  const n = length.length;
  const count = path.jointCount;
  const factor = new Float64Array(n + 1);
  for (let b = 1; b < n; b++) {
    if (!(length[b]! > 0) || !(length[b - 1]! > 0)) continue;
    let k = 0;
    let by = FEED;
    let size = 0;
    for (let j = 0; j < count; j++) {
      const change = unit[b * count + j]! - unit[(b - 1) * count + j]!;
      if (change === 0) continue;
      size += (change * lever[j]!) ** 2;
      const own = Math.abs(change) / limits.acceleration[j]!;
      if (own > k) {
        k = own;
        by = j;
      }
    }
    const least = Math.min(most[b]!, most[b - 1]!);
    corner[b] = least;
    if (!(k > 0)) continue;
    factor[b] = k;
    const cap = Math.sqrt(
      Math.min((8 * deviation) / (k * Math.sqrt(size)), Math.min(length[b]!, length[b - 1]!) / k),
    );
    if (cap >= least) continue;
    corner[b] = cap;
    cornerBy[b] = by;
  }
  return factor;
}

/**
 * Corner speeds that the ramps of the blocks can join: v1^2 - v0^2 <= 2 a (length - blends), where a
 * blend takes k v^2 / 2 of each of its blocks. Linear in the squares, so one pass each way is exact.
 */
function settle({ length, ramp, corner, blend }: Law, factor: Float64Array): void {
  const n = length.length;
  const reach = (from: number, to: number, b: number): number => {
    const a = ramp[b]!;
    const square = corner[from]! ** 2 * (1 - a * factor[from]!) + 2 * a * length[b]!;
    return Math.sqrt(Math.max(0, square) / (1 + a * factor[to]!));
  };
  for (let b = 0; b < n; b++) {
    if (length[b]! > 0) corner[b + 1] = Math.min(corner[b + 1]!, reach(b, b + 1, b));
  }
  for (let b = n - 1; b >= 0; b--) {
    if (length[b]! > 0) corner[b] = Math.min(corner[b]!, reach(b + 1, b, b));
  }
  for (let b = 0; b <= n; b++) blend[b] = factor[b]! * corner[b]!;
}

/**
 * Blends that cost no time are stretched over what is run at the corner's speed anyway: a circle of
 * short chords then asks for v^2 / r throughout, and not for the limit in bursts.
 */
function soften(law: Law, factor: Float64Array, lever: readonly number[], deviation: number): void {
  const { length, most, ramp, corner, blend, unit, path } = law;
  const n = length.length;
  const count = path.jointCount;
  /** Length that either end of a block may add to its blend. */
  const spare = new Float64Array(2 * n);
  for (let b = 0; b < n; b++) {
    const [v0, v1] = [corner[b]!, corner[b + 1]!];
    const top = Math.max(v0, v1);
    if (!(length[b]! > 0) || !(top > 0) || top < most[b]! * (1 - EVEN)) continue;
    const taken = (v0 * blend[b]! + v1 * blend[b + 1]!) / 2;
    const flat = length[b]! - taken - Math.abs(v1 * v1 - v0 * v0) / (2 * ramp[b]!);
    if (!(flat > 0)) continue;
    const even = Math.abs(v1 - v0) <= EVEN * top;
    if (even || v0 > v1) spare[2 * b] = even ? flat / 2 : flat;
    if (even || v1 > v0) spare[2 * b + 1] = even ? flat / 2 : flat;
  }
  for (let b = 1; b < n; b++) {
    const v = corner[b]!;
    if (!(factor[b]! > 0) || !(v > 0)) continue;
    const more = Math.min(spare[2 * b - 1]!, spare[2 * b]!);
    if (!(more > 0)) continue;
    let size = 0;
    for (let j = 0; j < count; j++) {
      size += ((unit[b * count + j]! - unit[(b - 1) * count + j]!) * lever[j]!) ** 2;
    }
    const widest = (8 * deviation) / (v * Math.sqrt(size));
    blend[b] = Math.max(blend[b]!, Math.min(widest, blend[b]! + (2 * more) / v));
  }
}

/** A piece of constant acceleration; the arrays are reused, one entry a joint, mm and rad. */
export interface Piece {
  block: number;
  seconds: number;
  /** The joint that keeps it from being faster, or FEED. */
  by: number;
  readonly from: Float64Array;
  readonly speed: Float64Array;
  readonly acceleration: Float64Array;
}

/** Calls `visit` for every piece in order of time; what it is given holds until it returns. */
export function walkLaw(law: Law, visit: (piece: Piece) => void): void {
  const { path, length, unit, corner, blend } = law;
  const count = path.jointCount;
  const n = length.length;
  const piece: Piece = {
    block: 0,
    seconds: 0,
    by: FEED,
    from: new Float64Array(count),
    speed: new Float64Array(count),
    acceleration: new Float64Array(count),
  };
  /** From distance x along block b, with speed v and acceleration a along it. */
  const along = (b: number, x: number, v: number, a: number, seconds: number, by: number): void => {
    if (!(seconds > MOMENT)) return;
    for (let j = 0; j < count; j++) {
      const u = unit[b * count + j]!;
      piece.from[j] = (b ? path.joints[(b - 1) * count + j]! : path.from[j]!) + u * x;
      piece.speed[j] = u * v;
      piece.acceleration[j] = u * a;
    }
    piece.block = b;
    piece.seconds = seconds;
    piece.by = by;
    visit(piece);
  };
  const bend = (b: number): void => {
    const seconds = blend[b]!;
    if (!(seconds > MOMENT)) return;
    const v = corner[b]!;
    for (let j = 0; j < count; j++) {
      const before = unit[(b - 1) * count + j]! * v;
      piece.from[j] = path.joints[(b - 1) * count + j]! - (before * seconds) / 2;
      piece.speed[j] = before;
      piece.acceleration[j] = (unit[b * count + j]! * v - before) / seconds;
    }
    piece.block = b;
    piece.seconds = seconds;
    const free = Math.min(law.most[b]!, law.most[b - 1]!);
    const slower = law.most[b]! <= law.most[b - 1]! ? b : b - 1;
    const slowed = law.cornerBy[b]! === FEED ? law.rampBy[slower]! : law.cornerBy[b]!;
    piece.by = v < free * (1 - 1e-9) ? slowed : law.mostBy[slower]!;
    visit(piece);
  };
  for (let b = 0; b < n; b++) {
    if (!(length[b]! > 0)) {
      along(b, 0, 0, 0, path.least[b]!, FEED);
      continue;
    }
    bend(b);
    const a = law.ramp[b]!;
    const [v0, v1] = [corner[b]!, corner[b + 1]!];
    const x0 = (v0 * blend[b]!) / 2;
    const way = Math.max(0, length[b]! - x0 - (v1 * blend[b + 1]!) / 2);
    const t = trapezoid(way, v0, v1, law.most[b]!, a);
    const up = (t.peak - v0) / a;
    const top = x0 + ((v0 + t.peak) / 2) * up;
    along(b, x0, v0, a, up, law.rampBy[b]!);
    along(b, top, t.peak, 0, t.cruise, law.mostBy[b]!);
    along(b, top + t.peak * t.cruise, t.peak, -a, (t.peak - v1) / a, law.rampBy[b]!);
  }
}

/** Time of the whole path, s, and the share of it in which each joint sets the pace. */
export function paceOfLaw(law: Law): { readonly seconds: number; readonly share: Float64Array } {
  const share = new Float64Array(law.path.jointCount);
  let seconds = 0;
  walkLaw(law, (piece) => {
    seconds += piece.seconds;
    if (piece.by >= 0) share[piece.by]! += piece.seconds;
  });
  if (seconds > 0) for (let j = 0; j < share.length; j++) share[j]! /= seconds;
  return { seconds, share };
}
