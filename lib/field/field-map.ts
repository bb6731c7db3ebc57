/**
 * The map between a part and its layers laid flat, linear in each tetrahedron of the lattice: from the part by
 * the lattice's arithmetic, back by an index of the deformed tetrahedra in cubes of the lattice's spacing. Its
 * metric says how thick a layer of thickness 1 comes out and how much the sheet is stretched at a place.
 * Refused is a map that turns a tetrahedron over or lays two of them over each other: no point of layer space
 * may mean two places of the part.
 */
import { Fault } from '../base/fault.js';
import { type Vec3, cross, dot, unit } from '../base/vector.js';
import { type Lattice, barycentric, locateNear } from './lattice.js';
import { gradientsOf, middleOf, nodalMeans } from './linear-functions.js';
import type { Sheets } from './sheets.js';

/** A growth field, before its level sets are laid flat. */
export interface GrownField {
  readonly lattice: Lattice;
  /** Packed u, v, growth of each node: its place in layer space, mm; u and v are 0 before it is laid flat. */
  readonly layerNodes: Float64Array;
  /** Packed gradient of the growth at each node, the mean of the tetrahedra about it. */
  readonly growth: Float64Array;
}

export interface FieldMap extends GrownField {
  /** Cubes of layer space, each with the tetrahedra whose boxes reach into it. */
  readonly index: CubeIndex;
}

interface CubeIndex {
  readonly size: number;
  /** The first cube, and cubes along each axis. */
  readonly first: Vec3;
  readonly cubes: Vec3;
  readonly start: Uint32Array;
  readonly list: Uint32Array;
}

/** How far outside of a tetrahedron, in barycentric coordinates, a point still counts as in it. */
const ROUNDING = 1e-9;
/** The same at the lattice's own surface, which stands out of the part: nothing is that far off. */
const OFF_LATTICE_SHARE = 0.2;

/** @param values of the growth at each node, mm */
export function grownOf(lattice: Lattice, values: Float64Array): GrownField {
  const layerNodes = new Float64Array(3 * values.length);
  values.forEach((value, i) => (layerNodes[3 * i + 2] = value));
  return { lattice, layerNodes, growth: nodalMeans(lattice, gradientsOf(lattice, values)) };
}

/** Not yet known to be one to one. */
export function layerMapOf(lattice: Lattice, values: Float64Array, { u, v }: Sheets): FieldMap {
  const grown = grownOf(lattice, values);
  const { layerNodes } = grown;
  u.forEach((x, i) => layerNodes.set([x, v[i]!], 3 * i));
  return { ...grown, index: indexOf(lattice, layerNodes) };
}

/** Where a point of the part lies in layer space; undefined off the lattice. */
export const layerPoint = (map: GrownField, p: Vec3): Vec3 | undefined =>
  valueAt(map.lattice, map.layerNodes, p);

/** Where a point of layer space lies in the part; undefined where the map does not reach. */
export function partPoint(map: FieldMap, p: Vec3): Vec3 | undefined {
  const share = new Float64Array(4);
  const t = tetrahedronOver(map, p, share);
  return t < 0 ? undefined : blend(map.lattice, map.lattice.nodes, t, share);
}

/** The unit direction in which layers grow at a point of the part; undefined off the lattice. */
export function growthAt(map: GrownField, p: Vec3): Vec3 | undefined {
  const d = valueAt(map.lattice, map.growth, p);
  return d && unit(d);
}

/** Packed values of the nodes, blended at a point of the part; undefined off the lattice. */
function valueAt(lattice: Lattice, packed: Float64Array, [x, y, z]: Vec3): Vec3 | undefined {
  const t = locateNear(lattice, x, y, z);
  if (t < 0) return undefined;
  const share = new Float64Array(4);
  barycentric(lattice, t, x, y, z, share);
  return blend(lattice, packed, t, share);
}

export interface Metric {
  /** Thickness in the part of a layer of thickness 1: one over the length of the growth's gradient. */
  readonly thickness: number;
  /** Least and greatest length in layer space of a length 1 in the sheet. */
  readonly stretch: readonly [number, number];
  /** Symmetric matrix of squared lengths in the sheet along u and v: u.u, u.v, v.v. */
  readonly sheet: Vec3;
}

/** Of the tetrahedron at a point of the part; undefined off the lattice. */
export function metricAt(map: FieldMap, [x, y, z]: Vec3): Metric | undefined {
  const t = locateNear(map.lattice, x, y, z);
  return t < 0 ? undefined : metricOf(map, t);
}

