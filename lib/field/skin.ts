/**
 * Samples of a part's skin: one at the middle of each facet, a hair inside, with its normal and its area. Large
 * facets are cut into strips along their longest edge and those across, each facet by itself: samples need no closed
 * mesh. Fields are asked at these what the skin needs. Cost: linear in the samples.
 *
 * Against halving edges until none is long: a sliver of length n then gives n^1.6 pieces, one by one, and n^2 where
 * facets share the new vertices. A trunk with five branches has 93,000 samples at 1 mm; it had 747,000.
 */
import type { Mesh } from '../base/mesh.js';
import { float64List } from '../base/ragged.js';
import { type Vec3, add, along, cross, dot, length, pointAt, sub, unit } from '../base/vector.js';
import { areaNormals } from '../mesh/measure.js';

/** How far samples lie under the skin, mm. */
export const UNDER_SKIN = 1e-3;
/** Facets below this area have no direction that can be trusted and are passed over, mm2. */
const NO_AREA = 1e-10;
/** A piece within a square has a diagonal: strips are this much narrower than the longest piece. */
const STRIP_SHARE = Math.SQRT1_2;

export interface Skin {
  /** Packed xyz of each sample, part mm. */
  readonly points: Float64Array;
  /** Packed outward unit normals. */
  readonly normals: Float64Array;
  /** mm2 */
  readonly areas: Float64Array;
  /** How far from each sample the farthest corner of its piece lies, mm. */
  readonly reach: Float64Array;
}

/** Height of the lowest sample: the table's face, mm. */
export function floorOf({ points }: Skin): number {
  let least = Infinity;
  for (let i = 2; i < points.length; i += 3) least = Math.min(least, points[i]!);
  return least;
}

/** The number of the cube of a grid that each sample lies in; no grid of a part has more than 2^50. */
export function cellsOf({ points }: Skin, size: number): Float64Array {
  const least = [Infinity, Infinity, Infinity];
  const most = [-Infinity, -Infinity, -Infinity];
  points.forEach((x, i) => {
    least[i % 3] = Math.min(least[i % 3]!, x);
    most[i % 3] = Math.max(most[i % 3]!, x);
  });
  const [ny, nz] = [1, 2].map((c) => Math.floor((most[c]! - least[c]!) / size) + 1) as [
    number,
    number,
  ];
  const along = (s: number, c: number): number =>
    Math.floor((points[3 * s + c]! - least[c]!) / size);
  return Float64Array.from(
    { length: points.length / 3 },
    (_, s) => (along(s, 0) * ny + along(s, 1)) * nz + along(s, 2),
  );
}

/**
 * @param longest mm; no two points of the piece that a sample stands for are farther apart
 * @param corner is called for each corner of each piece, as far under the skin as the samples
 */
export function skinSamples(mesh: Mesh, longest: number, corner?: (p: Vec3) => void): Skin {
  const { vertices: v, triangles: t } = mesh;
  const scaled = areaNormals(mesh);
  const points = float64List();
  const normals = float64List();
  const areas = float64List();
  const reach = float64List();
  for (let i = 0; i < t.length; i += 3) {
    const [x, y, z] = [scaled[i]!, scaled[i + 1]!, scaled[i + 2]!];
    const area = Math.sqrt(x * x + y * y + z * z);
    if (area < NO_AREA) continue;
    const n: Vec3 = [x / area, y / area, z / area];
    const facet = [0, 1, 2].map((k): Vec3 => {
      const p = pointAt(v, t[i + k]!);
      return [p[0] - UNDER_SKIN * n[0], p[1] - UNDER_SKIN * n[1], p[2] - UNDER_SKIN * n[2]];
    });
    for (const piece of piecesOf(facet, n, longest)) {
      const { middle, area: own } = middleOf(piece, n);
      if (own < NO_AREA) continue;
      points.push3(...middle);
      normals.push3(...n);
      areas.push(own);
      reach.push(Math.max(...piece.map((p) => length(sub(p, middle)))));
      if (corner) piece.forEach(corner);
    }
  }
  return {
    points: points.take(),
    normals: normals.take(),
    areas: areas.take(),
    reach: reach.take(),
  };
}

/** A facet cut square to its longest edge, and the strips across, so that no piece is longer than a bound. */
function piecesOf(facet: readonly Vec3[], n: Vec3, longest: number): (readonly Vec3[])[] {
  const edges = facet.map((p, k) => sub(facet[(k + 1) % 3]!, p));
  const edge = edges.reduce((most, other) => (length(other) > length(most) ? other : most));
  if (length(edge) <= longest) return [facet];
  const u = unit(edge);
  const step = STRIP_SHARE * longest;
  return strips(facet, u, step).flatMap((strip) => strips(strip, cross(n, u), step));
}

/** A convex loop cut by planes square to a direction into strips of one width. */
function strips(loop: readonly Vec3[], d: Vec3, widest: number): (readonly Vec3[])[] {
  const places = loop.map((p) => dot(p, d));
  const [from, to] = [Math.min(...places), Math.max(...places)];
  const count = Math.ceil((to - from) / widest);
  const out: (readonly Vec3[])[] = [];
  let rest = loop;
  for (let k = 1; k < count; k++) {
    const [below, above] = divided(rest, d, from + ((to - from) * k) / count);
    out.push(below);
    rest = above;
  }
  out.push(rest);
  return out;
}

/** The two sides of a plane square to d (Sutherland and Hodgman, CACM 17(1), 1974). */
function divided(loop: readonly Vec3[], d: Vec3, at: number): [Vec3[], Vec3[]] {
  const [below, above]: [Vec3[], Vec3[]] = [[], []];
  loop.forEach((p, k) => {
    const q = loop[(k + 1) % loop.length]!;
    const [here, there] = [dot(p, d) - at, dot(q, d) - at];
    if (here <= 0) below.push(p);
    if (here >= 0) above.push(p);
    if (here * there >= 0) return;
    const cut = along(p, sub(q, p), here / (here - there));
    below.push(cut);
    above.push(cut);
  });
  return [below, above];
}

/** Middle of gravity and area of a convex loop, by its fan of triangles. */
function middleOf(loop: readonly Vec3[], n: Vec3): { middle: Vec3; area: number } {
  const origin = loop[0]!;
  let middle = origin;
  let area = 0;
  for (let k = 2; k < loop.length; k++) {
    const [p, q] = [sub(loop[k - 1]!, origin), sub(loop[k]!, origin)];
    const own = dot(cross(p, q), n) / 2;
    area += own;
    middle = along(middle, add(p, q), own / 3);
  }
  return { middle: area > 0 ? along(origin, sub(middle, origin), 1 / area) : origin, area };
}
