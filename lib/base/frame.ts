/**
 * Rigid frames: 4 x 4 matrices, column-major float64 (the layout of gl-matrix), always a rotation
 * and a shift. A name says between which frames it maps: `buildFromPart` turns part points into
 * build points.
 */
import type { vec3 } from 'gl-matrix';
import { mat4 } from 'gl-matrix';
import { type Vec3, cross, dot, unit } from './vector.js';

/** A rigid frame: 16 numbers, column-major, always a rotation and a shift in mm. */
export type Frame = Float64Array;

/** Frames of one piece of memory. */
const SLAB_FRAMES = 64;
const FRAME_BYTES = 16 * Float64Array.BYTES_PER_ELEMENT;

let slab = new ArrayBuffer(SLAB_FRAMES * FRAME_BYTES);
let taken = 0;

/** Frames are made by the million and soon dropped: with memory of its own each costs eight times as much. */
function empty(): Frame {
  if (taken === SLAB_FRAMES) {
    slab = new ArrayBuffer(SLAB_FRAMES * FRAME_BYTES);
    taken = 0;
  }
  return new Float64Array(slab, FRAME_BYTES * taken++, 16);
}

export function identity(): Frame {
  return mat4.identity(empty() as unknown as mat4) as unknown as Frame;
}

/** The frame that maps by b first, then by a. */
export function compose(a: Frame, b: Frame): Frame {
  return mat4.multiply(
    empty() as unknown as mat4,
    a as unknown as mat4,
    b as unknown as mat4,
  ) as unknown as Frame;
}

/** The inverse of a rigid frame: transposed rotation, turned-back shift. */
export function inverse(f: Frame): Frame {
  const o = empty();
  for (let r = 0; r < 3; r++) {
    for (let c = 0; c < 3; c++) o[4 * c + r] = f[4 * r + c]!;
    o[12 + r] = -(f[4 * r]! * f[12]! + f[4 * r + 1]! * f[13]! + f[4 * r + 2]! * f[14]!);
  }
  o[15] = 1;
  return o;
}

/** The frame that moves by `by`, mm. */
export function shift(by: Vec3): Frame {
  const f = identity();
  f.set(by, 12);
  return f;
}

/** Right-handed turn by `angle` (radians) about the line through `point` along the unit `axis`. */
export const turn = (axis: Vec3, angle: number, point: Vec3 = [0, 0, 0]): Frame =>
  turnInto(empty(), axis, angle, point);

/** The same into a frame that there is. */
export function turnInto(out: Frame, axis: Vec3, angle: number, point: Vec3): Frame {
  if (!mat4.fromRotation(out as unknown as mat4, angle, axis as vec3)) {
    throw new Error(`turn about a zero axis ${axis.join(' ')}`);
  }
  const [x, y, z] = point;
  for (let r = 0; r < 3; r++) {
    out[12 + r] = point[r]! - (out[r]! * x + out[4 + r]! * y + out[8 + r]! * z);
  }
  return out;
}

/** Lets a frame be preceded by another one, in place: points are mapped by b first. */
export function precede(f: Frame, b: Frame): void {
  mat4.multiply(f as unknown as mat4, f as unknown as mat4, b as unknown as mat4);
}

/** The same for a shift by `by`, mm. */
export function precedeByShift(f: Frame, [x, y, z]: Vec3): void {
  for (let r = 0; r < 3; r++) f[12 + r] = x * f[r]! + y * f[4 + r]! + z * f[8 + r]! + f[12 + r]!;
}

export function applyPoint(f: Frame, p: Vec3): Vec3 {
  return [
    f[0]! * p[0] + f[4]! * p[1] + f[8]! * p[2] + f[12]!,
    f[1]! * p[0] + f[5]! * p[1] + f[9]! * p[2] + f[13]!,
    f[2]! * p[0] + f[6]! * p[1] + f[10]! * p[2] + f[14]!,
  ];
}

/** Turns a direction (no shift). */
export function applyDirection(f: Frame, d: Vec3): Vec3 {
  return [
    f[0]! * d[0] + f[4]! * d[1] + f[8]! * d[2],
    f[1]! * d[0] + f[5]! * d[1] + f[9]! * d[2],
    f[2]! * d[0] + f[6]! * d[1] + f[10]! * d[2],
  ];
}

/** Maps packed xyz points (3 per point); returns a new array of the same length. */
export function applyPoints(f: Frame, points: Float64Array): Float64Array {
  const out = new Float64Array(points.length);
  for (let i = 0; i < points.length; i += 3) {
    const x = points[i]!;
    const y = points[i + 1]!;
    const z = points[i + 2]!;
    out[i] = f[0]! * x + f[4]! * y + f[8]! * z + f[12]!;
    out[i + 1] = f[1]! * x + f[5]! * y + f[9]! * z + f[13]!;
    out[i + 2] = f[2]! * x + f[6]! * y + f[10]! * z + f[14]!;
  }
  return out;
}

/**
 * The build frame of a unit build direction: the least turn about the part origin that takes `d`
 * to +Z (Rodrigues). For d = -Z, where the least turn is not unique, a half turn about X.
 */
export function buildFromPart(d: Vec3): Frame {
  const axis = cross(d, [0, 0, 1]);
  const sine = Math.hypot(axis[0], axis[1], axis[2]);
  if (sine < 1e-12) return d[2] > 0 ? identity() : turn([1, 0, 0], Math.PI);
  return turn(unit(axis), Math.atan2(sine, dot(d, [0, 0, 1])));
}
