/**
 * What the sections of the layers leave hanging: of each layer, the material with nothing under it within
 * the self-supporting angle, by region, layer and place. Bridges and plans are chosen by it; the reported
 * figure is counted from the planned beads by the same rule (paths/hanging).
 *
 * Definition. Layer k's section S(k) stands for the slab around its middle m(k). Below it, at
 * m(k-1), is the section of the same region's layer and those of all earlier regions there (for the
 * first layer, one thickness lower). What of S(k) lies outside that material grown by
 * (m(k) - m(k-1)) tan(theta) is unsupported. A layer whose material below would be under the table
 * face lies on the table and is supported whole, if the region stands on the table.
 * The figure is the sum over layers of these areas, measured in the layers' planes. It is not the
 * facet figure: a surface that leans by an angle a > theta shows (1 - tan(theta) / tan(a)) of its
 * projected area here, and all of its slanted area there; a flat ceiling of area A and outline
 * supported along the length s shows A - s h tan(theta). Both are zero for a part that needs no
 * support, and only this one sees an island.
 *
 * Bridges. Where the user allows spans, what beads laid straight across from one supported end to the
 * other carry (`bridges.ts`) does not count, and is reported separately.
 *
 * Tolerance. Sections are simplified by `SECTION_TOLERANCE` mm and arcs are cut by as much, so an outline is
 * off by at most twice that; strips narrower than twice `HALF_SLIVER` are rounding and are opened away
 * (which also rounds the corners of what stays, (4 - pi) HALF_SLIVER^2 a square corner). So a wall counts
 * once it leans further out than h tan(theta) by 2 HALF_SLIVER a layer: 45.3 deg for theta 45 and h 0.2.
 */
import { type Polygons, area, noPolygons } from '../polygon/polygons.js';
import type { Vec3 } from '../base/vector.js';
import { type Watch, step } from '../base/watch.js';
import type { PolygonKernel } from '../kernel/polygon.js';
import type { Mesh } from '../mesh/mesh.js';
import type { Region } from '../regions/region.js';
import { bridgeOver } from './bridges.js';
import { curvedHanging } from './curved-hanging.js';
import { type Layers, middles } from './layers.js';
import { type LayerMap, meshToLayer, toLayer, toPart } from './layer-map.js';
import { onlyNear, rowsOf } from './near.js';
import { SECTION_TOLERANCE, opened, pieces } from './slivers.js';
import { insidePoint } from '../polygon/inside-point.js';
import { sections } from './sweep.js';

/** One connected piece of a layer. */
export interface LayerPlace {
  readonly region: number;
  readonly layer: number;
  /** A point inside the piece, part frame, mm. */
  readonly point: Vec3;
  readonly mm2: number;
}

/** One that hangs, or what hangs of one bead. */
export interface HangingPlace extends LayerPlace {
  /** Of mm2, what lies over the inside of the part, between beads of sparse fill. */
  readonly overFillMm2: number;
}

/** One connected piece of a layer, or a part of it, that is bridged. */
export interface Bridge extends LayerPlace {
  /** Length of its edge along the rest of the layer; the rest of its edge is the layer's own. */
  readonly edgeMm: number;
  /** Longest bead from end to end, mm. */
  readonly spanMm: number;
  /** Direction of the beads in the layer plane, rad from +X of layer space. */
  readonly angle: number;
  /** What is bridged, layer space. */
  readonly area: Polygons;
}

/** What the layers of one region leave. By layer. */
export interface RegionHanging {
  readonly places: readonly HangingPlace[];
  readonly bridges: readonly Bridge[];
}

export interface LayerHanging extends RegionHanging {
  readonly totalMm2: number;
  /** Of that, what lies between beads of sparse fill. */
  readonly overFillMm2: number;
  /** mm2 of each region. */
  readonly byRegion: Float64Array;
}

export interface SupportRules {
  /** Steepest self-supporting angle from the build direction, rad, 0 .. below pi / 2. */
  readonly theta: number;
  /** Longest span that is bridged, mm; 0: none. */
  readonly bridge: number;
}

/** Far more than what sections are simplified by, far less than a bead, mm. */
const HAIR = 0.02;

