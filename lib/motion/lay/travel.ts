/**
 * How far two bodies can move against each other while joints run from pose to pose, at most: the ways between poses by
 * balls about the bodies, what lies between them by speed and acceleration.
 */
import { applyDirection } from '../../base/frame.js';
import type { Vec3 } from '../../base/vector.js';
import type { ClearancePair } from '../../clearance/convex/conservative-advancement.js';
import { type BoundingBall, ballOf, mostMoved } from '../../clearance/machine-bodies.js';
import type { Machine } from '../../machine/machine.js';

/** Poses of a long stretch of which each is asked how far it is from the middle. */
const POSES_LOOKED_AT = 64;

/** How far things move against a body from pose to pose, at most, mm. */
export interface Travel {
  /** All the way up to each pose. */
  readonly gone: Float64Array;
  /** How far they may stray in the block before each pose from the straight way. */
  readonly strayed: Float64Array;
  /** From one pose to another, as one moves in the axes of the other: each is a bound. */
  readonly apart: readonly ((i: number, j: number) => number)[];
}

/** Joint values one after the other. */
export interface Poses {
  readonly machine: Machine;
  readonly poses: readonly Float64Array[];
  /** Largest value of each joint either way. */
  readonly farthest: Float64Array;
}

/**
 * In a block that lasts 1 s the speed of the things is no more than the way from end to end and half the greatest
 * acceleration, which is w^2 r for a rotary joint that turns by w at a lever r, and 2 w v more where another one shifts
 * it by v; from the straight way they stray by an eighth of it.
 * @param moves what carries the things as seen from what carries the body, at each pose, packed frames
 */
export function travelOf(
  { machine, poses, farthest }: Poses,
  pair: ClearancePair,
  moves: Float64Array,
  chordOf: ChordOf,
): Travel {
  const { joints } = machine;
  const levers = leversOf(machine, farthest, pair);
  const apart = chordOf(pair).map(
    (chord) =>
      (i: number, j: number): number =>
        chord(moves, 16 * i, 16 * j),
  );
  const gone = new Float64Array(poses.length);
  const strayed = new Float64Array(poses.length);
  for (let i = 1; i < gone.length; i++) {
    const [a, b] = [poses[i - 1]!, poses[i]!];
    let [turned, shifted, swept] = [0, 0, 0];
    for (let j = 0; j < joints.length; j++) {
      const by = Math.abs(b[j]! - a[j]!);
      swept += by * levers[j]!;
      if (joints[j]!.kind === 'rotary') turned += by;
      else shifted += by;
    }
    const acceleration = turned * (swept + 2 * shifted);
    gone[i] = gone[i - 1]! + leastOf(apart, i - 1, i) + acceleration / 2;
    strayed[i] = acceleration / 8;
  }
  return { gone, strayed, apart };
}

const leastOf = (apart: Travel['apart'], i: number, j: number): number =>
  apart.reduce((least, by) => Math.min(least, by(i, j)), Infinity);

/** How far any point moves while a joint goes by 1 (mm or rad), at most, mm. */
function leversOf(
  machine: Machine,
  farthest: Float64Array,
  { body, things }: ClearancePair,
): Float64Array {
  return farthest.map((_, j) => {
    const to = farthest.slice();
    to[j]! += 1;
    return mostMoved(machine, body, farthest, to) + mostMoved(machine, things, farthest, to);
  });
}

/**
 * How far it is from the middle of a stretch to anywhere on it, at most; moments are poses and shares between. On the way
 * from pose to pose nothing gets farther from a third one than at its ends, but for what it strays: in the axes in which
 * both ends are asked, so the lesser bound is chosen for the whole stretch and not at each pose.
 */
