/** Strips that are rounding and not material, and the connected pieces of what is left. */
import type { PolygonKernel } from '../kernel/polygon.js';
import { nest } from '../polygon/nest.js';
import type { Polygons } from '../polygon/polygons.js';
import { joined, loopsOf } from './near.js';

/** Sections are simplified, and arcs cut, by at most this, mm. */
export const SECTION_TOLERANCE = 0.0005;
/** Half the width of the strips that are taken for rounding, mm. */
export const HALF_SLIVER = 0.001;

/** Without strips narrower than twice HALF_SLIVER. */
export function opened(p: Polygons, kernel: PolygonKernel): Polygons {
  if (p.points.length === 0) return p;
  const rules = { corners: 'round', arcTolerance: HALF_SLIVER / 10 } as const;
  const kept = kernel.offset(p, -HALF_SLIVER, rules);
  return kept.points.length === 0 ? kept : kernel.offset(kept, HALF_SLIVER, rules);
}

/** Connected pieces: an outer loop with the holes straight inside it. */
export function pieces(p: Polygons): Polygons[] {
  const { parent, depth } = nest(p);
  const loops = new Map<number, number[]>();
  depth.forEach((d, i) => d % 2 === 0 && loops.set(i, [i]));
  depth.forEach((d, i) => d % 2 === 1 && loops.get(parent[i]!)!.push(i));
  return [...loops.values()].map((of) => joined(of.map((i) => loopsOf(p, i, i + 1))).section);
}
