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
    let x = 0;
    let y = 0;
    let z = 0;
    for (let c = 4 * t, g = 12 * shape[t]!; c < 4 * t + 4; c++, g += 3) {
      const value = values[tetrahedra[c]!]!;
      x += gradients[g]! * value;
      y += gradients[g + 1]! * value;
      z += gradients[g + 2]! * value;
    }
    out[3 * t] = x;
    out[3 * t + 1] = y;
    out[3 * t + 2] = z;
  }
  return out;
}

/** The mean at each node of vectors that are given in the tetrahedra about it, packed. */
export function nodalMeans(
  { nodes, tetrahedra }: Lattice,
  vectors: Float64Array,
  out = new Float64Array(nodes.length),
): Float64Array {
  const count = new Uint32Array(nodes.length / 3);
  out.fill(0);
  for (let i = 0; i < tetrahedra.length; i++) {
    const node = tetrahedra[i]!;
    const t = i >> 2;
    count[node]!++;
    out[3 * node]! += vectors[3 * t]!;
    out[3 * node + 1]! += vectors[3 * t + 1]!;
    out[3 * node + 2]! += vectors[3 * t + 2]!;
  }
  for (let node = 0; node < count.length; node++) {
    const share = 1 / count[node]!;
    out[3 * node]! *= share;
    out[3 * node + 1]! *= share;
    out[3 * node + 2]! *= share;
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
  const i = 4 * t;
  return (
    (packed[3 * tetrahedra[i]! + c]! +
      packed[3 * tetrahedra[i + 1]! + c]! +
      packed[3 * tetrahedra[i + 2]! + c]! +
      packed[3 * tetrahedra[i + 3]! + c]!) /
    4
  );
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
    const w = volume * weight[t]!;
    const x = w * wanted[3 * t]!;
    const y = w * wanted[3 * t + 1]!;
    const z = w * wanted[3 * t + 2]!;
    for (let c = 4 * t, g = 12 * shape[t]!; c < 4 * t + 4; c++, g += 3) {
      out[tetrahedra[c]!]! += gradients[g]! * x + gradients[g + 1]! * y + gradients[g + 2]! * z;
    }
  }
}

/** The stiffness matrix, each tetrahedron with its weight. */
export function stiffness(lattice: Lattice, weight: Float64Array): SparseMatrix {
  const { nodes, tetrahedra, shape, gradients } = lattice;
  const volume = tetrahedronVolume(lattice);
  const n = nodes.length / 3;
  // Entries row by row; those of one column are then added up.
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

/** Adds up the entries of equal place, in place: what is written lies at or before what is read. */
function summed(from: Uint32Array, column: Uint32Array, value: Float64Array): SparseMatrix {
  const n = from.length - 1;
  const start = new Uint32Array(n + 1);
  // Where the entry of a column lies, if it is of the row at hand.
  const place = new Int32Array(n).fill(-1);
  let used = 0;
  for (let row = 0; row < n; row++) {
    const first = used;
    for (let k = from[row]!; k < from[row + 1]!; k++) {
      const col = column[k]!;
      const at = place[col]!;
      if (at >= first) {
        value[at]! += value[k]!;
        continue;
      }
      place[col] = used;
      column[used] = col;
      value[used++] = value[k]!;
    }
    start[row + 1] = used;
  }
  return { start, column: column.slice(0, used), value: value.slice(0, used) };
}
