/**
 * How a region lies on the regions below it: the depth of the hollows under the shared cut plane and
 * the height of the ridges above it, from directions and layer thicknesses, and with them the thickness
 * and the flow of the layers that touch the plane.
 *
 * The staircase. Layers of thickness h whose direction makes the angle p with the normal of plane P
 * end on P with upright walls, each placed by the section at mid-layer: so wall and plane cross
 * half-way up the wall. Seen along P square to the steps, each period of length h / sin p has one
 * triangle of material above P (ridge) and one empty triangle below it (hollow), both right-angled
 * with the legs h/2 (along the wall) and h / (2 tan p) (along the layer). Hence
 *   deepest point of a hollow below P, and highest of a ridge above it: (h/2) cos p  (<= h/2),
 *   area of each triangle: h^2 / (8 tan p),
 *   mean depth = area / period = h cos p / 8, and the same for the ridges.
 * So no void deeper than half a layer, measured along the plane's normal, is left before anything is
 * filled. Walls are not upright but rounded like the bead, a half circle of height h that touches the
 * mid-layer section: each wall lacks (1 - pi/4) h^2 / 2 more, per area of P (1 - pi/4) h sin p / 2.
 * The hollow to be filled is the sum of both means:
 *   hollow = h cos p / 8 + (1 - pi/4) h sin p / 2.
 * What the ridges take away from the upper layer (h cos p / 8, at most an eighth of a layer) is not
 * deducted: a bead does not flow over a ridge into the next hollow when steps are wider than itself,
 * and where it does the surplus presses the bond. Where the plane spans less height than one
 * layer there is at most one step, and both figures shrink with the span down to none when layers
 * and plane are parallel (the stack then ends exactly on the plane).
 *
 * The upper region's own layers meet an oblique base (normal and direction differ by q) with a
 * staircase of their own; its hollow is added with p = q and their thickness.
 *
 * Flow. Layer k, of section area A and thickness t, touches the area S of the base plane between its
 * bottom and top; it gets the flow factor 1 + hollow S / (A t), at most `mostFlow`. On a base square
 * to the direction that is the first layer alone with 1 + hollow / t.
 */
import { type Vec3, angle, pointAt } from '../base/vector.js';
import type { Mesh } from '../mesh/mesh.js';
import type { Region } from '../regions/region.js';
import { type LayerMap, flatMap, toLayer } from './layer-map.js';
import type { LayerStack } from './stack.js';

/** What lies under a region's base plane. Zeros on the table. */
export interface BaseRoughness {
  /** Mean depth of the hollows below the plane that wait to be filled, mm. */
  readonly hollow: number;
  /** Greatest height of ridges above the plane, mm. */
  readonly ridge: number;
}

export const flatRoughness: BaseRoughness = { hollow: 0, ridge: 0 };

/** Deepest point of the staircase below (and above) the plane, mm. */
export const stepDepth = (thickness: number, p: number): number => (thickness / 2) * Math.cos(p);

/** Mean depth of hollow below the plane, mm, rounding of the bead's edge included. */
export function hollowDepth(thickness: number, p: number): number {
  return (thickness * Math.cos(p)) / 8 + ((1 - Math.PI / 4) * thickness * Math.sin(p)) / 2;
}

/** Share of the staircase that is there when the plane spans this height along the layers' direction. */
const stepped = (span: number, thickness: number): number => Math.min(1, span / thickness);

/** A region below, and its greatest layer thickness between two heights along its own direction, mm. */
export interface RegionBelow {
  readonly region: Region;
  readonly thickness: (from: number, to: number) => number;
}

/**
 * @param below one for each region of `region.standsOn`
 * Mean over the regions below, weighted by the area of the cut that they share with this one.
 */
export function meanRoughness(region: Region, below: readonly RegionBelow[]): BaseRoughness {
  let area = 0;
  let hollow = 0;
  let ridge = 0;
  for (const { region: lower, thickness: thicknessIn } of below) {
    const shared = trianglesOf(lower, region.baseCut);
    if (shared.length === 0) continue;
    const p = angle(lower.direction, region.base.normal);
    const [low, high] = spanAlong(lower.mesh, shared, flatMap(lower.direction));
    const thickness = thicknessIn(low, high);
    const steps = stepped(high - low, thickness);
    // Past a right angle the plane faces down for the lower layers; the triangles are the same.
    const lean = Math.min(p, Math.PI - p);
    const weight = areaOf(lower.mesh, shared);
    area += weight;
    hollow += weight * steps * hollowDepth(thickness, lean);
    ridge = Math.max(ridge, steps * stepDepth(thickness, lean));
  }
  return area > 0 ? { hollow: hollow / area, ridge } : { hollow: 0, ridge };
}

/** Triangles that a cut made. */
function trianglesOf({ cut }: Region, number: number): number[] {
  const out: number[] = [];
  for (let t = 0; t < cut.length; t++) if (cut[t] === number) out.push(t);
  return out;
}

