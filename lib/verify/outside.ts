/**
 * Material outside the part: its volume and the places beyond the tolerance. Half bricks (4 x 4 x 4 cubes)
 * count as a whole, by their middles.
 */
import { type Watch, step } from '../base/watch.js';
import type { Vec3 } from '../base/vector.js';
import type { BoxTree } from '../mesh/bvh.js';
import { nearestPoint, windingNumbers } from '../mesh/query.js';
import type { Grid } from './grid.js';

export interface Outside {
  /** Beyond the tolerance, mm3: on the table (a brim), and elsewhere. */
  readonly onTable: number;
  readonly elsewhere: number;
  /** What lies elsewhere, by brick. */
  readonly places: readonly OutsidePlace[];
}

export interface OutsidePlace {
  readonly point: Vec3;
  readonly volume: number;
  readonly distance: number;
  /** Block that laid there last. */
  readonly block: number;
}

/**
 * @param tolerance how far beyond the surface material may end, mm
 * @param brim height over the table up to which material outside is a brim, mm
 */
export function outsideOf(
  tree: BoxTree,
  grid: Grid,
  tolerance: number,
  brim: number,
  watch?: Watch,
): Outside {
  const { edge } = grid;
  const size = 8 * edge;
  const half = (size * Math.sqrt(3)) / 2;
  const places: OutsidePlace[] = [];
  let onTable = 0;
  let elsewhere = 0;
  for (let brick = 0; brick < grid.bricks; brick++) {
    if (brick % 20_000 === 0) step(watch, 'outside', brick, grid.bricks);
    const middle = grid.brickMiddle(brick);
    // Most bricks lie deep inside: the surface is not near, and one ray decides the side.
    if (signedDistance(tree, middle, half + tolerance) < tolerance - half) continue;
    let here = 0;
    let farthest = 0;
    let where = middle;
    for (let octant = 0; octant < 8; octant++) {
      const filled = grid.octantCount(brick, octant);
      if (filled === 0) continue;
      const p: Vec3 = [
        middle[0] + (octant & 1 ? 0.25 : -0.25) * size,
        middle[1] + (octant & 2 ? 0.25 : -0.25) * size,
        middle[2] + (octant & 4 ? 0.25 : -0.25) * size,
      ];
      const distance = signedDistance(tree, p, Infinity);
      if (distance <= tolerance) continue;
      const volume = filled * edge ** 3;
      if (p[2] < brim) {
        onTable += volume;
        continue;
      }
      here += volume;
      if (distance > farthest) [farthest, where] = [distance, p];
    }
    if (here === 0) continue;
    elsewhere += here;
    const block = grid.lastIn(brick);
    places.push({ point: where, volume: here, distance: farthest, block });
  }
  return { onTable, elsewhere, places };
}

/** Positive outside; beyond `within` only the side counts and the distance is `within`. */
function signedDistance(tree: BoxTree, p: Vec3, within: number): number {
  const nearest = nearestPoint(tree, p, within);
  const distance = nearest?.distance ?? within;
  return (windingNumbers(tree, p).get(0) ?? 0) > 0 ? -distance : distance;
}
