/**
 * How much of a part hangs in each build direction: the overhang rule at directions spread evenly over the
 * whole sphere, as areas, with the machine's reach. The part stays on its table: facets that rest there are
 * carried whatever the direction. Every direction stands for the same solid angle, 4 pi / count, because
 * the spiral cuts the sphere into bands of equal height (Archimedes' hat-box theorem).
 */
import type { Mesh } from '../base/mesh.js';
import type { Vec3 } from '../base/vector.js';
import { type Watch, step } from '../base/watch.js';
import { hanging, onTable, prepare } from '../overhang/overhang.js';
import { evenDirections } from '../base/even-directions.js';
import type { SearchLimits } from '../regions/search/machine-limits.js';

export interface DirectionMap {
  /** Unit build directions in the part frame. */
  readonly directions: readonly Vec3[];
  /** What hangs when the whole part is built in each, mm2. */
  readonly areas: Float64Array;
  /** 1 where the machine reaches the direction. */
  readonly reachable: Uint8Array;
  /** Solid angle that each direction stands for, sr. */
  readonly weight: number;
}

export interface MapRules {
  /** Steepest self-supporting angle from the build direction, rad. */
  readonly theta: number;
  /** What lies wholly within this height of the table rests on it, mm. */
  readonly foot: number;
  /** Number of evenly spread directions. */
  readonly count: number;
}

/** Directions between two reports of progress. */
const PROGRESS_STRIDE = 64;

/** @param part closed, on the table @throws the signal's reason when cancelled */
export function mapDirections(
  part: Mesh,
  limits: Pick<SearchLimits, 'canReach'>,
  { theta, foot, count }: MapRules,
  watch?: Watch,
): DirectionMap {
  const directions = evenDirections(count);
  const prepared = prepare(part);
  const carried = onTable(part, foot);
  const areas = new Float64Array(count);
  directions.forEach((d, i) => {
    if (i % PROGRESS_STRIDE === 0) step(watch, 'map', i, count);
    areas[i] = hanging(prepared, d, theta, carried).area;
  });
  return {
    directions,
    areas,
    reachable: Uint8Array.from(directions, (d) => (limits.canReach(d) ? 1 : 0)),
    weight: (4 * Math.PI) / count,
  };
}
