/**
 * The way through the part from where it stands: geodesic distance on the lattice's tetrahedra by fast
 * marching (Sethian, A fast marching level set method, PNAS 93, 1996; on unstructured meshes Kimmel and
 * Sethian, Computing geodesic paths on manifolds, PNAS 95, 1998, carried over to tetrahedra). A node takes
 * the least of what an edge, a face or a tetrahedron of known nodes gives it: the value of the plane wave of
 * slope 1 that has the known values and comes out of the simplex. Cost: n log n in the nodes.
 *
 * Its level sets leave less hanging than any other field's, but know nothing of the head or the table's edge.
 */
import FlatQueue from 'flatqueue';
import type { Lattice } from './lattice.js';
import { floorOf } from './skin.js';

/** A source: a node and its distance, mm; negative before the front. */
export type Sources = ReadonlyMap<number, number>;

/** Facets of the skin that look down at least this steeply are part of the footprint: cosine. */
const DOWN = -0.9;

/**
 * The nodes about the footprint, each with its distance from the nearest sample of it; nodes under the table
 * at 0, so that the field rises from there.
 * @param depth how far over the lowest point skin still belongs to the footprint, mm
 */
export function footprintSources(lattice: Lattice, depth: number): Sources {
  const { skin, skinTetrahedron, tetrahedra, nodes } = lattice;
  const floor = floorOf(skin);
  const near = new Map<number, number>();
  for (let s = 0; s < skin.areas.length; s++) {
    const at = 3 * s;
    const [x, y, z] = [skin.points[at]!, skin.points[at + 1]!, skin.points[at + 2]!];
    if (z > floor + depth || skin.normals[at + 2]! > DOWN) continue;
    for (let c = 0; c < 4; c++) {
      const node = tetrahedra[4 * skinTetrahedron[s]! + c]!;
      // The piece reaches as far as its corners: over it the distance is the height.
      const beside = Math.hypot(nodes[3 * node]! - x, nodes[3 * node + 1]! - y) - skin.reach[s]!;
      const away = Math.hypot(Math.max(0, beside), nodes[3 * node + 2]! - z);
      if (!(near.get(node)! <= away)) near.set(node, away);
    }
  }
  for (const node of near.keys()) if (nodes[3 * node + 2]! < floor - 1e-9) near.set(node, 0);
  return near;
}

/** Distance of each node from the sources, mm; what no way reaches has the greatest of the others. */
export function distanceFrom(lattice: Lattice, sources: Sources): Float64Array {
  const { nodes, tetrahedra } = lattice;
  const n = nodes.length / 3;
  const about = tetrahedraAbout(lattice);
  const distance = new Float64Array(n).fill(Infinity);
  const done = new Uint8Array(n);
  const front = new FlatQueue<number>();
  for (const [node, value] of sources) {
    distance[node] = value;
    front.push(node, value);
  }
  while (front.length > 0) {
    const value = front.peekValue()!;
    const node = front.pop()!;
    if (done[node] || value > distance[node]!) continue;
    done[node] = 1;
    for (let k = about.start[node]!; k < about.start[node + 1]!; k++) {
      const t = 4 * about.list[k]!;
      for (let c = 0; c < 4; c++) {
        const other = tetrahedra[t + c]!;
        if (done[other]) continue;
        const found = arrival(nodes, tetrahedra, t, other, distance, done);
        if (found < distance[other]! - 1e-12) {
          distance[other] = found;
          front.push(other, found);
        }
      }
    }
  }
  let most = 0;
  for (const value of distance) if (value < Infinity) most = Math.max(most, value);
  return distance.map((value) => (value < Infinity ? value : most));
}

/** The tetrahedra about each node. */
function tetrahedraAbout({ nodes, tetrahedra }: Lattice): {
  start: Uint32Array;
  list: Uint32Array;
} {
  const start = new Uint32Array(nodes.length / 3 + 1);
  for (const node of tetrahedra) start[node + 1]!++;
  for (let i = 1; i < start.length; i++) start[i]! += start[i - 1]!;
  const list = new Uint32Array(tetrahedra.length);
  const fill = start.slice();
  for (let i = 0; i < tetrahedra.length; i++) list[fill[tetrahedra[i]!]!++] = i >> 2;
  return { start, list };
}

/** When the front reaches `node` through the done corners of the tetrahedron at `t`. */
function arrival(
  nodes: Float64Array,
  tetrahedra: Uint32Array,
  t: number,
  node: number,
  distance: Float64Array,
  done: Uint8Array,
): number {
  const known: number[] = [];
  for (let c = 0; c < 4; c++) {
    const other = tetrahedra[t + c]!;
    if (other !== node && done[other]) known.push(other);
  }
  let best = Infinity;
  for (let i = 0; i < known.length; i++) {
    best = Math.min(best, wave(nodes, node, [known[i]!], distance));
    for (let j = i + 1; j < known.length; j++) {
      best = Math.min(best, wave(nodes, node, [known[i]!, known[j]!], distance));
    }
  }
  return known.length === 3 ? Math.min(best, wave(nodes, node, known, distance)) : best;
}

/**
 * Arrival at `node` of the plane wave of slope 1 that passes its known neighbours k at their times t_k. With
 * E the edges to them and Q the inverse of E E^T, the gradient is E^T Q (t_k - t), and its length 1 gives a
 * quadratic for t. Infinite unless the wave comes from between the neighbours.
 */
function wave(
  nodes: Float64Array,
  node: number,
  known: readonly number[],
  distance: Float64Array,
): number {
  const edges = known.map((k) => [0, 1, 2].map((c) => nodes[3 * k + c]! - nodes[3 * node + c]!));
  const gram = edges.map((a) => edges.map((b) => a[0]! * b[0]! + a[1]! * b[1]! + a[2]! * b[2]!));
  if (known.length === 1) return distance[known[0]!]! + Math.sqrt(gram[0]![0]!);
  const q = inverseOf(gram);
  let [sum, mixed, square] = [0, 0, -1];
  for (let r = 0; r < known.length; r++) {
    for (let s = 0; s < known.length; s++) {
      const [a, b] = [distance[known[r]!]!, distance[known[s]!]!];
      sum += q[r]![s]!;
      mixed += q[r]![s]! * b;
      square += q[r]![s]! * a * b;
    }
  }
  const root = mixed * mixed - sum * square;
  if (root < 0) return Infinity;
  const time = (mixed + Math.sqrt(root)) / sum;
  for (const row of q) {
    let share = 0;
    row.forEach((v, s) => (share += v * (distance[known[s]!]! - time)));
    if (share > 1e-12) return Infinity;
  }
  return time;
}

/** Of a symmetric matrix of two or three rows. */
function inverseOf(m: readonly (readonly number[])[]): number[][] {
  if (m.length === 2) {
    const [[a, b], [, d]] = m as [[number, number], [number, number]];
    const det = a * d - b * b;
    return [
      [d / det, -b / det],
      [-b / det, a / det],
    ];
  }
  const minor = (r: number, c: number): number => {
    const [r1, r2, c1, c2] = [(r + 1) % 3, (r + 2) % 3, (c + 1) % 3, (c + 2) % 3];
    return m[r1]![c1]! * m[r2]![c2]! - m[r1]![c2]! * m[r2]![c1]!;
  };
  const det = [0, 1, 2].reduce((sum, c) => sum + m[0]![c]! * minor(0, c), 0);
  return [0, 1, 2].map((r) => [0, 1, 2].map((c) => minor(r, c) / det));
}