/** The places of one region: a piece of work for one thread. Needs the meshes of earlier regions only. */
export function hangingOf(
  regions: readonly Region[],
  index: number,
  layers: Layers,
  { theta, bridge }: SupportRules,
  kernel: PolygonKernel,
  watch?: Watch,
): RegionHanging {
  if (!(theta >= 0 && theta < Math.PI / 2))
    throw new Error(`theta must be in 0 .. pi / 2, is ${theta}`);
  const region = regions[index]!;
  if (layers.map.kind === 'field') {
    const hangs = curvedHanging(layers, layers.map, theta, kernel, watch);
    return { places: hangs.map((h) => ({ ...h, region: index, overFillMm2: 0 })), bridges: [] };
  }
  const rows = rowsOf({ section: layers.section, layerStart: layers.layerStart });
  const middle = middles(layers);
  const below = middle.map((z, k) => (k > 0 ? middle[k - 1]! : z - layers.thickness[0]!));
  const table = tableHeight(region, layers.map);
  const earlier = earlierRows(
    regions.slice(0, index),
    layers.map,
    below,
    rows,
    layers.thickness[0]!,
  );
  const grow = { corners: 'round', arcTolerance: SECTION_TOLERANCE } as const;
  const places: HangingPlace[] = [];
  const bridges: Bridge[] = [];
  let before = noPolygons;
  for (let k = 0; k < rows.length; k++) {
    step(watch, 'support', k, rows.length);
    const reach = (middle[k]! - below[k]!) * Math.tan(theta);
    const own = kernel.simplify(rows[k]!, SECTION_TOLERANCE);
    const under = [before, ...earlier.map((e) => e[k]!)];
    before = own;
    if (below[k]! <= table) continue;
    let left = own;
    for (const material of under) {
      if (left.points.length === 0) break;
      if (material.points.length === 0) continue;
      left = opened(
        kernel.combine(
          left,
          kernel.offset(kernel.simplify(material, SECTION_TOLERANCE), reach, grow),
          'difference',
        ),
        kernel,
      );
    }
    if (left.points.length === 0) continue;
    const placed = (piece: Polygons): LayerPlace => ({
      region: index,
      layer: k,
      point: toPart(layers.map, [...insidePoint(piece), middle[k]!]),
      mm2: area(piece),
    });
    for (const piece of pieces(left)) {
      const bridged = bridge > 0 ? bridgeOver(piece, own, left, bridge, kernel) : undefined;
      if (!bridged) {
        places.push({ ...placed(piece), overFillMm2: 0 });
        continue;
      }
      const stays = opened(kernel.combine(piece, bridged.area, 'difference'), kernel);
      if (stays.points.length > 0)
        places.push(...pieces(stays).map((of) => ({ ...placed(of), overFillMm2: 0 })));
      bridges.push(
        ...pieces(bridged.area).map((part) => ({
          ...placed(part),
          edgeMm: edgeWithin(part, own, kernel),
          spanMm: bridged.span,
          angle: bridged.angle,
          area: part,
        })),
      );
    }
  }
  return { places, bridges };
}

/** Totals of the places of all regions. */
export function joinedHanging(byRegion: readonly RegionHanging[]): LayerHanging {
  const sums = Float64Array.from(byRegion, (r) => r.places.reduce((sum, p) => sum + p.mm2, 0));
  const places = byRegion.flatMap((r) => r.places);
  return {
    totalMm2: sums.reduce((a, b) => a + b, 0),
    overFillMm2: places.reduce((sum, p) => sum + p.overFillMm2, 0),
    byRegion: sums,
    places,
    bridges: byRegion.flatMap((r) => r.bridges),
  };
}

/** Height of the table face in layer space; -Infinity for a region that does not stand on it. */
function tableHeight(region: Region, map: LayerMap): number {
  if (region.baseCut >= 0) return -Infinity;
  return toLayer(map, region.base.point)[2];
}

/** For each earlier region that comes near: its sections at the given heights. */
function earlierRows(
  regions: readonly Region[],
  map: LayerMap,
  heights: Float64Array,
  rows: readonly Polygons[],
  margin: number,
): Polygons[][] {
  const out: Polygons[][] = [];
  for (const { mesh } of regions) {
    const inLayers: Mesh = meshToLayer(map, mesh);
    const near = onlyNear(sections(inLayers, heights), rows, margin);
    if (near.section.points.length > 0) out.push(rowsOf(near));
  }
  return out;
}

/** Edge length that a piece shares with the layer beside it, mm: what it gains there when grown by a hair. */
function edgeWithin(piece: Polygons, layer: Polygons, kernel: PolygonKernel): number {
  const rules = { corners: 'miter' } as const;
  const grown = kernel.combine(kernel.offset(piece, HAIR, rules), layer, 'intersection');
  return Math.max(0, area(grown) - area(piece)) / HAIR;
}
