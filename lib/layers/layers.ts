/**
 * The layers of a region: sections of its mesh at the middle of every layer, in layer space, without
 * crossing loops. Pure: the same input gives the same bits. The record is typed arrays throughout and
 * may be transferred.
 *
 * Heights. Layers rise from the region's lowest point (the table, or the lowest point of the base
 * cut) to its highest, and their thicknesses add up to that height (stack.ts). The section stands for
 * its layer at mid-layer: for a sphere of radius R in layers of h the areas then sum to exactly
 * V + pi R h^2 / 6, against V + pi R^2 h with sections at the bottom.
 *
 * Interfaces. Where a cut plane ends a region its layers are trimmed by the mid-layer section, so
 * voids are at most half a layer deep; interface.ts says why and how the next region fills them.
 */
import { type Polygons, area } from '../polygon/polygons.js';
import { type Watch, step } from '../base/watch.js';
import type { PolygonKernel } from '../kernel/polygon.js';
import type { Mesh } from '../mesh/mesh.js';
import type { Region } from '../regions/region.js';
import { withoutCrossings } from './crossing-loops.js';
import {
  type BaseRoughness,
  type RegionBelow,
  baseOf,
  flatRoughness,
  meanRoughness,
  flowFactors,
} from './interface.js';
import { type LayerMap, flatMap, meshToLayer } from './layer-map.js';
import { joined, onlyNear, rowsOf } from './near.js';
import { LEAST_SHARE, type LayerRules, MOST_SHARE, checkThickness } from './rules.js';
import { allowedBySlope, evenly } from './slope.js';
import { type LayerStack, stackUp } from './stack.js';
import { type Sections, sections } from './sweep.js';

/**
 * Sections keep the rules of Polygons (outer loops counter-clockwise, no crossing loops).
 * Layer k's loops are `layerStart[k] .. layerStart[k + 1]` of `section`.
 */
export interface Layers {
  readonly map: LayerMap;
  /** Top of each layer, where the nozzle tip travels, layer-space mm, rising. */
  readonly top: Float64Array;
  /** Thickness of each layer, mm; the bottom is top - thickness. */
  readonly thickness: Float64Array;
  /**
   * Flow factor of each layer: 1, and by the interface rule more on the first layers that fill the
   * staircase below an interface.
   */
  readonly flowFactor: Float64Array;
  readonly section: Polygons;
  readonly layerStart: Uint32Array;
  /**
   * Sections of the whole part at the same heights: what is exposed, and so wants caps, is judged
   * against the part and never against a cut. Only loops whose box meets that of the region's loops
   * in this layer or one of its neighbours, grown by a nozzle diameter, are kept.
   */
  readonly around: Polygons;
  readonly aroundStart: Uint32Array;
  /**
   * The same beyond the region's ends, where the part may go on: row j of `beneath` is layer -1 - j
   * (as thick as the first), row j of `over` is layer `layers + j` (as thick as the last).
   */
  readonly beneath: Polygons;
  readonly beneathStart: Uint32Array;
  readonly over: Polygons;
  readonly overStart: Uint32Array;
}

export interface LayerLimits {
  /** Bore, mm. */
  readonly nozzleDiameter: number;
  /** What `baseRoughness` says about the plane that the region stands on; left out on the table. */
  readonly roughness?: BaseRoughness;
  /** How many rows `beneath` and `over` have: as many layers as a cap may be thick. Default 8. */
  readonly beyond?: number;
}

/**
 * @param part the whole part, closed, part frame
 * @param map left out: flat layers along the region's direction; of a field only for a region that is the whole part
 * @throws Fault `layers/too-thick`, `layers/too-thin`, `layers/bad-range`, `layers/open-mesh`
 */
export function layOut(
  region: Region,
  part: Mesh,
  rules: LayerRules,
  limits: LayerLimits,
  kernel: PolygonKernel,
  watch?: Watch,
  map: LayerMap = flatMap(region.direction),
): Layers {
  if (region.baseCut >= 0 && !limits.roughness) {
    throw new Error('a region that stands on others needs the roughness of its base plane');
  }
  const mesh = meshToLayer(map, region.mesh);
  const stack = stackOf(region, mesh, map, rules, limits);
  step(watch, 'layers', 0, 2);
  const own = withoutCrossings(sections(mesh, middles(stack)), kernel, watch);
  step(watch, 'layers', 1, 2);
  const whole = part === region.mesh ? mesh : meshToLayer(map, part);
  const { beneath, around, over } = surroundings(whole, stack, own, limits, kernel, watch);
  step(watch, 'layers', 2, 2);
  return {
    map,
    top: stack.top,
    thickness: stack.thickness,
    flowFactor: flowFactors(
      region,
      map,
      stack,
      rowsOf(own).map(area),
      limits.roughness ?? flatRoughness,
      rules.interface.mostFlow,
    ),
    section: own.section,
    layerStart: own.layerStart,
    around: around.section,
    aroundStart: around.layerStart,
    beneath: beneath.section,
    beneathStart: beneath.layerStart,
    over: over.section,
    overStart: over.layerStart,
  };
}

