/**
 * Which facets a build direction leaves hanging. A mesh is prepared once; each direction then costs
 * one pass over its facets.
 *
 * Rule: with theta the steepest self-supporting angle from the build direction (45 deg is common
 * practice, no source), a facet of outward unit normal n hangs if n.d < -sin(theta), strict. The
 * facet rule alone is fooled: a cube balanced on its corner passes it. So a lowest place off the
 * base, with material above it, hangs as well: what faces down within a bead's width of it
 * (`minima.ts`), clipped exactly, so that the figure does not depend on the triangles.
 */
import type { Vec3 } from '../base/vector.js';
import { type CarriedFacets, type PreparedMesh, leans } from './facets.js';
import { startsInAir } from './minima.js';

export { type CarriedFacets, type PreparedMesh, leans, onTable, prepare } from './facets.js';

export interface HangingFacets {
  /** A flag per triangle: 1 where it leans too far, or faces down at a place that begins in the air. */
  readonly facets: Uint8Array;
  /** What hangs, mm2: facets that lean too far, and what lies around lowest places. */
  readonly area: number;
  /** mm2 of the facets that hang in part only. */
  readonly parts: ReadonlyMap<number, number>;
  /** mm2 of the flagged facets, whole: what a search weighs, for it moves whole facets. */
  readonly whole: number;
  /** A vertex of each lowest place that begins in the air. */
  readonly islands: readonly number[];
}

/**
 * What hangs by both rules.
 * @param d unit build direction
 * @param theta steepest self-supporting angle from d, rad
 * @param carried facets that lie on the table or on an earlier region
 */
export function hanging(
  p: PreparedMesh,
  d: Vec3,
  theta: number,
  carried: CarriedFacets,
): HangingFacets {
  const facets = new Uint8Array(p.areas.length);
  const sine = Math.sin(theta);
  const { islands, around, within } = startsInAir(p, d, carried);
  const parts = new Map(within);
  let area = 0;
  let whole = 0;
  for (let t = 0; t < facets.length; t++) {
    if (carried[t]) continue;
    const leaning = leans(p, t, d, sine);
    if (!leaning && !around[t]) continue;
    facets[t] = 1;
    whole += p.areas[t]!;
    if (!leaning) continue;
    area += p.areas[t]!;
    parts.delete(t);
  }
  for (const part of parts.values()) area += part;
  return { facets, area, parts, whole, islands };
}
