/**
 * What of each layer must be solid: what lies within the cap's thickness under an upward face of the
 * part or over a downward one, and the bed under an interface.
 *
 * Layer j shows upwards where the part's section j is not covered by section j + 1. A point of layer k
 * is under an exposed face iff one of the layers k .. k + m - 1 shows there (if the next m sections do
 * not all cover it, the first that misses it follows one that shows). So each pair of neighbours is
 * compared once, not m times, and the sum of a few thin bands is cut from the layer. The whole part is
 * compared, so a cut between regions shows nothing.
 */
import { type Polygons, loopArea, noPolygons } from '../../polygon/polygons.js';
import type { PolygonKernel } from '../../kernel/polygon.js';
import type { Layers } from '../../layers/layers.js';
import { lineAngle } from './fill.js';
import { gridOf } from '../../polygon/edge-grid.js';
import { concat, isEmpty, loopsOf } from '../../polygon/loops.js';
import { piecesOf, splitPieces } from '../piece-numbers.js';
import type { LayerSection } from '../layer-section.js';

/**
 * Bands narrower than this are left out, mm: on a wall so steep a cap's few layers together show less
 * than the contours cover. Without this the cutting of hair-thin bands took a third of all planning.
 */
const LEAST_BAND = 0.06;
/** Solid layers under an interface: the first sags into the fill, the second is flat (common practice). */
const BED = 2;
/** Bands of neighbouring layers lap over each other by twice this, mm, so that no slit parts them. */
const LAP = 0.005;

export interface Exposure {
  /** Area (overlapping loops, nonzero rule) that is to be closed in a layer, before it is cut to it. */
  of(layer: number): Polygons;
}

/**
 * @param cap thickness of the closed layers, mm
 * @param tolerance simplification of the sections, mm
 * @param meets whether other regions stand on this one
 * @param depth how far in the contours of a layer reach, mm; 0: they need no bed
 */
export function exposure(
  layers: Layers,
  cap: number,
  tolerance: number,
  kernel: PolygonKernel,
  meets = false,
  depth = 0,
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
      bare = banded(bare, kernel);
      shows.set(key, bare);
    }
    return bare;
  };
  /** What of layer k of the region is not covered by its own next one. */
  const ends = new Map<number, Polygons>();
  const ending = (k: number): Polygons => {
    let bare = ends.get(k);
    if (!bare) {
      const [own, next] = [k, k + 1].map((i) => ownRow(layers, i));
      bare = isEmpty(own!) ? own! : banded(uncovered(own!, next!, kernel), kernel);
      ends.set(k, bare);
    }
    return bare;
  };
  /** Where a layer steps back, its contours lie farther in than those of layer k reach. */
  const underContours = (k: number): Polygons => {
    const [own, next] = [section(k), section(k + 1)];
    if (depth === 0 || !own || !next || isEmpty(next) || isEmpty(showing(k, 1))) return noPolygons;
    const within = kernel.offset(next, -depth, { corners: 'miter' });
    return isEmpty(within) ? next : kernel.combine(next, within, 'difference');
  };
  return {
    of(layer) {
      const bands: Polygons[] = [];
      const add = (band: Polygons): unknown => !isEmpty(band) && bands.push(band);
      for (const step of [1, -1] as const) {
        // Layer j counts while material above (below) it is thinner than the cap.
        for (let j = layer, deep = 0; deep < cap * (1 - 1e-6); j += step) {
          add(showing(j, step));
          deep += layers.thickness[Math.min(count - 1, Math.max(0, j))]!;
        }
      }
      add(underContours(layer));
      if (meets) for (let j = layer; j < Math.min(count, layer + BED); j++) add(ending(j));
      return bands.length ? concat(bands) : noPolygons;
    },
  };
}

/** Without what is narrower than a sliver, lapped over its neighbours. */
function banded(bare: Polygons, kernel: PolygonKernel): Polygons {
  const core = isEmpty(bare) ? bare : kernel.offset(bare, -LEAST_BAND / 2, { corners: 'miter' });
  return isEmpty(core) ? core : kernel.offset(core, LEAST_BAND / 2 + LAP, { corners: 'miter' });
}

const ownRow = ({ section, layerStart }: Layers, k: number): Polygons =>
  k + 1 < layerStart.length ? loopsOf(section, layerStart[k]!, layerStart[k + 1]!) : noPolygons;

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

/** The inside divided into what must be solid and what is filled. */
export function partedByCaps(
  section: LayerSection,
  inside: Polygons,
  exposed: Exposure,
): { cap: Polygons; open: Polygons } {
  const { sizes, kernel, layer } = section;
  const bare = isEmpty(inside) ? noPolygons : exposed.of(layer);
  if (isEmpty(bare)) return { cap: noPolygons, open: inside };
  const least = (LEAST_CAP * sizes.width) / 2;
  const shrunk = kernel.offset(kernel.combine(bare, inside, 'intersection'), -least, {
    corners: 'miter',
  });
  if (isEmpty(shrunk)) return { cap: noPolygons, open: inside };
  // One bead beyond what is exposed: the cap's edge then rests on fill and contours.
  const grown = kernel.offset(shrunk, least + sizes.spacing, { corners: 'miter' });
  const within = kernel.combine(grown, inside, 'intersection');
  const wide = anchored(section, within, inside);
  const cap = withSlots(section, wide, inside);
  return { cap, open: kernel.combine(inside, cap, 'difference') };
}

