/**
 * What keeps a mesh from being closed, edge by edge. An edge is open (one facet), flipped (two facets
 * that run along it in the same direction, so that one of them faces the wrong way) or crowded (more
 * than two facets).
 */
import { type Mesh, next, previous } from '../mesh.js';

export interface BadEdges {
  /** Half-edges without any partner. */
  readonly open: Uint32Array;
  /** One half-edge of each pair that runs the same way. */
  readonly flipped: Uint32Array;
  /** Groups of half-edges on one edge: `crowded[start[i] .. start[i + 1]]`, three or more each. */
  readonly crowded: Uint32Array;
  readonly crowdedStart: Uint32Array;
}

/** Time n log n in the half-edges without twin, which are few. */
export function badEdges({ triangles, twins }: Mesh): BadEdges {
  const loose: number[] = [];
  for (let h = 0; h < twins.length; h++) if (twins[h]! < 0) loose.push(h);
  const low = (h: number): number => Math.min(triangles[h]!, triangles[next(h)]!);
  const high = (h: number): number => Math.max(triangles[h]!, triangles[next(h)]!);
  loose.sort((g, h) => low(g) - low(h) || high(g) - high(h) || g - h);
  const open: number[] = [];
  const flipped: number[] = [];
  const crowded: number[] = [];
  const crowdedStart = [0];
  for (let i = 0; i < loose.length;) {
    let end = i + 1;
    while (
      end < loose.length &&
      low(loose[end]!) === low(loose[i]!) &&
      high(loose[end]!) === high(loose[i]!)
    ) {
      end++;
    }
    if (end === i + 1) open.push(loose[i]!);
    else if (end === i + 2) flipped.push(loose[i]!);
    else {
      for (let k = i; k < end; k++) crowded.push(loose[k]!);
      crowdedStart.push(crowded.length);
    }
    i = end;
  }
  return {
    open: Uint32Array.from(open),
    flipped: Uint32Array.from(flipped),
    crowded: Uint32Array.from(crowded),
    crowdedStart: Uint32Array.from(crowdedStart),
  };
}

export interface Loops {
  /** Half-edges of loop i, in boundary direction: `halfEdges[start[i] .. start[i + 1]]`. */
  readonly halfEdges: Uint32Array;
  readonly start: Uint32Array;
}

/** The rims of the holes: half-edges without twin, each followed by the next one around the hole. */
export function rims({ twins }: Mesh): Loops {
  const visited = new Uint8Array(twins.length);
  const halfEdges: number[] = [];
  const start = [0];
  for (let h = 0; h < twins.length; h++) {
    if (twins[h]! >= 0 || visited[h]) continue;
    for (let e = h; !visited[e]; e = following(e, twins)) {
      visited[e] = 1;
      halfEdges.push(e);
    }
    start.push(halfEdges.length);
  }
  return { halfEdges: Uint32Array.from(halfEdges), start: Uint32Array.from(start) };
}

/** The boundary half-edge that leaves the fan of facets in which h ends. */
function following(h: number, twins: Int32Array): number {
  let e = next(h);
  while (twins[e]! >= 0) e = next(twins[e]!);
  return e;
}

/**
 * Gives each fan of facets around a vertex a vertex of its own, so that surfaces that touch in a
 * point or an edge come apart there. Twins stay as they are.
 * @returns the mesh and how many vertices were added
 */
export function splitFans(mesh: Mesh): { mesh: Mesh; added: number } {
  const { twins } = mesh;
  const count = mesh.vertices.length / 3;
  const triangles = mesh.triangles.slice();
  const seenCorner = new Uint8Array(triangles.length);
  const seenVertex = new Uint8Array(count);
  const copies: number[] = [];
  for (let h = 0; h < triangles.length; h++) {
    if (seenCorner[h]) continue;
    const v = mesh.triangles[h]!;
    let id = v;
    if (seenVertex[v]) {
      id = count + copies.length;
      copies.push(v);
    }
    seenVertex[v] = 1;
    // Back to an open end of the fan if it has one, then forward over all its corners.
    let first = h;
    for (let e = h; twins[e]! >= 0;) {
      e = next(twins[e]!);
      if (e === h) break;
      first = e;
    }
    for (let e = first; !seenCorner[e];) {
      seenCorner[e] = 1;
      triangles[e] = id;
      const other = twins[previous(e)]!;
      if (other < 0) break;
      e = other;
    }
  }
  if (copies.length === 0) return { mesh, added: 0 };
  const vertices = new Float64Array(mesh.vertices.length + 3 * copies.length);
  vertices.set(mesh.vertices);
  copies.forEach((v, i) => vertices.set(mesh.vertices.subarray(3 * v, 3 * v + 3), 3 * (count + i)));
  return { mesh: { vertices, triangles, twins }, added: copies.length };
}
