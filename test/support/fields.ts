/** Maps of fields that are given by formulas, so that what is planned on them has a closed form. */
import type { Mesh } from '../../lib/base/mesh.js';
import type { Vec3 } from '../../lib/base/vector.js';
import { type FieldMap, foldsOf, layerMapOf, refuseFolds } from '../../lib/field/field-map.js';
import { type Lattice, latticeOf } from '../../lib/field/lattice.js';
import type { Sheets } from '../../lib/field/sheets.js';

export const atNodes = ({ nodes }: Lattice, value: (p: Vec3) => number): Float64Array =>
  Float64Array.from({ length: nodes.length / 3 }, (_, i) =>
    value([nodes[3 * i]!, nodes[3 * i + 1]!, nodes[3 * i + 2]!]),
  );

/** @throws Fault `field/turned-over` or `field/overlap` */
export function oneToOne(lattice: Lattice, growth: Float64Array, sheets: Sheets): FieldMap {
  const map = layerMapOf(lattice, growth, sheets);
  return refuseFolds(map, foldsOf(map));
}

/** The map (u, v, growth) of a part, exact where these are linear. */
export function fieldOf(part: Mesh, spacing: number, toLayer: (p: Vec3) => Vec3): FieldMap {
  const lattice = latticeOf(part, spacing);
  const [u, v, growth] = [0, 1, 2].map((c) => atNodes(lattice, (p) => toLayer(p)[c]!)) as [
    Float64Array,
    Float64Array,
    Float64Array,
  ];
  return oneToOne(lattice, growth, { u, v });
}

/** Sheets that are cylinders about the y axis: radii r, angle from the x axis towards z. */
export const cylinders =
  (radius: number) =>
  ([x, y, z]: Vec3): Vec3 => [-radius * Math.atan2(z, x), y, Math.hypot(x, z)];
