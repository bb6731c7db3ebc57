/**
 * Lowest places along a direction that begin in the air: vertices, or plateaus of equal height, all of
 * whose neighbours are higher, with material above them, that touch no carried facet. The lowest place
 * of a hollow has material below it and does not count.
 *
 * On which side the material lies is found from the area normals around the place: their sum is that of
 * the rim of the neighbours, so it points down where the material stands on the place.
 */
import type { Vec3 } from '../base/vector.js';
import type { CarriedFacets, PreparedMesh } from './facets.js';

export interface Islands {
  /** One vertex of each such place. */
  readonly islands: readonly number[];
  /** A flag per triangle: 1 where it is at such a place and faces down. */
  readonly around: Uint8Array;
  /** mm2 of each triangle that faces down and lies, in part at least, within `START` of such a place. */
  readonly within: ReadonlyMap<number, number>;
}

/**
 * What of the skin around a lowest place hangs: up to this height over it, mm, a bead's width. What is
 * higher is carried by the beads below. Whole triangles would not do: the same cube on its corner would
 * hang by 2250 mm2 in 12 triangles and by next to nothing in 12,000.
 */
export const START = 0.4;

/** Vertices this much apart in height, relative to the extent, are level. */
const LEVEL_SHARE = 1e-9;

/** Heights of packed points along d, mm. */
export function heightsAlong(vertices: Float64Array, d: Vec3): Float64Array {
  const [x, y, z] = d;
  const out = new Float64Array(vertices.length / 3);
  for (let v = 0, i = 0; v < out.length; v++, i += 3) {
    out[v] = vertices[i]! * x + vertices[i + 1]! * y + vertices[i + 2]! * z;
  }
  return out;
}

/** @param d unit build direction */
export function startsInAir(p: PreparedMesh, d: Vec3, carried: CarriedFacets): Islands {
  const places = lowestPlaces(p, d, carried);
  const around = new Uint8Array(p.areas.length);
  const islands = places.map((place) => place[0]!);
  const within = new Map<number, number>();
  if (islands.length === 0) return { islands, around, within };
  const member = new Uint8Array(p.start.length - 1);
  for (const place of places) for (const v of place) member[v] = 1;
  const { triangles } = p.mesh;
  const { normals: n } = p;
  for (let t = 0, h = 0; t < around.length; t++, h += 3) {
    if (!member[triangles[h]!] && !member[triangles[h + 1]!] && !member[triangles[h + 2]!])
      continue;
    if (n[h]! * d[0] + n[h + 1]! * d[1] + n[h + 2]! * d[2] < 0) around[t] = 1;
  }
  const work = { p, d, carried, height: heightsAlong(p.mesh.vertices, d), within };
  const facetOf = facetsAt(p, member);
  for (const place of places) addWithin(work, place, facetOf);
  return { islands, around, within };
}

/** A triangle at each flagged vertex. */
function facetsAt({ mesh: { triangles } }: PreparedMesh, member: Uint8Array): Map<number, number> {
  const out = new Map<number, number>();
  for (let h = 0; h < triangles.length; h++) {
    if (member[triangles[h]!]) out.set(triangles[h]!, (h - (h % 3)) / 3);
  }
  return out;
}

interface NearPlace {
  readonly p: PreparedMesh;
  readonly d: Vec3;
  readonly carried: CarriedFacets;
  readonly height: Float64Array;
  readonly within: Map<number, number>;
}

/** Goes over the skin from a place as far as it stays within `START` of it, clipping triangles exactly. */
function addWithin(
  { p, d, carried, height, within }: NearPlace,
  place: readonly number[],
  facetOf: ReadonlyMap<number, number>,
): void {
  const { triangles, twins } = p.mesh;
  const { normals: n, areas } = p;
  const limit = height[place[0]!]! + START;
  const seen = new Set<number>();
  const stack: number[] = [];
  const reach = (t: number): void => {
    if (carried[t] || seen.has(t)) return;
    seen.add(t);
    stack.push(t);
  };
  for (const v of place) reach(facetOf.get(v)!);
  for (let t = stack.pop(); t !== undefined; t = stack.pop()) {
    const h = 3 * t;
    if (n[h]! * d[0] + n[h + 1]! * d[1] + n[h + 2]! * d[2] < 0) {
      const area = areas[t]! * shareBelow(height, triangles, h, limit);
      // Two places near one another clip a triangle at two heights: the higher one holds the lower.
      if (area > (within.get(t) ?? 0)) within.set(t, area);
    }
    for (let i = h; i < h + 3; i++) {
      const next = i % 3 === 2 ? i - 2 : i + 1;
      const low = Math.min(height[triangles[i]!]!, height[triangles[next]!]!);
      const twin = twins[i]!;
      if (low < limit && twin >= 0) reach((twin - (twin % 3)) / 3);
    }
  }
}

