/**
 * The section of a closed mesh by a plane: which vertices are above, and the loops along which the skin
 * is crossed. `pieces-above.ts` finds the pieces above it, `cut.ts` makes two closed meshes of it.
 *
 * A vertex is above iff its height is at least 0, so no case is degenerate: every facet is above,
 * below, or crossed through exactly two of its edges, and the crossings link up to closed loops by
 * walking from facet to facet. What lies in the plane within SNAP is taken as exactly in it: a level
 * cluster of vertices goes to the side whose material its level facets bound, and crossings at its
 * vertices fall on them, so that a plane laid through a face of the part leaves no skin of zero
 * thickness behind.
 */
import { type Mesh, type Plane, next } from '../../base/mesh.js';
import { type Vec3, dot } from '../../base/vector.js';

/** A closed mesh with the cut that made each triangle; less than 0 for skin of the part. */
export interface TaggedMesh {
  readonly mesh: Mesh;
  readonly cut: Int32Array;
}

/** Vertices this near to a plane, relative to the extent along its normal, lie in it. */
export const SNAP = 2e-8;

export interface MeshSection {
  readonly normal: Vec3;
  /** Height of each vertex over the plane, mm; exactly 0 for those that lie in it. */
  readonly height: Float64Array;
  /** 1 for a vertex above. */
  readonly above: Uint8Array;
  /**
   * The crossed triangles, loop after loop, each loop counter-clockwise round the material seen
   * against the normal. Point i of the loops is where triangle i is entered.
   */
  readonly crossed: Uint32Array;
  readonly start: Uint32Array;
  /** Packed xyz of the points. */
  readonly points: Float64Array;
  /** The vertex on which a point falls, or -1. */
  readonly at: Int32Array;
}

/** Heights of the vertices over the plane, and their range. */
export function heightsOver(mesh: Mesh, { point, normal }: Plane): Float64Array {
  const v = mesh.vertices;
  const [nx, ny, nz] = normal;
  const offset = dot(point, normal);
  const out = new Float64Array(v.length / 3);
  for (let i = 0, j = 0; i < out.length; i++, j += 3) {
    out[i] = nx * v[j]! + ny * v[j + 1]! + nz * v[j + 2]! - offset;
  }
  return out;
}

/** @returns undefined where the plane passes the mesh by */
export function sectionOf(mesh: Mesh, plane: Plane): MeshSection | undefined {
  const height = heightsOver(mesh, plane);
  const above = new Uint8Array(height.length);
  let least = Infinity;
  let most = -Infinity;
  for (let v = 0; v < height.length; v++) {
    const h = height[v]!;
    if (h < least) least = h;
    if (h > most) most = h;
    if (h >= 0) above[v] = 1;
  }
  const snap = SNAP * (most - least);
  if (!(least < -snap && most >= 0)) return undefined;
  let level = 0;
  for (let v = 0; v < height.length; v++) {
    if (height[v]! > snap || height[v]! < -snap) continue;
    height[v] = 0;
    level++;
  }
  if (level > 0) dealLevel(mesh, plane.normal, height, above);
  return trace(mesh, plane.normal, height, above);
}

/**
 * Each cluster of vertices in the plane goes up if its facets in the plane face down, so bound
 * material above it, and down otherwise.
 */
function dealLevel(mesh: Mesh, normal: Vec3, height: Float64Array, above: Uint8Array): void {
  const { triangles } = mesh;
  const root = new Map<number, number>();
  const find = (v: number): number => {
    let r = v;
    while (root.get(r)! !== r) r = root.get(r)!;
    while (root.get(v)! !== r) {
      const up = root.get(v)!;
      root.set(v, r);
      v = up;
    }
    return r;
  };
  for (let v = 0; v < height.length; v++) if (height[v] === 0) root.set(v, v);
  const facing = new Map<number, number>();
  for (let h = 0; h < triangles.length; h++) {
    const a = triangles[h]!;
    const b = triangles[next(h)]!;
    if (height[a] !== 0 || height[b] !== 0) continue;
    const [ra, rb] = [find(a), find(b)];
    if (ra !== rb) root.set(Math.max(ra, rb), Math.min(ra, rb));
  }
  for (let h = 0; h < triangles.length; h += 3) {
    const [a, b, c] = [triangles[h]!, triangles[h + 1]!, triangles[h + 2]!];
    if (height[a] !== 0 || height[b] !== 0 || height[c] !== 0) continue;
    const r = find(a);
    facing.set(r, (facing.get(r) ?? 0) + areaAlong(mesh, h, normal));
  }
  for (const v of root.keys()) above[v] = (facing.get(find(v)) ?? 0) < 0 ? 1 : 0;
}

