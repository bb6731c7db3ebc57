/**
 * Material outside the part: its volume and the places beyond the tolerance. Half bricks (4 x 4 x 4 cubes)
 * count as a whole, by their middles.
 */
import { type Watch, step } from '../base/watch.js';
import type { Vec3 } from '../base/vector.js';
import type { BoxTree } from '../mesh/bvh.js';
import { nearestPoint, windingNumbers } from '../mesh/query.js';
import type { Grid } from './grid.js';
import type { Grids } from './grids.js';

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
  { list }: Grids,
  tolerance: number,
  brim: number,
  watch?: Watch,
): Outside {
  const places: OutsidePlace[] = [];
  let onTable = 0;
  let elsewhere = 0;
  const all = list.reduce((sum, grid) => sum + grid.bricks, 0);
  let done = 0;
  for (const grid of list) {
    const half = grid.halfDiagonal(8);
    for (let brick = 0; brick < grid.bricks; brick++) {
      if (done++ % 20_000 === 0) step(watch, 'outside', done, all);
      const middle = grid.brickMiddle(brick);
      // Most bricks lie deep inside: the surface is not near, and one ray decides the side.
      if (signedDistance(tree, middle, half + tolerance) < tolerance - half) continue;
      const { low, high, farthest, where } = octantsOf(tree, grid, brick, tolerance, brim);
      onTable += low;
      if (high === 0) continue;
      elsewhere += high;
      places.push({ point: where, volume: high, distance: farthest, block: grid.lastIn(brick) });
    }
  }
  return { onTable, elsewhere, places };
}

/** What of a brick lies beyond the tolerance: below the brim and above it, mm3, and where that is farthest. */
function octantsOf(
  tree: BoxTree,
  grid: Grid,
  brick: number,
  tolerance: number,
  brim: number,
): { low: number; high: number; farthest: number; where: Vec3 } {
  const middle = grid.brickMiddle(brick);
  let [low, high, farthest, where] = [0, 0, 0, middle];
  for (let octant = 0; octant < 8; octant++) {
    const filled = grid.octantCount(brick, octant);
    if (filled === 0) continue;
    const sense = (bit: number): number => (octant & bit ? 2 : -2);
    const p = grid.off(middle, sense(1), sense(2), sense(4));
    const distance = signedDistance(tree, p, Infinity);
    if (distance <= tolerance) continue;
    const volume = filled * grid.cellVolume;
    if (p[2] < brim) {
      low += volume;
      continue;
    }
    high += volume;
    if (distance > farthest) [farthest, where] = [distance, p];
  }
  return { low, high, farthest, where };
}

/** Positive outside; beyond `within` only the side counts and the distance is `within`. */
function signedDistance(tree: BoxTree, p: Vec3, within: number): number {
  const nearest = nearestPoint(tree, p, within);
  const distance = nearest?.distance ?? within;
  return (windingNumbers(tree, p).get(0) ?? 0) > 0 ? -distance : distance;
}
