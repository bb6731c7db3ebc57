/** Paths with directions of growth, for tests of how the head stands along them. */
import type { Vec3 } from '../../../lib/base/vector.js';
import type { Paths } from '../../../lib/paths/paths.js';

/** One path of points 1 mm apart along x, far over the table, with these directions. */
export function pathAlong(directions: readonly Vec3[]): Paths {
  const count = directions.length;
  return {
    points: Float64Array.from({ length: 3 * count }, (_, i) =>
      i % 3 === 0 ? i / 3 : i % 3 === 2 ? 200 : 0,
    ),
    width: new Float64Array(count),
    height: new Float64Array(count),
    start: Uint32Array.of(0, count),
    kind: Uint8Array.of(0),
    layer: Uint32Array.of(0),
    flowFactor: Float64Array.of(1),
    link: Uint8Array.of(0),
    linkPoints: new Float64Array(0),
    linkStart: Uint32Array.of(0, 0),
    directions: Float64Array.from(directions.flat()),
  };
}

export const tilted = (tilt: number, azimuth: number): Vec3 => [
  Math.sin(tilt) * Math.cos(azimuth),
  Math.sin(tilt) * Math.sin(azimuth),
  Math.cos(tilt),
];
