/**
 * Vectors in space as plain triples of float64 numbers. gl-matrix does the arithmetic; its own
 * arrays are float32 by default, so every result is written into a plain array instead.
 */
import { vec3 } from 'gl-matrix';

export type Vec3 = readonly [number, number, number];
/** A point in a plane, mm. */
export type Vec2 = readonly [number, number];

type Out = [number, number, number];

export const add = (a: Vec3, b: Vec3): Vec3 => vec3.add([0, 0, 0] as Out, a, b) as Out;
export const sub = (a: Vec3, b: Vec3): Vec3 => vec3.sub([0, 0, 0] as Out, a, b) as Out;
export const scale = (a: Vec3, s: number): Vec3 => vec3.scale([0, 0, 0] as Out, a, s) as Out;
/** a + s b */
export const along = (a: Vec3, b: Vec3, s: number): Vec3 =>
  vec3.scaleAndAdd([0, 0, 0] as Out, a, b, s) as Out;
export const dot = (a: Vec3, b: Vec3): number => vec3.dot(a, b);
export const cross = (a: Vec3, b: Vec3): Vec3 => vec3.cross([0, 0, 0] as Out, a, b) as Out;
export const length = (a: Vec3): number => Math.hypot(a[0], a[1], a[2]);
/** Unit vector along a; the zero vector stays zero. */
export const unit = (a: Vec3): Vec3 => vec3.normalize([0, 0, 0] as Out, a) as Out;
/** Any unit vector square to a. */
export function square(a: Vec3): Vec3 {
  const least = Math.abs(a[0]) < Math.abs(a[1]) ? [1, 0, 0] : [0, 1, 0];
  return unit(cross(a, least as unknown as Vec3));
}
/** Angle between a and b, radians, exact for small angles too. */
export const angle = (a: Vec3, b: Vec3): number => Math.atan2(length(cross(a, b)), dot(a, b));
/** The vertex or point i of a packed xyz array. */
export const pointAt = (packed: Float64Array, i: number): Vec3 => [
  packed[3 * i]!,
  packed[3 * i + 1]!,
  packed[3 * i + 2]!,
];

export const DEG = Math.PI / 180;
