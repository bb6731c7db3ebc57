/** Building blocks of the test pieces: prisms on a horizontal axis and where they stand. Millimetres. */
import { type Frame, compose, shift, turn } from '../base/frame.js';
import type { Mesh } from '../base/mesh.js';
import type { Vec2, Vec3 } from '../base/vector.js';
import { moved } from '../mesh/build.js';
import { bounds } from '../mesh/measure.js';
import { extruded } from '../mesh/make-solids.js';

/** Turns (u, v, w) of an outline over its height into (w, u, v) of space. */
const LYING: Frame = Float64Array.of(0, 1, 0, 0, 0, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0, 1);

/** An outline in the Y-Z plane, counter-clockwise seen from +X, from x to x + length. Holes clockwise. */
export const lying = (loops: readonly (readonly Vec2[])[], x: number, length: number): Mesh =>
  moved(extruded(loops, length), compose(shift([x, 0, 0]), LYING));

/** A box between two corners. */
export const block = (from: Vec3, to: Vec3): Mesh =>
  lying(
    [
      [
        [from[1], from[2]],
        [to[1], from[2]],
        [to[1], to[2]],
        [from[1], to[2]],
      ],
    ],
    from[0],
    to[0] - from[0],
  );

/** Turned about Z so that +Y comes to look towards an azimuth, rad. */
export const towards = (azimuth: number): Frame => turn([0, 0, 1], azimuth - Math.PI / 2);

/** The middle of a part over the table, at which a job places it where its own origin is. */
export function middleOf(mesh: Mesh): Vec2 {
  const { least, most } = bounds(mesh);
  return [micron((least[0] + most[0]) / 2), micron((least[1] + most[1]) / 2)];
}

const micron = (x: number): number => Number(x.toFixed(6)) + 0;

export const rounded = ([x, y, z]: Vec3): Vec3 => [micron(x), micron(y), micron(z)];
