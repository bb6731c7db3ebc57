/**
 * Material outside the part: the grid and the part's tree come in, volume and places beyond the
 * tolerance leave. Half bricks (4 x 4 x 4 cubes) count as a whole, by their middles.
 */
import { type Watch, step } from '../base/watch.js';
import type { Vec3 } from '../base/vector.js';
import type { Tree } from '../mesh/bvh.js';
import { nearestPoint, windings } from '../mesh/query.js';
import { type Grid, popcount } from './grid.js';

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
  tree: Tree,
  grid: Grid,
  tolerance: number,
  brim: number,
  watch?: Watch,
): Outside {
  const { edge, origin } = grid;
  const size = 8 * edge;
  const half = (size * Math.sqrt(3)) / 2;
  const places: OutsidePlace[] = [];
  let onTable = 0;
  let elsewhere = 0;
  let done = 0;
  grid.each((bx, by, bz, slot, block) => {
    if (done++ % 20_000 === 0) step(watch, 'outside', done, grid.bricks);
    const middle: Vec3 = [
      origin[0] + (bx + 0.5) * size,
      origin[1] + (by + 0.5) * size,
      origin[2] + (bz + 0.5) * size,
    ];
    // Most bricks lie deep inside: the surface is not near, and one ray tells the side.
    if (signedDistance(tree, middle, half + tolerance) < tolerance - half) return;
    let here = 0;
    let farthest = 0;
    let where = middle;
    for (let octant = 0; octant < 8; octant++) {
      const filled = octantCount(grid, slot, octant);
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
    if (here === 0) return;
    elsewhere += here;
    places.push({ point: where, volume: here, distance: farthest, block });
  });
  return { onTable, elsewhere, places };
}

/** Positive outside; beyond `within` only the side counts and the distance is `within`. */
function signedDistance(tree: Tree, p: Vec3, within: number): number {
  const nearest = nearestPoint(tree, p, within);
  const distance = nearest?.distance ?? within;
  return (windings(tree, p).get(0) ?? 0) > 0 ? -distance : distance;
}

/** Set cubes in one of the eight parts of a brick: bits x, y, z of `octant` say in which half. */
function octantCount(grid: Grid, slot: number, octant: number): number {
  const x0 = octant & 1 ? 4 : 0;
  const y = octant & 2 ? 1 : 0;
  const mask = octant & 4 ? 0xf0f0f0f0 : 0x0f0f0f0f;
  let count = 0;
  for (let x = x0; x < x0 + 4; x++) count += popcount(grid.wordOf(slot, 2 * x + y) & mask);
  return count;
}