export function mostIn(
  { gone, strayed, apart }: Travel,
  from: number,
  middle: number,
  to: number,
): number {
  if (to - from <= 1) {
    const goneAt = (t: number): number => {
      const k = Math.floor(t);
      return t === k ? gone[k]! : gone[k]! + (t - k) * (gone[k + 1]! - gone[k]!);
    };
    return Math.max(goneAt(middle) - goneAt(from), goneAt(to) - goneAt(middle));
  }
  const stride = Math.ceil((to - from) / POSES_LOOKED_AT);
  if (stride === 1) {
    let stray = 0;
    for (let k = from + 1; k <= to; k++) stray = Math.max(stray, strayed[k]!);
    const far = apart.map((by) => {
      let most = 0;
      for (let k = from; k <= to; k++) most = Math.max(most, by(middle, k));
      return most;
    });
    return Math.min(...far) + stray;
  }
  let far = 0;
  let before = leastOf(apart, middle, from);
  for (let k = from; k < to; k += stride) {
    const next = Math.min(to, k + stride);
    const after = leastOf(apart, middle, next);
    // Between poses that are passed over nothing gets farther off than half the way from one to the next.
    far = Math.max(far, Math.max(before, after) + (gone[next]! - gone[k]!) / 2);
    before = after;
  }
  return far;
}

/** How far the two of a pair move against each other between two frames of a packed list, mm: each is a bound. */
export type ChordOf = (
  pair: ClearancePair,
) => readonly ((frames: Float64Array, from: number, to: number) => number)[];

/** Farthest that any point of the one moves in the axes of the other. */
export const shiftIn: ChordOf = (pair) => {
  const [things, body] = [ballOf(pair.things), ballOf(pair.body)];
  return [
    (frames, from, to) => shiftOf(frames, from, to, things, false),
    (frames, from, to) => shiftOf(frames, from, to, body, true),
  ];
};

/** The same for the height of the body over the face of the things alone. */
export const riseIn: ChordOf = ({ body, things }) => {
  const ball = ballOf(body);
  const up = applyDirection(things.fixed, [0, 0, 1]);
  return [(frames, from, to) => riseOf(frames, from, to, ball, up)];
};

/** Farthest that any point of the body lies at one frame from where it lies at another, along an axis of the things, mm. */
function riseOf(
  frames: Float64Array,
  from: number,
  to: number,
  { centre, radius }: BoundingBall,
  up: Vec3,
): number {
  let [shifted, turned] = [0, 0];
  for (let k = 0; k < 3; k++) {
    // The axis as the body sees it, then and before.
    let [then, before] = [0, 0];
    for (let c = 0; c < 3; c++) {
      then += frames[to + 4 * c + k]! * up[c]!;
      before += frames[from + 4 * c + k]! * up[c]!;
    }
    turned += (then - before) ** 2;
    shifted += then * (centre[k]! - frames[to + 12 + k]!);
    shifted -= before * (centre[k]! - frames[from + 12 + k]!);
  }
  return Math.abs(shifted) + radius * Math.sqrt(turned);
}

/**
 * Farthest that any point of a ball lies at one frame from where it lies at another, mm.
 * @param back whether the inverse frames move it
 */
function shiftOf(
  frames: Float64Array,
  from: number,
  to: number,
  { centre: [x, y, z], radius }: BoundingBall,
  back: boolean,
): number {
  let [turned, shifted] = [0, 0];
  for (let c = 0; c < 3; c++) {
    const by = back
      ? placeBack(frames, to, c, x, y, z) - placeBack(frames, from, c, x, y, z)
      : placeOf(frames, to, c, x, y, z) - placeOf(frames, from, c, x, y, z);
    shifted += by * by;
    for (let k = 0; k < 3; k++)
      turned += (frames[to + 4 * c + k]! - frames[from + 4 * c + k]!) ** 2;
  }
  // The Frobenius norm of the difference of two rotations is 2 sqrt(2) sin(angle / 2).
  return Math.sqrt(shifted) + radius * Math.sqrt(turned / 2);
}

/** Coordinate c of a point that a frame moves. */
const placeOf = (f: Float64Array, at: number, c: number, x: number, y: number, z: number): number =>
  f[at + c]! * x + f[at + 4 + c]! * y + f[at + 8 + c]! * z + f[at + 12 + c]!;

/** The same for its inverse. */
const placeBack = (
  f: Float64Array,
  at: number,
  c: number,
  x: number,
  y: number,
  z: number,
): number =>
  f[at + 4 * c]! * (x - f[at + 12]!) +
  f[at + 4 * c + 1]! * (y - f[at + 13]!) +
  f[at + 4 * c + 2]! * (z - f[at + 14]!);