export function metricOf({ lattice, layerNodes }: FieldMap, t: number): Metric {
  const [u, v, g] = [0, 1, 2].map((c) => gradientIn(lattice, layerNodes, t, c)) as [
    Vec3,
    Vec3,
    Vec3,
  ];
  const long = Math.hypot(...g);
  const d: Vec3 = [g[0] / long, g[1] / long, g[2] / long];
  const [ud, vd] = [dot(u, d), dot(v, d)];
  const sheet: Vec3 = [dot(u, u) - ud * ud, dot(u, v) - ud * vd, dot(v, v) - vd * vd];
  const middle = (sheet[0] + sheet[2]) / 2;
  const off = Math.hypot((sheet[0] - sheet[2]) / 2, sheet[1]);
  return {
    thickness: 1 / long,
    stretch: [Math.sqrt(Math.max(0, middle - off)), Math.sqrt(middle + off)],
    sheet,
  };
}

/** Gradient in a tetrahedron of component c of packed values at the nodes. */
function gradientIn(
  { tetrahedra, shape, gradients }: Lattice,
  packed: Float64Array,
  t: number,
  c: number,
): Vec3 {
  const out: [number, number, number] = [0, 0, 0];
  for (let k = 0; k < 4; k++) {
    const value = packed[3 * tetrahedra[4 * t + k]! + c]!;
    for (let i = 0; i < 3; i++) out[i]! += gradients[12 * shape[t]! + 3 * k + i]! * value;
  }
  return out;
}

export function blend(
  { tetrahedra }: Lattice,
  packed: Float64Array,
  t: number,
  share: Float64Array,
): Vec3 {
  const out: [number, number, number] = [0, 0, 0];
  for (let k = 0; k < 4; k++) {
    const at = 3 * tetrahedra[4 * t + k]!;
    for (let c = 0; c < 3; c++) out[c]! += share[k]! * packed[at + c]!;
  }
  return out;
}

/** The deformed tetrahedron over a point of layer space with its shares of the corners; -1 for none. */
export function tetrahedronOver(
  { lattice, layerNodes, index }: FieldMap,
  p: Vec3,
  share: Float64Array,
): number {
  const cube = cubeOver(index, p);
  if (cube < 0) return -1;
  const own = new Float64Array(4);
  let [best, inside] = [-1, -OFF_LATTICE_SHARE];
  for (let k = index.start[cube]!; k < index.start[cube + 1]!; k++) {
    const t = index.list[k]!;
    const least = sharesIn(lattice, layerNodes, t, p, own);
    if (least <= inside) continue;
    [best, inside] = [t, least];
    share.set(own);
    if (least >= 0) break;
  }
  return best;
}

/** Barycentric coordinates in the deformed tetrahedron, by Cramer's rule. @returns the least of them */
function sharesIn(
  { tetrahedra }: Lattice,
  q: Float64Array,
  t: number,
  [px, py, pz]: Vec3,
  out: Float64Array,
): number {
  const o = 3 * tetrahedra[4 * t]!;
  const i = 3 * tetrahedra[4 * t + 1]!;
  const j = 3 * tetrahedra[4 * t + 2]!;
  const k = 3 * tetrahedra[4 * t + 3]!;
  const [ox, oy, oz] = [q[o]!, q[o + 1]!, q[o + 2]!];
  const [ax, ay, az] = [q[i]! - ox, q[i + 1]! - oy, q[i + 2]! - oz];
  const [bx, by, bz] = [q[j]! - ox, q[j + 1]! - oy, q[j + 2]! - oz];
  const [cx, cy, cz] = [q[k]! - ox, q[k + 1]! - oy, q[k + 2]! - oz];
  const [rx, ry, rz] = [px - ox, py - oy, pz - oz];
  const [nx, ny, nz] = [by * cz - bz * cy, bz * cx - bx * cz, bx * cy - by * cx];
  const [mx, my, mz] = [ay * rz - az * ry, az * rx - ax * rz, ax * ry - ay * rx];
  const volume = ax * nx + ay * ny + az * nz;
  const s1 = (rx * nx + ry * ny + rz * nz) / volume;
  // With m = a x r: a . (r x c) = m . c and a . (b x r) = -m . b.
  const s2 = (mx * cx + my * cy + mz * cz) / volume;
  const s3 = -(mx * bx + my * by + mz * bz) / volume;
  out[1] = s1;
  out[2] = s2;
  out[3] = s3;
  out[0] = 1 - s1 - s2 - s3;
  return Math.min(out[0], s1, s2, s3);
}

