/**
 * From vertices and triangles to the mesh record with twin half-edges, in time that grows with the
 * number of triangles whatever the valence: half-edges are sorted by their vertex pair with two
 * counting passes, and equal pairs then stand side by side.
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
  const low = new Uint32Array(edges);
  const high = new Uint32Array(edges);
  for (let h = 0; h < edges; h++) {
    const a = triangles[h]!;
    const b = triangles[next(h)]!;
    low[h] = a < b ? a : b;
    high[h] = a < b ? b : a;
  }
  const count = vertices.length / 3;
  const unsorted = Uint32Array.from({ length: edges }, (_, h) => h);
  const sorted = sortBy(low, count, sortBy(high, count, unsorted));
  const twins = new Int32Array(edges).fill(-1);
  for (let i = 0; i < edges;) {
    const g = sorted[i]!;
    let end = i + 1;
    while (end < edges && low[sorted[end]!] === low[g] && high[sorted[end]!] === high[g]) end++;
    const h = sorted[i + 1]!;
    if (end === i + 2 && triangles[g] !== triangles[h]) {
      twins[g] = h;
      twins[h] = g;
    }
    i = end;
  }
  return { vertices, triangles, twins };
}

/** Stable counting sort of half-edges by a vertex key. */
function sortBy(key: Uint32Array, count: number, halfEdges: Uint32Array): Uint32Array {
  const place = new Uint32Array(count + 1);
  for (const h of halfEdges) place[key[h]! + 1]!++;
  for (let v = 0; v < count; v++) place[v + 1]! += place[v]!;
  const out = new Uint32Array(halfEdges.length);
  for (const h of halfEdges) out[place[key[h]!]!++] = h;
  return out;
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
