/**
 * Sections of the whole part go in; for each layer the area that must be closed comes out: what lies
 * within the cap's thickness under a face that looks up, or over one that looks down.
 *
 * Layer j shows upwards where the part's section j is not covered by section j + 1. A point of layer
 * k is under an exposed face iff one of the layers k .. k + m - 1 shows there (if the next m sections
 * do not all cover it, the first that misses it follows one that shows). So each pair of neighbours
 * is compared once, not m times, and the sum of a few thin bands is cut from the layer. The whole
 * part is compared, so a cut between regions shows nothing.
 */
import type { Polygons } from '../base/polygons.js';
import { noPolygons } from '../base/polygons.js';
import type { PolygonKernel } from '../kernel/polygon.js';
import type { Layers } from '../layers/layers.js';
import { concat, isEmpty, loopsOf } from './loops.js';
import type { Section } from './section.js';

/**
 * Bands narrower than this are left out, mm: on a wall so steep a cap's few layers together show less
 * than the contours cover. Without this the cutting of hair-thin bands took a third of all planning.
 */
const SLIVER = 0.06;
/** Bands of neighbouring layers lap over each other by twice this, mm, so that no slit parts them. */
const LAP = 0.005;

export interface Exposure {
  /** Area (overlapping loops, nonzero rule) that is to be closed in a layer, before it is cut to it. */
  of(layer: number): Polygons;
}

/**
 * @param cap thickness of the closed layers, mm
 * @param tolerance simplification of the sections, mm
 */
export function exposure(
  layers: Layers,
  cap: number,
  tolerance: number,
  kernel: PolygonKernel,
): Exposure {
  const count = layers.top.length;
  const sections = new Map<number, Polygons | undefined>();
  const shows = new Map<number, Polygons>();
  const section = (k: number): Polygons | undefined => {
    if (!sections.has(k)) {
      const raw = rowOf(layers, k);
      sections.set(k, raw && kernel.simplify(raw, tolerance));
    }
    return sections.get(k);
  };
  /** What of layer k is not covered by its neighbour; nothing where the neighbour is not known. */
  const showing = (k: number, step: 1 | -1): Polygons => {
    const key = 2 * k + (step > 0 ? 1 : 0);
    let bare = shows.get(key);
    if (!bare) {
      const own = section(k);
      const next = section(k + step);
      bare = own && next && !isEmpty(own) ? uncovered(own, next, kernel) : noPolygons;
      if (!isEmpty(bare)) bare = kernel.offset(bare, -SLIVER / 2, { corners: 'miter' });
      if (!isEmpty(bare)) bare = kernel.offset(bare, SLIVER / 2 + LAP, { corners: 'miter' });
      shows.set(key, bare);
    }
    return bare;
  };
  return {
    of(layer) {
      const bands: Polygons[] = [];
      for (const step of [1, -1] as const) {
        // Layer j counts while material above (below) it is thinner than the cap.
        for (let j = layer, depth = 0; depth < cap * (1 - 1e-6); j += step) {
          const band = showing(j, step);
          if (!isEmpty(band)) bands.push(band);
          depth += layers.thickness[Math.min(count - 1, Math.max(0, j))]!;
        }
      }
      return bands.length ? concat(bands) : noPolygons;
    },
  };
}

function uncovered(own: Polygons, next: Polygons, kernel: PolygonKernel): Polygons {
  return isEmpty(next) ? own : kernel.combine(own, next, 'difference');
}

/** The part's section at a layer's height, also beyond the region's ends; undefined if not known. */
function rowOf(layers: Layers, k: number): Polygons | undefined {
  const count = layers.top.length;
  const row = (p: Polygons, start: Uint32Array, i: number): Polygons | undefined =>
    i + 1 < start.length ? loopsOf(p, start[i]!, start[i + 1]!) : undefined;
  if (k < 0) return row(layers.beneath, layers.beneathStart, -1 - k);
  if (k >= count) return row(layers.over, layers.overStart, k - count);
  return row(layers.around, layers.aroundStart, k);
}

/** Caps narrower than this share of a bead are left to the contours beside them. */
const LEAST_CAP = 0.5;

/** The inside parted into what must be closed and what is filled. */
export function partedByCaps(
  { sizes, kernel, layer }: Section,
  inside: Polygons,
  exposed: Exposure,
): { cap: Polygons; open: Polygons } {
  const bare = isEmpty(inside) ? noPolygons : exposed.of(layer);
  if (isEmpty(bare)) return { cap: noPolygons, open: inside };
  const least = (LEAST_CAP * sizes.width) / 2;
  const shrunk = kernel.offset(kernel.combine(bare, inside, 'intersection'), -least, {
    corners: 'miter',
  });
  if (isEmpty(shrunk)) return { cap: noPolygons, open: inside };
  // One bead more than what is bare: the cap's edge then rests on fill and contours.
  const grown = kernel.offset(shrunk, least + sizes.spacing, { corners: 'miter' });
  const cap = kernel.combine(grown, inside, 'intersection');
  return { cap, open: kernel.combine(inside, cap, 'difference') };
}
