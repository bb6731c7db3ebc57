/**
 * From vertices and triangles to the mesh record with twin half-edges, in time that grows with the
 * number of triangles: half-edges are counted into buckets by their lower vertex, and matched
 * inside a bucket (a vertex has few edges).
 */
import { type Frame, applyPoints } from '../base/frame.js';
import { type Mesh, next } from './mesh.js';

/**
 * @param vertices packed xyz, mm
 * @param triangles three vertex indices each
 * An edge that is not shared by exactly two opposite half-edges keeps twin -1 on all its half-edges.
 */
export function meshFrom(vertices: Float64Array, triangles: Uint32Array): Mesh {
  const edges = triangles.length;
  const count = new Uint32Array(vertices.length / 3 + 1);
  for (let h = 0; h < edges; h++) count[lower(triangles, h) + 1]!++;
  for (let v = 1; v < count.length; v++) count[v]! += count[v - 1]!;
  const bucket = new Uint32Array(edges);
  const fill = count.slice();
  for (let h = 0; h < edges; h++) bucket[fill[lower(triangles, h)]!++] = h;
  const twins = new Int32Array(edges).fill(-1);
  for (let v = 0; v + 1 < count.length; v++)
    matchBucket(triangles, bucket, count[v]!, count[v + 1]!, twins);
  return { vertices, triangles, twins };
}

const lower = (tri: Uint32Array, h: number): number => Math.min(tri[h]!, tri[next(h)]!);
const upper = (tri: Uint32Array, h: number): number => Math.max(tri[h]!, tri[next(h)]!);

/** Twins inside one bucket: exactly one half-edge each way for the same vertex pair. */
function matchBucket(
  tri: Uint32Array,
  bucket: Uint32Array,
  from: number,
  to: number,
  twins: Int32Array,
): void {
  for (let i = from; i < to; i++) {
    const h = bucket[i]!;
    const other = upper(tri, h);
    let same = 0;
    let opposite = -1;
    let opposites = 0;
    for (let j = from; j < to; j++) {
      const g = bucket[j]!;
      if (upper(tri, g) !== other) continue;
      if (tri[g] === tri[h]) same++;
      else {
        opposite = g;
        opposites++;
      }
    }
    if (same === 1 && opposites === 1) twins[h] = opposite;
  }
}

/** The mesh moved by a rigid frame; connectivity is shared with the input. */
export function moved(mesh: Mesh, frame: Frame): Mesh {
  return { ...mesh, vertices: applyPoints(frame, mesh.vertices) };
}

/** The mesh scaled evenly about the origin by a positive factor. */
export function scaled(mesh: Mesh, factor: number): Mesh {
  if (!(factor > 0)) throw new Error(`scale must be positive, got ${factor}`);
  return { ...mesh, vertices: mesh.vertices.map((x) => x * factor) };
}
