/**
 * Functions on a lattice that are linear in each tetrahedron: one value a node, one gradient a tetrahedron
 * (finite elements of the first order). With them the equation whose solution has, of all functions, the
 * gradient nearest to a wanted one: K u = b with the stiffness matrix K and b the wanted gradient put on the
 * nodes. Cost: linear in the tetrahedra; K has about 15 entries a row.
 */
import type { Vec3 } from '../base/vector.js';
import type { Lattice } from './lattice.js';
import { tetrahedronVolume } from './lattice.js';
import type { SparseMatrix } from './sparse.js';

/** The gradient in each tetrahedron, packed, of a function given at the nodes. */
export function gradientsOf(
  { tetrahedra, shape, gradients }: Lattice,
  values: Float64Array,
  out = new Float64Array(3 * shape.length),
): Float64Array {
  for (let t = 0; t < shape.length; t++) {
    const g = 12 * shape[t]!;
    let [x, y, z] = [0, 0, 0];
    for (let c = 0; c < 4; c++) {
      const value = values[tetrahedra[4 * t + c]!]!;
      x += gradients[g + 3 * c]! * value;
      y += gradients[g + 3 * c + 1]! * value;
      z += gradients[g + 3 * c + 2]! * value;
    }
    out[3 * t] = x;
    out[3 * t + 1] = y;
    out[3 * t + 2] = z;
  }
  return out;
}

/** The mean at each node of vectors that are given in the tetrahedra about it, packed. */
export function nodalMeans({ nodes, tetrahedra }: Lattice, vectors: Float64Array): Float64Array {
  const out = new Float64Array(nodes.length);
  const count = new Uint32Array(nodes.length / 3);
  for (let i = 0; i < tetrahedra.length; i++) {
    const [node, t] = [tetrahedra[i]!, i >> 2];
    count[node]!++;
    for (let c = 0; c < 3; c++) out[3 * node + c]! += vectors[3 * t + c]!;
  }
  for (let node = 0; node < count.length; node++) {
    for (let c = 0; c < 3; c++) out[3 * node + c]! /= count[node]!;
  }
  return out;
}

/** Component c, in the middle of a tetrahedron, of packed vectors that are given at the nodes. */
export function meanIn(
  { tetrahedra }: Lattice,
  packed: Float64Array,
  t: number,
  c: number,
): number {
  let sum = 0;
  for (let k = 0; k < 4; k++) sum += packed[3 * tetrahedra[4 * t + k]! + c]!;
  return sum / 4;
}

/** Middle of a tetrahedron, part mm. */
export const middleOf = (lattice: Lattice, t: number): Vec3 => [
  meanIn(lattice, lattice.nodes, t, 0),
  meanIn(lattice, lattice.nodes, t, 1),
  meanIn(lattice, lattice.nodes, t, 2),
];

/** The sum over the tetrahedra at each node of weight times volume times wanted gradient . shape gradient. */
export function weighted(
  lattice: Lattice,
  wanted: Float64Array,
  weight: Float64Array,
  out: Float64Array,
): void {
  const { tetrahedra, shape, gradients } = lattice;
  const volume = tetrahedronVolume(lattice);
  out.fill(0);
  for (let t = 0; t < shape.length; t++) {
    const g = 12 * shape[t]!;
    const w = volume * weight[t]!;
    const [x, y, z] = [wanted[3 * t]!, wanted[3 * t + 1]!, wanted[3 * t + 2]!];
    for (let c = 0; c < 4; c++) {
      const i = g + 3 * c;
      out[tetrahedra[4 * t + c]!]! +=
        w * (gradients[i]! * x + gradients[i + 1]! * y + gradients[i + 2]! * z);
    }
  }
}

/** The stiffness matrix, each tetrahedron with its weight. */
export function stiffness(lattice: Lattice, weight: Float64Array): SparseMatrix {
  const { nodes, tetrahedra, shape, gradients } = lattice;
  const volume = tetrahedronVolume(lattice);
  const n = nodes.length / 3;
  // Entries row by row, those of one column next to each other after sorting, then added up.
  const from = new Uint32Array(n + 1);
  for (const node of tetrahedra) from[node + 1]! += 4;
  for (let i = 0; i < n; i++) from[i + 1]! += from[i]!;
  const column = new Uint32Array(from[n]!);
  const value = new Float64Array(from[n]!);
  const fill = from.slice(0, n);
  for (let t = 0; t < shape.length; t++) {
    const g = 12 * shape[t]!;
    const w = volume * weight[t]!;
    for (let c = 0; c < 4; c++) {
      const row = tetrahedra[4 * t + c]!;
      for (let d = 0; d < 4; d++) {
        const [i, j] = [g + 3 * c, g + 3 * d];
        const at = fill[row]!++;
        column[at] = tetrahedra[4 * t + d]!;
        value[at] =
          w *
          (gradients[i]! * gradients[j]! +
            gradients[i + 1]! * gradients[j + 1]! +
            gradients[i + 2]! * gradients[j + 2]!);
      }
    }
  }
  return summed(from, column, value);
}

/** Adds up the entries of equal place. Rows hold under a hundred entries: they are sorted by insertion. */
function summed(from: Uint32Array, column: Uint32Array, value: Float64Array): SparseMatrix {
  const n = from.length - 1;
  const start = new Uint32Array(n + 1);
  let used = 0;
  for (let row = 0; row < n; row++) {
    const first = used;
    for (let k = from[row]!; k < from[row + 1]!; k++) {
      const [col, v] = [column[k]!, value[k]!];
      let at = used;
      while (at > first && column[at - 1]! > col) at--;
      if (at > first && column[at - 1] === col) {
        value[at - 1]! += v;
        continue;
      }
      // Room is never wanting: what is written lies at or before what is read.
      column.copyWithin(at + 1, at, used);
      value.copyWithin(at + 1, at, used);
      column[at] = col;
      value[at] = v;
      used++;
    }
    start[row + 1] = used;
  }
  return { start, column: column.slice(0, used), value: value.slice(0, used) };
}