/**
 * What region `index` stands on, for `LayerLimits.roughness`: cheap, and small enough to send along
 * with the region to another thread.
 */
export function baseRoughness(
  regions: readonly Region[],
  index: number,
  rules: LayerRules,
  nozzleDiameter: number,
): BaseRoughness {
  const region = regions[index]!;
  if (region.baseCut < 0) return flatRoughness;
  const below = region.standsOn.map((i): RegionBelow => {
    const lower = regions[i]!;
    const map = flatMap(lower.direction);
    const mesh = meshToLayer(map, lower.mesh);
    const stack = stackOf(lower, mesh, map, rules, { nozzleDiameter, roughness: flatRoughness });
    return { region: lower, thickness: (from, to) => thickestIn(stack, from, to) };
  });
  return meanRoughness(region, below);
}

/** The greatest thickness of the layers between two heights. */
function thickestIn({ top, thickness }: LayerStack, from: number, to: number): number {
  let most = 0;
  for (let k = 0; k < top.length; k++) {
    if (top[k]! >= from && top[k]! - thickness[k]! <= to) most = Math.max(most, thickness[k]!);
  }
  return most;
}

/** Middles of the layers, where the sections are taken, layer-space mm. */
export function middles({ top, thickness }: Pick<Layers, 'top' | 'thickness'>): Float64Array {
  return top.map((z, k) => z - thickness[k]! / 2);
}

interface Surroundings {
  readonly beneath: Sections;
  readonly around: Sections;
  readonly over: Sections;
}

/** The part's own sections at, below and above the layers, near the region only. */
function surroundings(
  part: Mesh,
  stack: LayerStack,
  own: Sections,
  { beyond = 8, nozzleDiameter }: LayerLimits,
  kernel: PolygonKernel,
  watch?: Watch,
): Surroundings {
  const rows = rowsOf(own);
  const last = rows.length - 1;
  const t0 = stack.thickness[0]!;
  const t1 = stack.thickness[last]!;
  const steps = Array.from({ length: beyond }, (_, j) => j + 1);
  // Lowest first for the sweep; row -1 comes first in the record.
  const down = steps.map((j) => stack.bottom + t0 / 2 - j * t0).reverse();
  const up = steps.map((j) => stack.top[last]! - t1 / 2 + j * t1);
  const heights = Float64Array.from([...down, ...middles(stack), ...up]);
  const near = [...down.map(() => rows[0]!), ...rows, ...up.map(() => rows[last]!)];
  const all = onlyNear(sections(part, heights), near, nozzleDiameter);
  const rowsWithoutCrossings = rowsOf(withoutCrossings(all, kernel, watch));
  const between = rowsWithoutCrossings.slice(beyond, beyond + rows.length);
  return {
    beneath: joined(rowsWithoutCrossings.slice(0, beyond).reverse()),
    around: joined(between),
    over: joined(rowsWithoutCrossings.slice(beyond + rows.length)),
  };
}

/** @param mesh of the region in layer space */
function stackOf(
  region: Region,
  mesh: Mesh,
  map: LayerMap,
  rules: LayerRules,
  limits: LayerLimits,
): LayerStack {
  const { nozzleDiameter } = limits;
  const { least, most } = checkThickness(rules, nozzleDiameter);
  const [bottom, end] = span(mesh);
  const { cusp, exempt, change } = rules.adapt;
  // A field is grown in the whole part, which has no cuts.
  const skin = (t: number): boolean => map.kind === 'field' || region.cut[t]! < 0;
  const allowed =
    cusp === undefined
      ? evenly(bottom, end, most)
      : allowedBySlope(mesh.vertices, mesh.triangles, skin, bottom, end, {
          cusp,
          least,
          most,
          exempt,
          change,
        });
  const first = firstThickness(region, rules, limits, allowed.thickness[0]!);
  return stackUp(bottom, end, first, allowed, nozzleDiameter);
}

/**
 * On the table what the rules say. On an interface square to the direction the pressed thickness, but
 * enough that the nozzle passes over the ridges of the layers below with the least thickness left
 * under it. On an oblique base the lowest layer is the tip of a wedge and has nothing to be pressed on.
 */
function firstThickness(
  region: Region,
  rules: LayerRules,
  { nozzleDiameter, roughness: under }: LayerLimits,
  allowed: number,
): number {
  if (region.baseCut < 0) return rules.first;
  const oblique = baseOf(region, flatMap(region.direction)).span > allowed / 2;
  if (oblique) return allowed;
  const pressed = allowed * (1 - rules.interface.press);
  const clear = (under?.ridge ?? 0) + LEAST_SHARE * nozzleDiameter;
  return Math.min(MOST_SHARE * nozzleDiameter, Math.max(pressed, clear));
}

function span({ vertices }: Mesh): [number, number] {
  let low = Infinity;
  let high = -Infinity;
  for (let i = 2; i < vertices.length; i += 3) {
    if (vertices[i]! < low) low = vertices[i]!;
    if (vertices[i]! > high) high = vertices[i]!;
  }
  return [low, high];
}
