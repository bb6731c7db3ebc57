/**
 * The directions in which the head may stand at each point of curved layers: within the lean of the growth, and so
 * upright that it clears the table with the tip at that height, as far as the lean allows both. On which side of what is
 * printed it stands comes later, path by path (keep-aside.ts).
 */
import { type Vec3, pointAt } from '../../base/vector.js';
import { leastTipHeight } from '../../machine/head.js';
import type { Machine } from '../../machine/machine.js';
import { tiltOverTable } from '../../machine/tilt-over-table.js';
import type { Paths } from '../../paths/paths.js';

/** Of points one after the other. */
export interface HeadTube {
  /** Packed unit directions of growth, or what stands for it where the head keeps aside. */
  readonly growth: Float64Array;
  /** Packed unit directions in the tube, as near to the growth as the table allows. */
  readonly aims: Float64Array;
  /** Least cosine between head and growth. */
  readonly leastCosine: Float64Array;
  /** Least z of the head's direction; -1 where the table is no limit. */
  readonly leastZ: Float64Array;
  /** Packed unit vectors, and the least product of the head's direction with them; -1 where nothing printed is near. */
  readonly sides: Float64Array;
  readonly leastSide: Float64Array;
}

/** Kept over what the table asks for, mm: between two points the head may come lower. */
const KEPT_OVER_TABLE = 0.06;
/** Directions that differ by less are one: cosine. */
const TUBE_ROUNDING = 1e-9;

/**
 * @param paths with directions, points over the table's face
 * @param leanOf how far the head may lean on a path, rad
 */
export function tubeOf(
  machine: Machine,
  { points, start, directions }: Paths,
  from: number,
  to: number,
  leanOf: (path: number) => number,
): HeadTube {
  const [first, end] = [start[from]!, start[to]!];
  const growth = directions!.slice(3 * first, 3 * end);
  const aims = growth.slice();
  const leastCosine = new Float64Array(end - first);
  const leastZ = new Float64Array(end - first).fill(-1);
  const mostTilt = tiltOverTable((tilt) => leastTipHeight(machine, tilt), Math.PI);
  for (let path = from; path < to; path++) {
    const lean = leanOf(path);
    for (let k = start[path]!; k < start[path + 1]!; k++) {
      const i = k - first;
      leastCosine[i] = Math.cos(lean);
      const d = pointAt(growth, i);
      const tilt = Math.acos(Math.max(-1, Math.min(1, d[2])));
      const most = mostTilt(Math.max(0, points[3 * k + 2]! - KEPT_OVER_TABLE));
      if (tilt + lean <= most) continue;
      const wanted = Math.max(Math.min(tilt, most), tilt - lean);
      leastZ[i] = Math.cos(Math.max(wanted, most)) - TUBE_ROUNDING;
      if (wanted < tilt) aims.set(uprighter(d, tilt, wanted), 3 * i);
    }
  }
  const leastSide = new Float64Array(end - first).fill(-1);
  return { growth, aims, leastCosine, leastZ, sides: new Float64Array(growth.length), leastSide };
}

/** A direction turned towards z from one tilt to a lesser one. */
function uprighter(d: Vec3, tilt: number, wanted: number): Vec3 {
  const k = Math.sin(wanted) / Math.sin(tilt);
  return [k * d[0], k * d[1], Math.cos(wanted)];
}