/** Share of a triangle that lies below a height. */
function shareBelow(
  height: Float64Array,
  triangles: Uint32Array,
  h: number,
  limit: number,
): number {
  const [low, middle, high] = [0, 1, 2]
    .map((k) => height[triangles[h + k]!]!)
    .sort((a, b) => a - b) as [number, number, number];
  if (high <= limit) return 1;
  if (low >= limit) return 0;
  if (middle >= limit) return (limit - low) ** 2 / ((middle - low) * (high - low));
  return 1 - (high - limit) ** 2 / ((high - middle) * (high - low));
}

/**
 * The vertices of each place that begins in the air.
 * @param carried facets whose corners do not; left out: none
 */
export function lowestPlaces(p: PreparedMesh, d: Vec3, carried?: CarriedFacets): number[][] {
  const height = heightsAlong(p.mesh.vertices, d);
  const level = LEVEL_SHARE * extent(height);
  const { start, neighbours } = p;
  const held = carried && cornersOf(p, carried);
  const out: number[][] = [];
  let seen: Uint8Array | undefined;
  for (let v = 0; v < height.length; v++) {
    const h = height[v]!;
    let lowest = true;
    let flat = false;
    for (let i = start[v]!; i < start[v + 1]!; i++) {
      const rise = height[neighbours[i]!]! - h;
      if (rise > level) continue;
      if (rise < -level) {
        lowest = false;
        break;
      }
      flat = true;
    }
    if (!lowest || start[v] === start[v + 1]) continue;
    if (!flat) {
      if (!held?.[v] && facing(p, v, d) < 0) out.push([v]);
      continue;
    }
    seen ??= new Uint8Array(height.length);
    if (seen[v]) continue;
    const place = plateau(p, v, height, level, seen, held);
    if (place && place.reduce((sum, w) => sum + facing(p, w, d), 0) < 0) out.push(place);
  }
  return out;
}

const facing = ({ vertexNormals: n }: PreparedMesh, v: number, d: Vec3): number =>
  n[3 * v]! * d[0] + n[3 * v + 1]! * d[1] + n[3 * v + 2]! * d[2];

function cornersOf(p: PreparedMesh, carried: CarriedFacets): Uint8Array {
  const out = new Uint8Array(p.start.length - 1);
  for (let t = 0; t < carried.length; t++) {
    if (carried[t]) for (let h = 3 * t; h < 3 * t + 3; h++) out[p.mesh.triangles[h]!] = 1;
  }
  return out;
}

/** The level vertices connected with v; undefined if one has a lower neighbour or is held. */
function plateau(
  { start, neighbours }: PreparedMesh,
  from: number,
  height: Float64Array,
  level: number,
  seen: Uint8Array,
  held: Uint8Array | undefined,
): number[] | undefined {
  const place = [from];
  seen[from] = 1;
  let lowest = true;
  for (let k = 0; k < place.length; k++) {
    const v = place[k]!;
    if (held?.[v]) lowest = false;
    for (let i = start[v]!; i < start[v + 1]!; i++) {
      const w = neighbours[i]!;
      const rise = height[w]! - height[v]!;
      if (rise < -level) lowest = false;
      if (rise > level || rise < -level || seen[w]) continue;
      seen[w] = 1;
      place.push(w);
    }
  }
  return lowest ? place : undefined;
}

function extent(height: Float64Array): number {
  let least = Infinity;
  let most = -Infinity;
  for (const h of height) {
    if (h < least) least = h;
    if (h > most) most = h;
  }
  return Math.max(most - least, 1);
}
