/**
 * Lowest places along a direction that begin in the air: plateaus of equal height all of whose
 * neighbours are higher, with material above them, that touch no carried facet. The lowest place of
 * a hollow has material below it and is none.
 */
import type { Vec3 } from '../base/vector.js';
import type { Carried, Prepared } from './overhang.js';

export interface Islands {
  /** One vertex of each such place. */
  readonly islands: readonly number[];
  /** Flag a triangle: 1 where it is at such a place and faces down. */
  readonly around: Uint8Array;
}

/** Vertices this much apart in height, relative to the extent, are level. */
const LEVEL = 1e-9;

export function startsInAir(p: Prepared, d: Vec3, carried: Carried): Islands {
  const { vertices, triangles } = p.mesh;
  const height = heights(vertices, d);
  const level = LEVEL * extent(height);
  const root = plateaus(triangles, height, level);
  const low = new Uint8Array(height.length).fill(1);
  const facing = new Float64Array(height.length);
  for (let t = 0; t < p.areas.length; t++) {
    const up =
      p.normals[3 * t]! * d[0] + p.normals[3 * t + 1]! * d[1] + p.normals[3 * t + 2]! * d[2];
    for (let c = 0; c < 3; c++) {
      const v = triangles[3 * t + c]!;
      const r = root[v]!;
      facing[r]! += up;
      if (carried[t]) low[r] = 0;
      for (let e = 1; e < 3; e++) {
        if (height[triangles[3 * t + ((c + e) % 3)]!]! < height[v]! - level) low[r] = 0;
      }
    }
  }
  const used = new Uint8Array(height.length);
  for (const v of triangles) used[v] = 1;
  const islands: number[] = [];
  for (let v = 0; v < root.length; v++) {
    if (root[v] === v && used[v] && low[v] && facing[v]! < 0) islands.push(v);
  }
  return { islands, around: downFacets(p, d, root, islands) };
}

function heights(vertices: Float64Array, d: Vec3): Float64Array {
  const out = new Float64Array(vertices.length / 3);
  for (let v = 0; v < out.length; v++) {
    out[v] = vertices[3 * v]! * d[0] + vertices[3 * v + 1]! * d[1] + vertices[3 * v + 2]! * d[2];
  }
  return out;
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

/** For each vertex the least vertex index of its plateau. */
function plateaus(triangles: Uint32Array, height: Float64Array, level: number): Int32Array {
  const root = Int32Array.from(height, (_, v) => v);
  const find = (v: number): number => {
    while (root[v] !== v) v = root[v] = root[root[v]!]!;
    return v;
  };
  for (let h = 0; h < triangles.length; h++) {
    const a = triangles[h]!;
    const b = triangles[h % 3 === 2 ? h - 2 : h + 1]!;
    if (Math.abs(height[a]! - height[b]!) > level) continue;
    const [ra, rb] = [find(a), find(b)];
    if (ra < rb) root[rb] = ra;
    else root[ra] = rb;
  }
  for (let v = 0; v < root.length; v++) root[v] = find(v);
  return root;
}

function downFacets(
  p: Prepared,
  d: Vec3,
  root: Int32Array,
  islands: readonly number[],
): Uint8Array {
  const around = new Uint8Array(p.areas.length);
  if (islands.length === 0) return around;
  const chosen = new Set(islands);
  for (let t = 0; t < around.length; t++) {
    const up =
      p.normals[3 * t]! * d[0] + p.normals[3 * t + 1]! * d[1] + p.normals[3 * t + 2]! * d[2];
    if (up >= 0) continue;
    for (let c = 0; c < 3; c++) if (chosen.has(root[p.mesh.triangles[3 * t + c]!]!)) around[t] = 1;
  }
  return around;
}