function twiceArea([a, b, c]: Vec3[]): Vec3 {
  const [ux, uy, uz] = [b![0] - a![0], b![1] - a![1], b![2] - a![2]];
  const [wx, wy, wz] = [c![0] - a![0], c![1] - a![1], c![2] - a![2]];
  return [uy * wz - uz * wy, uz * wx - ux * wz, ux * wy - uy * wx];
}

function areaOf(mesh: Mesh, triangles: readonly number[]): number {
  let sum = 0;
  for (const t of triangles) sum += Math.hypot(...twiceArea(cornersOf(mesh, t))) / 2;
  return sum;
}

const cornersOf = ({ vertices, triangles }: Mesh, t: number): Vec3[] =>
  [0, 1, 2].map((i) => pointAt(vertices, triangles[3 * t + i]!));

/** Least and greatest height of the triangles in layer space. */
function spanAlong(mesh: Mesh, triangles: readonly number[], map: LayerMap): [number, number] {
  let low = Infinity;
  let high = -Infinity;
  for (const t of triangles) {
    for (const c of cornersOf(mesh, t)) {
      const z = toLayer(map, c)[2];
      low = Math.min(low, z);
      high = Math.max(high, z);
    }
  }
  return [low, high];
}

/** The base of a region as its own layers meet it. */
export interface LayerBase {
  /** Highest point of the base, layer-space mm; -Infinity without a cut (the table). */
  readonly top: number;
  /** Height that the base plane spans along the build direction, mm. */
  readonly span: number;
  /** Area of the base below a height, mm2. */
  readonly areaBelow: (height: number) => number;
}

export function baseOf(region: Region, map: LayerMap): LayerBase {
  const shapes = trianglesOf(region, region.baseCut).map((t) => {
    const corners = cornersOf(region.mesh, t);
    const z = corners.map((c) => toLayer(map, c)[2]).sort((a, b) => a - b);
    return { z, area: Math.hypot(...twiceArea(corners)) / 2 };
  });
  const low = shapes.reduce((least, s) => Math.min(least, s.z[0]!), Infinity);
  const high = shapes.reduce((most, s) => Math.max(most, s.z[2]!), -Infinity);
  return {
    top: high,
    span: shapes.length ? high - low : 0,
    areaBelow: (height) => shapes.reduce((sum, s) => sum + s.area * shareBelow(s.z, height), 0),
  };
}

/** The box of a region's base in layer space, grown by `margin` mm; undefined on the table. */
export function baseRoom(
  region: Region,
  map: LayerMap,
  margin: number,
): { readonly least: Vec3; readonly most: Vec3 } | undefined {
  const corners = trianglesOf(region, region.baseCut)
    .flatMap((t) => cornersOf(region.mesh, t))
    .map((c) => toLayer(map, c));
  if (region.baseCut < 0 || corners.length === 0) return undefined;
  const along = (c: number, pick: (a: number, b: number) => number): number =>
    corners.reduce((best, p) => pick(best, p[c]!), corners[0]![c]!);
  return {
    least: [0, 1, 2].map((c) => along(c, Math.min) - margin) as unknown as Vec3,
    most: [0, 1, 2].map((c) => along(c, Math.max) + margin) as unknown as Vec3,
  };
}

/**
 * The flow factor of each layer; all 1 on the table.
 * @param areas of the layers' sections, mm2
 */
export function flowFactors(
  region: Region,
  map: LayerMap,
  { top, thickness }: LayerStack,
  areas: readonly number[],
  under: BaseRoughness,
  mostFlow: number,
): Float64Array {
  const out = new Float64Array(top.length).fill(1);
  if (region.baseCut < 0) return out;
  const base = baseOf(region, map);
  const q = angle(region.base.normal, region.direction);
  for (let k = 0; k < out.length; k++) {
    const t = thickness[k]!;
    const bottom = top[k]! - t;
    // A base square to the direction lies at the bottom of the stack but for rounding.
    if ((k > 0 && bottom >= base.top) || !(areas[k]! > 0)) continue;
    const touched = base.areaBelow(top[k]!) - (k > 0 ? base.areaBelow(bottom) : 0);
    const own = stepped(base.span, t) * hollowDepth(t, Math.min(q, Math.PI - q));
    out[k] = Math.min(mostFlow, 1 + ((under.hollow + own) * touched) / (areas[k]! * t));
  }
  return out;
}

/** Share of a triangle with corners at these rising heights that lies below a height. */
function shareBelow(z: readonly number[], height: number): number {
  const [low, middle, high] = z as [number, number, number];
  if (height >= high) return 1;
  if (height <= low) return 0;
  if (height < middle) return (height - low) ** 2 / ((middle - low) * (high - low));
  return 1 - (high - height) ** 2 / ((high - middle) * (high - low));
}
