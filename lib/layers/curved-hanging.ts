/**
 * What hangs under the rule of `unsupported.ts` where layers are the sheets of a field: lengths of layer space are not
 * those of the part, so each layer is looked at in tiles no larger than the lattice, and each tile in part millimetres
 * by the metric at its middle. What lies near the table face stands on it: sheets meet the table at an angle, so
 * a layer may begin there anywhere.
 *
 * Counted in layer space alone a mushroom keeps 162 mm2 that are not there. Cost: a few polygon operations for each
 * tile in which the layer steps outwards at all.
 */
import type { Vec3 } from '../base/vector.js';
import { type Watch, step } from '../base/watch.js';
import { metricOf } from '../field/field-map.js';
import { SheetMetric } from '../field/sheet-metric.js';
import { sheetsBelow } from '../field/sheet-sections.js';
import type { PolygonKernel } from '../kernel/polygon.js';
import { insidePoint } from '../polygon/inside-point.js';
import { boxOf } from '../polygon/loops.js';
import { type Polygons, area, noPolygons } from '../polygon/polygons.js';
import type { BentMap } from './layer-map.js';
import { type Layers, middles } from './layers.js';
import { rowsOf } from './near.js';
import { SECTION_TOLERANCE, opened, pieces } from './slivers.js';

/** Smaller corners of a tile have no inside worth a name, mm2. */
const LEAST_TILE = 1e-6;

/** A stretch of a layer with what lies under it, both within a box of layer space. */
interface Tile {
  readonly own: Polygons;
  readonly under: Polygons;
}

/** A connected piece of a layer that hangs; its point in the part frame. */
export interface CurvedPlace {
  readonly layer: number;
  readonly point: Vec3;
  readonly mm2: number;
}

/** @param theta steepest self-supporting angle from the direction of growth, rad */
export function curvedHanging(
  layers: Layers,
  { field }: BentMap,
  theta: number,
  kernel: PolygonKernel,
  watch?: Watch,
): CurvedPlace[] {
  const rows = rowsOf(layers);
  const middle = middles(layers);
  const metric = new SheetMetric(field);
  const standing = sheetsBelow(field, middle, layers.thickness[0]!);
  const [least, most] = reachBounds(field);
  const { spacing } = field.lattice;
  const grow = { corners: 'round', arcTolerance: SECTION_TOLERANCE } as const;
  const out: CurvedPlace[] = [];
  let before = noPolygons;
  rows.forEach((row, k) => {
    step(watch, 'support', k, rows.length);
    const own = kernel.simplify(row, SECTION_TOLERANCE);
    const slab = middle[k]! - (k > 0 ? middle[k - 1]! : middle[0]! - layers.thickness[0]!);
    const under = kernel.combine(before, kernel.union(standing[k]!, 'positive'), 'union');
    before = own;
    if (own.points.length === 0) return;
    const reach = slab * Math.tan(theta);
    const certain = kernel.offset(under, reach * least, grow);
    const doubtful = opened(kernel.combine(own, certain, 'difference'), kernel);
    for (const piece of pieces(doubtful)) {
      const hangs: { mm2: number; point: Vec3 }[] = [];
      for (const tile of tilesOf({ own: piece, under }, spacing, reach * most, kernel)) {
        // A box may cut a piece into several; the metric is taken in the largest.
        const parts = pieces(tile.own);
        const largest = parts.reduce((a, b) => (area(b) > area(a) ? b : a), noPolygons);
        if (area(largest) < LEAST_TILE) continue;
        const at = insidePoint(largest);
        const place = metric.at([...at, middle[k]!]);
        if (!place) throw new Error(`no layers at ${at.join(' ')} of layer ${k + 1}`);
        const mm2 = hangingIn(tile, place.lengths, place.thickness * reach, kernel);
        if (mm2 > 0) hangs.push({ mm2, point: place.point });
      }
      const mm2 = hangs.reduce((sum, h) => sum + h.mm2, 0);
      if (!(mm2 > 0)) continue;
      const { point } = hangs.reduce((a, b) => (b.mm2 > a.mm2 ? b : a));
      out.push({ layer: k, point, mm2 });
    }
  });
  return out;
}

/**
 * Least and greatest length in layer space that one length of reach can have anywhere: the thickness of a layer of
 * thickness 1 times the stretch of the sheet.
 */
function reachBounds(field: BentMap['field']): [number, number] {
  let [least, most] = [Infinity, 0];
  for (let t = 0; t < field.lattice.shape.length; t++) {
    const { thickness, stretch } = metricOf(field, t);
    least = Math.min(least, thickness * stretch[0]);
    most = Math.max(most, thickness * stretch[1]);
  }
  return [least, most];
}

/** What of a tile lies outside of what is under it, grown by the reach; part mm2. */
function hangingIn(tile: Tile, lengths: Vec3, reach: number, kernel: PolygonKernel): number {
  const own = stretched(tile.own, lengths);
  const under = stretched(tile.under, lengths);
  if (under.points.length === 0) return area(own);
  const grown = kernel.offset(under, reach, { corners: 'round', arcTolerance: SECTION_TOLERANCE });
  return area(opened(kernel.combine(own, grown, 'difference'), kernel));
}

const stretched = ({ points, start }: Polygons, [xx, xy, yy]: Vec3): Polygons => ({
  start,
  points: points.map((_, i) =>
    i % 2 === 0 ? xx * points[i]! + xy * points[i + 1]! : xy * points[i - 1]! + yy * points[i]!,
  ),
});

/** Halves a tile, and what is under it within the margin, until none is longer than `size`. */
function* tilesOf(
  tile: Tile,
  size: number,
  margin: number,
  kernel: PolygonKernel,
): Generator<Tile> {
  const [x0, y0, x1, y1] = boxOf(tile.own.points);
  const wide = x1 - x0 >= y1 - y0;
  if (Math.max(x1 - x0, y1 - y0) <= size) {
    yield tile;
    return;
  }
  const [mx, my] = [(x0 + x1) / 2, (y0 + y1) / 2];
  const halves: ReturnType<typeof boxOf>[] = wide
    ? [
        [x0, y0, mx, y1],
        [mx, y0, x1, y1],
      ]
    : [
        [x0, y0, x1, my],
        [x0, my, x1, y1],
      ];
  for (const half of halves) {
    const own = kernel.combine(tile.own, rectangle(half, 0), 'intersection');
    if (own.points.length === 0) continue;
    const under = kernel.combine(tile.under, rectangle(half, margin), 'intersection');
    yield* tilesOf({ own, under }, size, margin, kernel);
  }
}

function rectangle([x0, y0, x1, y1]: ReturnType<typeof boxOf>, by: number): Polygons {
  const [a, b, c, d] = [x0 - by, y0 - by, x1 + by, y1 + by];
  return { points: Float64Array.of(a, b, c, b, c, d, a, d), start: Uint32Array.of(0, 4) };
}