/** Twice the area of a triangle seen along n. */
function areaAlong({ vertices: v, triangles: t }: Mesh, h: number, n: Vec3): number {
  const a = 3 * t[h]!;
  const b = 3 * t[h + 1]!;
  const c = 3 * t[h + 2]!;
  const ux = v[b]! - v[a]!;
  const uy = v[b + 1]! - v[a + 1]!;
  const uz = v[b + 2]! - v[a + 2]!;
  const wx = v[c]! - v[a]!;
  const wy = v[c + 1]! - v[a + 1]!;
  const wz = v[c + 2]! - v[a + 2]!;
  return (uy * wz - uz * wy) * n[0] + (uz * wx - ux * wz) * n[1] + (ux * wy - uy * wx) * n[2];
}

/** Walks the loops. In each crossed triangle one half-edge goes down and one goes up. */
function trace(
  mesh: Mesh,
  normal: Vec3,
  height: Float64Array,
  above: Uint8Array,
): MeshSection | undefined {
  const { triangles, twins } = mesh;
  const facets = triangles.length / 3;
  let count = 0;
  const state = new Uint8Array(facets);
  for (let t = 0, h = 0; t < facets; t++, h += 3) {
    const k = above[triangles[h]!]! + above[triangles[h + 1]!]! + above[triangles[h + 2]!]!;
    if (k === 0 || k === 3) continue;
    state[t] = 1;
    count++;
  }
  if (count === 0) return undefined;
  const crossed = new Uint32Array(count);
  const points = new Float64Array(3 * count);
  const at = new Int32Array(count);
  const start = [0];
  let n = 0;
  for (let t = 0; t < facets; t++) {
    if (state[t] !== 1) continue;
    for (let u = t; state[u] === 1;) {
      state[u] = 2;
      crossed[n] = u;
      at[n] = crossing(mesh, height, downEdge(triangles, above, u), points, n);
      n++;
      const g = twins[upEdge(triangles, above, u)]!;
      if (g < 0) throw new Error('a mesh with open edges has no section');
      u = Math.floor(g / 3);
    }
    start.push(n);
  }
  return { normal, height, above, crossed, start: Uint32Array.from(start), points, at };
}

/** The half-edge of a crossed triangle that goes from above to below. */
export function downEdge(triangles: Uint32Array, above: Uint8Array, t: number): number {
  const h = 3 * t;
  const a = above[triangles[h]!]!;
  const b = above[triangles[h + 1]!]!;
  const c = above[triangles[h + 2]!]!;
  return a > b ? h : b > c ? h + 1 : h + 2;
}

/** The half-edge of a crossed triangle that goes from below to above. */
export function upEdge(triangles: Uint32Array, above: Uint8Array, t: number): number {
  const h = 3 * t;
  const a = above[triangles[h]!]!;
  const b = above[triangles[h + 1]!]!;
  const c = above[triangles[h + 2]!]!;
  return a < b ? h : b < c ? h + 1 : h + 2;
}

/** Writes the point where a half-edge that goes down crosses; returns the vertex it falls on, or -1. */
function crossing(
  { vertices, triangles }: Mesh,
  height: Float64Array,
  h: number,
  points: Float64Array,
  n: number,
): number {
  const up = triangles[h]!;
  const down = triangles[next(h)]!;
  const hu = height[up]!;
  const hd = height[down]!;
  const vertex = hu === 0 ? up : hd === 0 ? down : -1;
  const share = vertex < 0 ? hu / (hu - hd) : vertex === up ? 0 : 1;
  for (let c = 0; c < 3; c++) {
    const p = vertices[3 * up + c]!;
    const q = vertices[3 * down + c]!;
    points[3 * n + c] = share === 1 ? q : p + share * (q - p);
  }
  return vertex;
}
