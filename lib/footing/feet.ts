/**
 * The contact of a body with the table: the section at the middle of the first layer, opened by the
 * narrowest bead, for what is narrower is not laid. Rejected: the facets at z = 0, since a ball
 * has none, and yet its first layer lays a disc.
 *
 * A brim is as thick as the first layer and bends. A strip of it under the tension s holds on over the
 * width L at which its root breaks, s L^2 / 2 = stress t^2 / 6 (a cantilever, clamped at the part's
 * edge), so it adds L = t sqrt(stress / (3 s)) at most: some tenths of a mm. What a wider brim does
 * against warping is not considered.
 */
import { type Polygons, area, loopArea, noPolygons } from '../polygon/polygons.js';
import type { PolygonKernel } from '../kernel/polygon.js';
import type { Mesh } from '../mesh/mesh.js';
import { sectionOf } from '../mesh/cut/section.js';
import { type Footprint, footprintOf } from './footprint.js';

export interface Layering {
  /** Top of each layer over the table, rising, and its thickness, mm. */
  readonly top: Float64Array;
  readonly thickness: Float64Array;
}

export interface Foot {
  /** What the first layer lays on the table with what the brim adds; of no area if it lays nothing. */
  readonly print: Footprint;
  /** How high over the table the underside of the first bead lies, mm; Infinity if there is none. */
  readonly under: number;
}

export interface FootRules {
  /** Narrowest bead, mm. */
  readonly least: number;
  /** Width by which a brim adds to what holds, mm. */
  readonly brim: number;
}

/** Width of a brim that counts, mm. */
export const brimThatHolds = (
  width: number,
  thickness: number,
  { stress, table }: { stress: number; table: number },
): number => Math.min(width, thickness * Math.sqrt(stress / (3 * table)));

export function footOf(
  mesh: Mesh,
  { top, thickness }: Layering,
  { least, brim }: FootRules,
  kernel: PolygonKernel,
): Foot {
  for (let k = 0; k < top.length; k++) {
    const section = levelSection(mesh, top[k]! - thickness[k]! / 2, kernel);
    const laid = opened(section, least / 2, kernel);
    if (area(laid) <= 0) continue;
    if (k > 0) return { print: footprintOf(noPolygons, 0), under: top[k]! - thickness[k]! };
    return { print: footprintOf(withBrim(laid, brim, kernel), 0), under: 0 };
  }
  return { print: footprintOf(noPolygons, 0), under: Infinity };
}

/** The joint of a body's own material at a height. */
export const neckOf = (mesh: Mesh, z: number, kernel: PolygonKernel): Footprint =>
  footprintOf(levelSection(mesh, z, kernel), z);

/** Section of a mesh at a height over the table. */
function levelSection(mesh: Mesh, z: number, kernel: PolygonKernel): Polygons {
  const section = sectionOf(mesh, { point: [0, 0, z], normal: [0, 0, 1] });
  if (!section) return noPolygons;
  const { points, start } = section;
  const flat = new Float64Array((points.length / 3) * 2);
  for (let i = 0; i < flat.length / 2; i++) {
    flat[2 * i] = points[3 * i]!;
    flat[2 * i + 1] = points[3 * i + 1]!;
  }
  return kernel.union({ points: flat, start }, 'positive');
}

const ROUND_JOINS = { corners: 'round', arcTolerance: 0.001 } as const;

function opened(p: Polygons, by: number, kernel: PolygonKernel): Polygons {
  const inner = kernel.offset(p, -by, ROUND_JOINS);
  if (inner.points.length === 0) return noPolygons;
  return kernel.combine(kernel.offset(inner, by, ROUND_JOINS), p, 'intersection');
}

/** Holes stay free of brim. */
function withBrim(p: Polygons, by: number, kernel: PolygonKernel): Polygons {
  if (by <= 0) return p;
  const loops = Array.from({ length: p.start.length - 1 }, (_, i) => i);
  const outer = loops.filter((i) => loopArea(p, i) > 0);
  const points = outer.flatMap((i) => [...p.points.subarray(2 * p.start[i]!, 2 * p.start[i + 1]!)]);
  const start = new Uint32Array(outer.length + 1);
  outer.forEach((i, k) => (start[k + 1] = start[k]! + p.start[i + 1]! - p.start[i]!));
  const outlines = kernel.union({ points: Float64Array.from(points), start }, 'positive');
  const rim = kernel.combine(kernel.offset(outlines, by, ROUND_JOINS), outlines, 'difference');
  return kernel.combine(p, rim, 'union');
}