function indexOf({ spacing, tetrahedra }: Lattice, layerNodes: Float64Array): CubeIndex {
  const count = tetrahedra.length / 4;
  const least = new Int32Array(3 * count);
  const most = new Int32Array(3 * count);
  const first = [Infinity, Infinity, Infinity];
  const last = [-Infinity, -Infinity, -Infinity];
  for (let t = 0; t < count; t++) {
    for (let c = 0; c < 3; c++) {
      const four = [0, 1, 2, 3].map((k) => layerNodes[3 * tetrahedra[4 * t + k]! + c]!);
      const lo = Math.floor(Math.min(...four) / spacing);
      const hi = Math.floor(Math.max(...four) / spacing);
      [least[3 * t + c], most[3 * t + c]] = [lo, hi];
      first[c] = Math.min(first[c]!, lo);
      last[c] = Math.max(last[c]!, hi);
    }
  }
  const cubes = first.map((lo, c) => last[c]! - lo + 1) as unknown as Vec3;
  const base = first as unknown as Vec3;
  const start = new Uint32Array(cubes[0] * cubes[1] * cubes[2] + 1);
  const each = (visit: (cube: number, t: number) => void): void => {
    for (let t = 0; t < count; t++) {
      for (let i = least[3 * t]!; i <= most[3 * t]!; i++) {
        for (let j = least[3 * t + 1]!; j <= most[3 * t + 1]!; j++) {
          for (let k = least[3 * t + 2]!; k <= most[3 * t + 2]!; k++) {
            visit(((i - base[0]) * cubes[1] + j - base[1]) * cubes[2] + k - base[2], t);
          }
        }
      }
    }
  };
  each((cube) => start[cube + 1]!++);
  for (let i = 1; i < start.length; i++) start[i]! += start[i - 1]!;
  const list = new Uint32Array(start.at(-1)!);
  const fill = start.slice();
  each((cube, t) => (list[fill[cube]!++] = t));
  return { size: spacing, first: base, cubes, start, list };
}

function cubeOver({ size, first, cubes }: CubeIndex, [x, y, z]: Vec3): number {
  const i = Math.floor(x / size) - first[0];
  const j = Math.floor(y / size) - first[1];
  const k = Math.floor(z / size) - first[2];
  if (!(i >= 0 && j >= 0 && k >= 0 && i < cubes[0] && j < cubes[1] && k < cubes[2])) return -1;
  return (i * cubes[1] + j) * cubes[2] + k;
}

/** Tetrahedra between which layers are not laid flat one to one. */
export interface Folds {
  /** Turned over. */
  readonly turned: readonly number[];
  /** Over others, by their middles. */
  readonly doubled: readonly number[];
}

export function foldsOf({ lattice, layerNodes, index }: FieldMap): Folds {
  const turned: number[] = [];
  const doubled: number[] = [];
  const own = new Float64Array(4);
  const quarters = Float64Array.of(0.25, 0.25, 0.25, 0.25);
  for (let t = 0; t < lattice.shape.length; t++) {
    const [u, v, g] = [0, 1, 2].map((c) => gradientIn(lattice, layerNodes, t, c)) as [
      Vec3,
      Vec3,
      Vec3,
    ];
    if (dot(cross(u, v), g) <= 0) turned.push(t);
    const middle = blend(lattice, layerNodes, t, quarters);
    const cube = cubeOver(index, middle);
    for (let k = index.start[cube]!; k < index.start[cube + 1]!; k++) {
      const other = index.list[k]!;
      if (other === t || sharesIn(lattice, layerNodes, other, middle, own) <= ROUNDING) continue;
      doubled.push(t);
      break;
    }
  }
  return { turned, doubled };
}

/** @throws Fault `field/turned-over` or `field/overlap` with the place */
export function refuseFolds(map: FieldMap, { turned, doubled }: Folds): FieldMap {
  const { lattice } = map;
  const of = `of ${lattice.shape.length} tetrahedra of the lattice`;
  if (turned.length > 0) {
    throw new Fault(
      'field/turned-over',
      `layers fold over in ${turned.length} ${of}, first ${placeText(lattice, turned[0]!)}: none may`,
    );
  }
  if (doubled.length > 0) {
    throw new Fault(
      'field/overlap',
      `${doubled.length} ${of} lie over others once layers are flat, first ${placeText(lattice, doubled[0]!)}: none may`,
    );
  }
  return map;
}

const placeText = (lattice: Lattice, t: number): string =>
  `at ${middleOf(lattice, t)
    .map((x) => x.toFixed(1))
    .join(' ')} mm`;
