/**
 * A closed mesh in layer space and rising heights go in; the loops in which each plane z = height
 * meets the mesh come out, outer loops counter-clockwise and holes clockwise (material on the left).
 *
 * One pass over all planes: a vertex is up iff its z >= the plane, kept as the number of planes at
 * or below it, so every question "does this edge cross plane k" is one of integers and no plane is a
 * special case; a plane through a vertex, an edge or a face gives the section just below it.
 * Triangles are bucketed by the first plane that they cross. Loops are walked from triangle to
 * triangle over twins, so nothing is matched by coordinates. Each crossing of a triangle gives one
 * point, which makes the work linear in triangles plus points of the result.
 *
 * Points: one for each edge that is crossed. A point equal to the one before it (a plane through a
 * vertex) is dropped, and a loop left with fewer than three points has no area and is dropped too.
 * Nothing else is: straight points stay, so areas are those of the mesh to rounding. (Taking
 * straight points out during the walk was tried and left out: curved parts have none, and who
 * offsets the loops simplifies them by far more anyway.)
 *
 * Ways not taken: a general kernel's slice a plane at a time, 12 to 17 times slower; matching of
 * loose segments by their end points, which needs a tolerance.
 */
import { Fault } from '../base/fault.js';
import type { Polygons } from '../base/polygons.js';
import { uint32List } from '../base/ragged.js';
import type { Mesh } from '../mesh/mesh.js';
import { closedTwins } from './twins.js';

/** Layer k's loops are `layerStart[k] .. layerStart[k + 1]` of `section`. */
export interface Sections {
  readonly section: Polygons;
  readonly layerStart: Uint32Array;
}

/**
 * @param mesh in layer space, mm; closed: edges that four or more triangles share are paired here
 * @param heights mm, strictly rising
 * @throws Fault `layers/open-mesh` if an edge has no partner
 */
export function sections(mesh: Mesh, heights: Float64Array): Sections {
  checkRising(heights);
  const twins = closedTwins(mesh);
  const rank = ranks(mesh.vertices, heights);
  return walkAll(mesh, twins, rank, heights, bucketed(mesh.triangles, rank, heights.length));
}

function checkRising(heights: Float64Array): void {
  for (let k = 0; k < heights.length; k++) {
    if (!Number.isFinite(heights[k]!) || (k > 0 && heights[k]! <= heights[k - 1]!)) {
      throw new Error(`heights must rise: number ${k} is ${heights[k]} after ${heights[k - 1]}`);
    }
  }
}

/** For each vertex the number of planes at or below it: it is up for plane k iff k < rank. */
function ranks(vertices: Float64Array, heights: Float64Array): Uint32Array {
  const out = new Uint32Array(vertices.length / 3);
  for (let v = 0; v < out.length; v++) {
    const z = vertices[3 * v + 2]!;
    if (!Number.isFinite(z)) throw new Fault('layers/not-finite', `vertex ${v} has height ${z}`);
    let low = 0;
    let high = heights.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (heights[middle]! <= z) low = middle + 1;
      else high = middle;
    }
    out[v] = low;
  }
  return out;
}

interface Buckets {
  /** Triangles that cross a plane, sorted by the first plane that they cross. */
  readonly order: Uint32Array;
  /** Triangles that begin at plane k are `begin[k] .. begin[k + 1]` of `order`. */
  readonly begin: Uint32Array;
  /** For each triangle the number of the plane after the last that it crosses. */
  readonly end: Uint32Array;
  /** Crossings in all, which is the number of points before equal ones are dropped. */
  readonly crossings: number;
}

