/**
 * A finer mesh of the same surface: edges longer than a bound are halved, round after round, and the facets
 * on both sides share the new vertex, so what was closed stays closed. A facet with two halved edges is
 * divided along the shorter of the two diagonals that are left. Cost: linear in the triangles that result.
 */
import { type Mesh, next } from '../base/mesh.js';
import { float64List, uint32List } from '../base/ragged.js';
import { meshFrom } from './build.js';

/** @param longest mm; edges are halved until none is longer, facets sharing the new vertices */
export function splitLongEdges(mesh: Mesh, longest: number): Mesh {
  let out = mesh;
  for (let more: Mesh | undefined = out; more; more = halved(out, longest)) out = more;
  return out;
}

/** One round of halving; undefined when no edge is too long. */
function halved(mesh: Mesh, longest: number): Mesh | undefined {
  const { vertices: v, triangles: t, twins } = mesh;
  const middle = new Int32Array(t.length).fill(-1);
  const vertices = float64List(v.length);
  vertices.append(v);
  for (let h = 0; h < t.length; h++) {
    if (twins[h]! < h) continue;
    const [a, b] = [3 * t[h]!, 3 * t[next(h)]!];
    const size = Math.hypot(v[b]! - v[a]!, v[b + 1]! - v[a + 1]!, v[b + 2]! - v[a + 2]!);
    if (size <= longest) continue;
    middle[h] = middle[twins[h]!] = vertices.length / 3;
    for (let c = 0; c < 3; c++) vertices.push((v[a + c]! + v[b + c]!) / 2);
  }
  if (vertices.length === v.length) return undefined;
  const triangles = uint32List(2 * t.length);
  for (let h = 0; h < t.length; h += 3) {
    const ring: number[] = [];
    for (let i = h; i < h + 3; i++) {
      ring.push(t[i]!);
      if (middle[i]! >= 0) ring.push(middle[i]!);
    }
    divide(vertices, ring, middle, h, triangles);
  }
  return meshFrom(vertices.take(), triangles.take());
}

/** A triangle with new vertices on one, two or three of its edges. */
function divide(
  vertices: { at(i: number): number },
  ring: readonly number[],
  middle: Int32Array,
  h: number,
  out: { push3(a: number, b: number, c: number): void },
): void {
  if (ring.length === 6) {
    const [a, ab, b, bc, c, ca] = ring as [number, number, number, number, number, number];
    out.push3(a, ab, ca);
    out.push3(ab, b, bc);
    out.push3(ca, bc, c);
    out.push3(ab, bc, ca);
  } else if (ring.length === 5) {
    // Turned so that the undivided edge closes the ring: p, m, q, n, r with m on pq and n on qr.
    const whole = middle[h]! < 0 ? 0 : middle[h + 1]! < 0 ? 1 : 2;
    const from = [1, 3, 0][whole]!;
    const [p, m, q, n, r] = [0, 1, 2, 3, 4].map((i) => ring[(from + i) % 5]!) as [
      number,
      number,
      number,
      number,
      number,
    ];
    out.push3(m, q, n);
    if (gap(vertices, p, n) < gap(vertices, m, r)) {
      out.push3(p, m, n);
      out.push3(p, n, r);
    } else {
      out.push3(p, m, r);
      out.push3(m, n, r);
    }
  } else if (ring.length === 4) {
    const from = [0, 1, 2].findIndex((i) => middle[h + i]! >= 0);
    const [p, m, q, r] = [0, 1, 2, 3].map((i) => ring[(from + i) % 4]!) as [
      number,
      number,
      number,
      number,
    ];
    out.push3(p, m, r);
    out.push3(m, q, r);
  } else out.push3(ring[0]!, ring[1]!, ring[2]!);
}

function gap(vertices: { at(i: number): number }, a: number, b: number): number {
  let sum = 0;
  for (let c = 0; c < 3; c++) sum += (vertices.at(3 * a + c) - vertices.at(3 * b + c)) ** 2;
  return sum;
}