/** A hair by which slots meet the cap beside them, mm. */
const SLOT_OVERLAP = 0.01;

/**
 * A cap with the slots beside it that are narrower than the spacing of the fill: so few of its beads come
 * into a slot that the cap's lines would end on nothing. Along the ring under a pipe on a flange, filled with
 * triangles, 139 mm2 of beads hung because of that. For triangles alone: lines have `anchored`, and with it
 * closed slots made a layer whose fill differs from its neighbours' and laid beads twice; for waves there
 * was no gain.
 */
function withSlots(section: LayerSection, cap: Polygons, inside: Polygons): Polygons {
  const { rules, sizes, kernel } = section;
  const { density, pattern } = rules.fill;
  if (pattern !== 'triangles' || density === 0 || density === 1 || isEmpty(cap)) return cap;
  const open = kernel.combine(inside, cap, 'difference');
  if (isEmpty(open)) return cap;
  // Each of the three families has beads this far apart (fill.ts).
  const half = (3 * sizes.spacing) / density / 2;
  const core = kernel.offset(open, -half, { corners: 'miter' });
  const roomy = isEmpty(core)
    ? core
    : kernel.offset(core, half + SLOT_OVERLAP, { corners: 'miter' });
  const narrow = isEmpty(roomy) ? open : kernel.combine(open, roomy, 'difference');
  if (isEmpty(narrow)) return cap;
  const near = kernel.offset(cap, SLOT_OVERLAP, { corners: 'miter' });
  const slots = splitPieces(narrow, piecesOf(narrow, gridOf(narrow))).filter(
    (piece) => !isEmpty(kernel.combine(piece, near, 'intersection')),
  );
  return slots.length > 0 ? kernel.union(concat([cap, ...slots]), 'nonZero') : cap;
}

/**
 * An anchored cap is at least this many lines wide: fewer run along its sides and turn anywhere. Of the
 * caps of a flange and its chamfer 29 mm2 hung with 3 lines, 10 with 6, 6 with 8, 5 with 10.
 */
const LEAST_LINES = 8;
/** Strips keep this far from one another, mm. */
const STRIP_GAP = 1e-3;

/**
 * A cap widened along its lines to the beads of the fill one layer lower, so that lines turn on them. Those
 * beads run square to the cap's lines at known places (`crossedLines` in fill.ts), so each piece of the cap
 * between two of them becomes as long as the gap. Other patterns have no such places: there caps stay as
 * they are.
 */
function anchored(section: LayerSection, cap: Polygons, inside: Polygons): Polygons {
  const { rules, sizes, kernel } = section;
  const { density, pattern } = rules.fill;
  if (pattern !== 'lines' || density === 0 || density === 1 || isEmpty(cap)) return cap;
  const pitch = sizes.spacing / density;
  const turned = lineAngle(section);
  const [cos, sin] = [Math.cos(turned), Math.sin(turned)];
  // Lines of the layer below lie at pitch / 2 + j pitch along +-u, whichever way it is turned.
  const inset = Math.max(0, sizes.spacing / 2 - rules.overlap * sizes.width);
  const strips: number[] = [];
  const [low, high] = extent(cap, cos, sin);
  const [bottom, top] = extent(cap, -sin, cos);
  for (let j = Math.floor(low / pitch - 0.5); (j + 0.5) * pitch < high; j++) {
    const [from, to] = [(j + 0.5) * pitch + STRIP_GAP, (j + 1.5) * pitch - STRIP_GAP];
    strips.push(from, bottom - 1, to, bottom - 1, to, top + 1, from, top + 1);
  }
  const cut = kernel.combine(cap, boxes(strips, cos, sin), 'intersection');
  const wide: number[] = [];
  for (let loop = 0; loop + 1 < cut.start.length; loop++) {
    if (loopArea(cut, loop) <= 0) continue;
    const piece = loopsOf(cut, loop, loop + 1);
    const [u0, u1] = extent(piece, cos, sin);
    const [v0, v1] = extent(piece, -sin, cos);
    const j = Math.floor((u0 + u1) / 2 / pitch - 0.5);
    const [from, to] = [(j + 0.5) * pitch - inset, (j + 1.5) * pitch + inset];
    const more = Math.max(0, LEAST_LINES * sizes.spacing - (v1 - v0));
    const [below, above] = [v0 - more, v1 + more];
    wide.push(from, below, to, below, to, above, from, above);
  }
  if (wide.length === 0) return cap;
  const all = kernel.union(concat([cap, boxes(wide, cos, sin)]), 'nonZero');
  return kernel.combine(all, inside, 'intersection');
}

/** Least and greatest of x a + y b over the points. */
function extent({ points }: Polygons, a: number, b: number): [number, number] {
  let [low, high] = [Infinity, -Infinity];
  for (let i = 0; i < points.length; i += 2) {
    const at = points[i]! * a + points[i + 1]! * b;
    low = Math.min(low, at);
    high = Math.max(high, at);
  }
  return [low, high];
}

/** Quadrilaterals whose corners are given along u and v. */
function boxes(uv: readonly number[], cos: number, sin: number): Polygons {
  const points = new Float64Array(uv.length);
  for (let i = 0; i < uv.length; i += 2) {
    points[i] = uv[i]! * cos - uv[i + 1]! * sin;
    points[i + 1] = uv[i]! * sin + uv[i + 1]! * cos;
  }
  return { points, start: Uint32Array.from({ length: uv.length / 8 + 1 }, (_, i) => 4 * i) };
}