function bucketed(triangles: Uint32Array, rank: Uint32Array, planes: number): Buckets {
  const count = triangles.length / 3;
  const first = new Uint32Array(count);
  const end = new Uint32Array(count);
  const begin = new Uint32Array(planes + 1);
  let crossings = 0;
  for (let t = 0, h = 0; t < count; t++, h += 3) {
    const a = rank[triangles[h]!]!;
    const b = rank[triangles[h + 1]!]!;
    const c = rank[triangles[h + 2]!]!;
    const low = a < b ? (a < c ? a : c) : b < c ? b : c;
    const high = a > b ? (a > c ? a : c) : b > c ? b : c;
    first[t] = low;
    end[t] = high;
    if (low === high) continue;
    begin[low + 1]!++;
    crossings += high - low;
  }
  for (let k = 0; k < planes; k++) begin[k + 1]! += begin[k]!;
  const order = new Uint32Array(begin[planes]!);
  const place = begin.slice();
  for (let t = 0; t < count; t++) if (first[t]! < end[t]!) order[place[first[t]!]!++] = t;
  return { order, begin, end, crossings };
}

function walkAll(
  mesh: Mesh,
  twins: Int32Array,
  rank: Uint32Array,
  heights: Float64Array,
  { order, begin, end, crossings }: Buckets,
): Sections {
  const { vertices, triangles } = mesh;
  const points = new Float64Array(2 * crossings);
  const start = uint32List();
  start.push(0);
  const layerStart = new Uint32Array(heights.length + 1);
  const walked = new Uint32Array(triangles.length / 3);
  const active = new Uint32Array(order.length);
  let actives = 0;
  let at = 0;

  /** Writes the loop through triangle t0 at plane k; afterwards `at` is the end of its points. */
  const walk = (t0: number, k: number): void => {
    const z = heights[k]!;
    const loop = at;
    const first = leaving(triangles, rank, t0, k);
    let h = first;
    do {
      const t = (h / 3) | 0;
      walked[t] = k + 1;
      const n = h - 3 * t === 2 ? 3 * t : h + 1;
      const a = 3 * triangles[h]!;
      const b = 3 * triangles[n]!;
      const zb = vertices[b + 2]!;
      let x = vertices[b]!;
      let y = vertices[b + 1]!;
      if (zb !== z) {
        const za = vertices[a + 2]!;
        const share = (z - za) / (zb - za);
        x = vertices[a]! + share * (x - vertices[a]!);
        y = vertices[a + 1]! + share * (y - vertices[a + 1]!);
      }
      if (at === loop || points[at - 2] !== x || points[at - 1] !== y) {
        points[at++] = x;
        points[at++] = y;
      }
      // Across the edge: it comes down there, so the loop leaves by the edge of the two others that
      // goes up, which the third vertex decides.
      const g = twins[h]!;
      const u = 3 * ((g / 3) | 0);
      const g1 = g - u === 2 ? u : g + 1;
      const g2 = g1 - u === 2 ? u : g1 + 1;
      h = rank[triangles[g2]!]! > k ? g1 : g2;
    } while (h !== first);
    while (at - loop > 2 && points[at - 2] === points[loop] && points[at - 1] === points[loop + 1])
      at -= 2;
    if (at - loop < 6) at = loop;
    else start.push(at / 2);
  };

  for (let k = 0; k < heights.length; k++) {
    let kept = 0;
    for (let i = 0; i < actives; i++) {
      const t = active[i]!;
      if (end[t]! <= k) continue;
      active[kept++] = t;
      if (walked[t] !== k + 1) walk(t, k);
    }
    actives = kept;
    for (let i = begin[k]!; i < begin[k + 1]!; i++) {
      const t = order[i]!;
      active[actives++] = t;
      if (walked[t] !== k + 1) walk(t, k);
    }
    layerStart[k + 1] = start.length - 1;
  }
  return {
    section: { points: at === points.length ? points : points.slice(0, at), start: start.take() },
    layerStart,
  };
}

/** The half-edge of triangle t that goes from below plane k to above it. */
function leaving(triangles: Uint32Array, rank: Uint32Array, t: number, k: number): number {
  const a = rank[triangles[3 * t]!]! > k;
  const b = rank[triangles[3 * t + 1]!]! > k;
  if (!a && b) return 3 * t;
  const c = rank[triangles[3 * t + 2]!]! > k;
  return !b && c ? 3 * t + 1 : 3 * t + 2;
}
