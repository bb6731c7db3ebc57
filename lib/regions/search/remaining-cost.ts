/**
 * How much is still to be done: what hangs along the table normal, each facet weighed by how few
 * directions could free it. What lies near the table can be built only at small tilts, so it should not
 * be left for last. What no direction can carry is lost already and counts for nothing.
 */
import type { Vec3 } from '../../base/vector.js';
import type { PreparedMesh } from '../../overhang/overhang.js';

/** Directions as flat arrays, each with the least height over the table at which it can build. */
export interface FreeingDirections {
  readonly count: number;
  readonly x: Float64Array;
  readonly y: Float64Array;
  readonly z: Float64Array;
  readonly floor: Float64Array;
  readonly sine: number;
}

export function freeingDirections(
  directions: readonly Vec3[],
  floorOf: (d: Vec3) => number,
  theta: number,
): FreeingDirections {
  return {
    count: directions.length,
    x: Float64Array.from(directions, (d) => d[0]),
    y: Float64Array.from(directions, (d) => d[1]),
    z: Float64Array.from(directions, (d) => d[2]),
    floor: Float64Array.from(directions, floorOf),
    sine: Math.sin(theta),
  };
}

/** What hangs in a piece stays: it weighs as much as what few directions carry. */
export const STAYS = 3;

/** Weight of a facet that `n` of `all` directions carry. */
const weigh = (n: number, all: number): number => (n === 0 ? 0 : Math.sqrt(all / n));

/** Weighed area of each flagged facet, mm2; 0 for the others. */
export function weightedAreas(
  p: PreparedMesh,
  flags: Uint8Array,
  freeing: FreeingDirections,
): Float64Array {
  const out = new Float64Array(flags.length);
  const { triangles, vertices } = p.mesh;
  const { count, x, y, z, floor, sine } = freeing;
  for (let t = 0, h = 0; t < flags.length; t++, h += 3) {
    if (!flags[t]) continue;
    const low = Math.min(
      vertices[3 * triangles[h]! + 2]!,
      vertices[3 * triangles[h + 1]! + 2]!,
      vertices[3 * triangles[h + 2]! + 2]!,
    );
    const [nx, ny, nz] = [p.normals[h]!, p.normals[h + 1]!, p.normals[h + 2]!];
    const limit = -sine * p.areas[t]!;
    let n = 0;
    for (let i = 0; i < count; i++) {
      if (floor[i]! <= low && nx * x[i]! + ny * y[i]! + nz * z[i]! >= limit) n++;
    }
    out[t] = weigh(n, count) * p.areas[t]!;
  }
  return out;
}
