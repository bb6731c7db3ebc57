/**
 * A body-centred cubic lattice of tetrahedra in a part. Its nodes are the corners and the centres of cubes; a
 * tetrahedron joins the centres of two cubes that share a face with one edge of that face. All tetrahedra are
 * congruent up to twelve turns, so a linear function on them has gradients from twelve constant tables, and
 * the tetrahedron at a point is found by arithmetic (Labelle and Shewchuk, Isosurface stuffing, SIGGRAPH 2007,
 * for the lattice). Kept are those whose centroid lies in the part and those that hold a sample of its skin,
 * so the lattice covers the part and stands out of it by less than a cube.
 *
 * Against a mesh of tetrahedra that follows the skin: no mesher is needed, nothing can fail on a bad
 * triangle, and the skin is known by its samples. Cost: linear in the cubes of the part's box and in the
 * samples; memory is 4 bytes a cube of the box and 48 more where there is material.
 */
import { Fault } from '../base/fault.js';
import type { Mesh } from '../base/mesh.js';
import { type Vec3, cross, dot, sub } from '../base/vector.js';
import { bounds } from '../mesh/measure.js';
import { SolidColumns } from './columns.js';
import { refuseUnresolved } from './resolved.js';
import { type Skin, skinSamples } from './skin.js';

/** Tetrahedra above which a lattice is refused: about 16 s of work and 400 MB. */
export const MOST_TETRAHEDRA = 300_000;
/** Cubes of the box above which it is refused, 4 bytes each. */
const MOST_LATTICE_CUBES = 50_000_000;
/** Shapes of tetrahedra, and tetrahedra that belong to a cube. */
const SHAPES = 12;

export interface Lattice {
  /** Edge of a cube, mm. */
  readonly spacing: number;
  /** Corner of the first cube, part mm. */
  readonly origin: Vec3;
  /** Cubes along x, y, z. */
  readonly cubes: Vec3;
  /** Packed xyz of each node, part mm. */
  readonly nodes: Float64Array;
  /** Four nodes a tetrahedron. */
  readonly tetrahedra: Uint32Array;
  /** Which of the twelve shapes each tetrahedron has. */
  readonly shape: Uint8Array;
  /** Gradients of the four linear shape functions: 12 numbers for each of the twelve shapes, 1/mm. */
  readonly gradients: Float64Array;
  /** For each cube the number of its row in `tetrahedronAt`, or -1. */
  readonly row: Int32Array;
  /** Rows of twelve: the tetrahedron in that place, or -1. */
  readonly tetrahedronAt: Int32Array;
  /** Samples of the part's skin. */
  readonly skin: Skin;
  /** The tetrahedron that each sample lies in. */
  readonly skinTetrahedron: Uint32Array;
}

/**
 * @param spacing edge of a cube, mm: at most the thinnest wall that is to keep its two sides apart
 * @throws Fault `field/too-fine` with the spacing that would do; `field/unresolved` with the narrow place
 */
export function latticeOf(mesh: Mesh, spacing: number): Lattice {
  const { least, most } = bounds(mesh);
  const origin = least.map(
    (x) => (Math.floor(x / spacing + 1e-9) - 2) * spacing,
  ) as unknown as Vec3;
  const cubes = most.map((x, c) => Math.ceil((x - origin[c]!) / spacing) + 2) as unknown as Vec3;
  const count = cubes[0] * cubes[1] * cubes[2];
  if (count > MOST_LATTICE_CUBES) throw tooFine('cubes', count, MOST_LATTICE_CUBES, spacing);
  const grid: CubeGrid = { spacing, origin, cubes };
  const marked = new Marked(grid);
  const columns = new SolidColumns(mesh, spacing / 4);
  for (let place = 0; place < SHAPES * count; place++) {
    const [x, y, z] = centroid(grid, place);
    if (columns.inside(x, y, z)) marked.add(place);
  }
  const mark = (x: number, y: number, z: number): void => marked.add(placeOf(grid, x, y, z));
  const skin = skinSamples(mesh, spacing / 2, (p) => mark(...p));
  refuseUnresolved(mesh, skin, spacing);
  const { points } = skin;
  for (let i = 0; i < points.length; i += 3) mark(points[i]!, points[i + 1]!, points[i + 2]!);
  if (marked.count > MOST_TETRAHEDRA) {
    throw tooFine('tetrahedra', marked.count, MOST_TETRAHEDRA, spacing);
  }
  return numbered(grid, marked, skin);
}

const tooFine = (what: string, count: number, most: number, spacing: number): Fault =>
  new Fault(
    'field/too-fine',
    `a lattice of ${spacing} mm has ${count} ${what} in this part, at most ${most} are worked on: about ${(spacing * Math.cbrt(count / most)).toFixed(2)} mm would do`,
  );

interface CubeGrid {
  readonly spacing: number;
  readonly origin: Vec3;
  readonly cubes: Vec3;
}

/** The tetrahedra that are kept, by place: twelve for each cube, in rows that are made when first used. */
class Marked {
  readonly row: Int32Array;
  readonly rows: Uint8Array[] = [];
  count = 0;

  constructor({ cubes }: CubeGrid) {
    this.row = new Int32Array(cubes[0] * cubes[1] * cubes[2]).fill(-1);
  }

  add(place: number): void {
    const cube = Math.floor(place / SHAPES);
    if (this.row[cube]! < 0) this.row[cube] = this.rows.push(new Uint8Array(SHAPES)) - 1;
    const flags = this.rows[this.row[cube]!]!;
    if (flags[place % SHAPES] === 0) this.count++;
    flags[place % SHAPES] = 1;
  }
}

/** Gives numbers to the tetrahedra that are kept, and to the nodes that they use. */
function numbered(grid: CubeGrid, marked: Marked, skin: Skin): Lattice {
  const tetrahedronAt = new Int32Array(SHAPES * marked.rows.length).fill(-1);
  const tetrahedra = new Uint32Array(4 * marked.count);
  const shape = new Uint8Array(marked.count);
  const known = new Map<number, number>();
  const nodes: number[] = [];
  let t = 0;
  for (let cube = 0; cube < marked.row.length; cube++) {
    const row = marked.row[cube]!;
    if (row < 0) continue;
    for (let k = 0; k < SHAPES; k++) {
      if (marked.rows[row]![k] === 0) continue;
      tetrahedronAt[SHAPES * row + k] = t;
      shape[t] = k;
      const four = nodesOf(grid, SHAPES * cube + k);
      for (let c = 0; c < 4; c++) {
        const node = four[c]!;
        let id = known.get(node);
        if (id === undefined) {
          known.set(node, (id = nodes.length / 3));
          nodes.push(...nodeAt(grid, node));
        }
        tetrahedra[4 * t + c] = id;
      }
      t++;
    }
  }
  const lattice = {
    ...grid,
    nodes: Float64Array.from(nodes),
    tetrahedra,
    shape,
    gradients: shapeGradients(grid),
    row: marked.row,
    tetrahedronAt,
    skin,
  };
  const skinTetrahedron = Uint32Array.from({ length: skin.areas.length }, (_, s) => {
    const at = 3 * s;
    return locate(lattice, skin.points[at]!, skin.points[at + 1]!, skin.points[at + 2]!);
  });
  return { ...lattice, skinTetrahedron };
}

/** The tetrahedron of the lattice at a point, -1 where there is none. */
export function locate(
  lattice: Pick<Lattice, 'spacing' | 'origin' | 'cubes' | 'row' | 'tetrahedronAt'>,
  x: number,
  y: number,
  z: number,
): number {
  const place = placeOf(lattice, x, y, z);
  if (place < 0) return -1;
  const row = lattice.row[Math.floor(place / SHAPES)]!;
  return row < 0 ? -1 : lattice.tetrahedronAt[SHAPES * row + (place % SHAPES)]!;
}

/** Ways from a point to its neighbours: along the axes and the diagonals of a cube. */
const AROUND: readonly Vec3[] = [-1, 0, 1].flatMap((x) =>
  [-1, 0, 1].flatMap((y) =>
    [-1, 0, 1].map((z): Vec3 => {
      const long = Math.hypot(x, y, z) || 1;
      return [x / long, y / long, z / long];
    }),
  ),
);
/** How far off a tetrahedron is looked for, in spacings. */
const BESIDE_SHARES = [0.1, 0.2, 0.4] as const;

/**
 * The tetrahedron at a point or, where skin cuts the tip of one that is not kept, the nearest beside it.
 * -1 farther off.
 */
export function locateNear(lattice: Lattice, x: number, y: number, z: number): number {
  const here = locate(lattice, x, y, z);
  if (here >= 0) return here;
  for (const share of BESIDE_SHARES) {
    const off = share * lattice.spacing;
    for (const [dx, dy, dz] of AROUND) {
      const t = locate(lattice, x + off * dx, y + off * dy, z + off * dz);
      if (t >= 0) return t;
    }
  }
  return -1;
}

/** Barycentric coordinates of a point in a tetrahedron, into `out`. */
export function barycentric(
  { nodes, tetrahedra, shape, gradients }: Lattice,
  t: number,
  x: number,
  y: number,
  z: number,
  out: Float64Array,
): void {
  const g = SHAPES * shape[t]!;
  const at = 3 * tetrahedra[4 * t]!;
  const [dx, dy, dz] = [x - nodes[at]!, y - nodes[at + 1]!, z - nodes[at + 2]!];
  out[0] = 1;
  for (let c = 1; c < 4; c++) {
    const i = g + 3 * c;
    out[c] = gradients[i]! * dx + gradients[i + 1]! * dy + gradients[i + 2]! * dz;
    out[0] -= out[c]!;
  }
}

/** Volume of each tetrahedron, mm3. */
export const tetrahedronVolume = ({ spacing }: Lattice): number => spacing ** 3 / 12;

/**
 * The place of a point: 12 cube + 4 axis + edge. The pair of cubes lies along `axis`, the first of them is
 * `cube`; edge 0 and 1 lie on the plus and minus side of the face along the next axis, 2 and 3 along the one
 * after it. -1 outside the grid.
 */
function placeOf({ spacing, origin, cubes }: CubeGrid, x: number, y: number, z: number): number {
  const f = [(x - origin[0]) / spacing, (y - origin[1]) / spacing, (z - origin[2]) / spacing];
  const cube = f.map(Math.floor);
  const off = f.map((v, c) => v - cube[c]! - 0.5);
  const far = off.map(Math.abs);
  const axis = far[1]! > far[0]! ? (far[2]! > far[1]! ? 2 : 1) : far[2]! > far[0]! ? 2 : 0;
  const [u, w] = [(axis + 1) % 3, (axis + 2) % 3];
  if (off[axis]! < 0) cube[axis]!--;
  for (let c = 0; c < 3; c++) if (cube[c]! < 0 || cube[c]! >= cubes[c]!) return -1;
  if (cube[axis]! + 1 >= cubes[axis]!) return -1;
  const edge = far[u]! > far[w]! ? (off[u]! > 0 ? 0 : 1) : off[w]! > 0 ? 2 : 3;
  return SHAPES * cubeIndex(cubes, cube[0]!, cube[1]!, cube[2]!) + 4 * axis + edge;
}

const cubeIndex = (cubes: Vec3, i: number, j: number, k: number): number =>
  (i * cubes[1] + j) * cubes[2] + k;

function cubeAt(cubes: Vec3, cube: number): [number, number, number] {
  const k = cube % cubes[2];
  const ij = (cube - k) / cubes[2];
  const j = ij % cubes[1];
  return [(ij - j) / cubes[1], j, k];
}

function centroid({ spacing, origin, cubes }: CubeGrid, place: number): Vec3 {
  const cube = cubeAt(cubes, Math.floor(place / SHAPES));
  const axis = Math.floor(place / 4) % 3;
  const edge = place % 4;
  const p = cube.map((n, c) => origin[c]! + (n + (c === axis ? 1 : 0.5)) * spacing) as [
    number,
    number,
    number,
  ];
  p[(axis + (edge < 2 ? 1 : 2)) % 3]! += ((edge % 2 === 0 ? 1 : -1) * spacing) / 4;
  return p;
}

/** Numbers of the four nodes of a place: corners of cubes first, then centres. */
function nodesOf({ cubes }: CubeGrid, place: number): readonly number[] {
  const cube = cubeAt(cubes, Math.floor(place / SHAPES));
  const axis = Math.floor(place / 4) % 3;
  const edge = place % 4;
  const [u, w] = [(axis + 1) % 3, (axis + 2) % 3];
  const second = [...cube] as [number, number, number];
  second[axis]!++;
  const a = [...second] as [number, number, number];
  const b = [...second] as [number, number, number];
  const [side, along] = edge < 2 ? [u, w] : [w, u];
  if (edge % 2 === 0) {
    a[side]!++;
    b[side]!++;
  }
  b[along]!++;
  return [
    corners(cubes) + cubeIndex(cubes, ...cube),
    corners(cubes) + cubeIndex(cubes, ...second),
    cornerIndex(cubes, a),
    cornerIndex(cubes, b),
  ];
}

const corners = (cubes: Vec3): number => (cubes[0] + 1) * (cubes[1] + 1) * (cubes[2] + 1);
const cornerIndex = (cubes: Vec3, [i, j, k]: Vec3): number =>
  (i * (cubes[1] + 1) + j) * (cubes[2] + 1) + k;

function nodeAt({ spacing, origin, cubes }: CubeGrid, node: number): Vec3 {
  const inner = node >= corners(cubes);
  const size: Vec3 = inner ? cubes : [cubes[0] + 1, cubes[1] + 1, cubes[2] + 1];
  const at = cubeAt(size, inner ? node - corners(cubes) : node);
  return at.map((n, c) => origin[c]! + (n + (inner ? 0.5 : 0)) * spacing) as unknown as Vec3;
}

/** Of each shape function the gradient: square to the opposite face, one over the height. */
function shapeGradients(grid: CubeGrid): Float64Array {
  const out = new Float64Array(SHAPES * SHAPES);
  for (let k = 0; k < SHAPES; k++) {
    const p = nodesOf(grid, k).map((node) => nodeAt(grid, node));
    for (let c = 0; c < 4; c++) {
      const [a, b, d] = [0, 1, 2, 3].filter((i) => i !== c).map((i) => p[i]!) as [Vec3, Vec3, Vec3];
      const n = cross(sub(b, a), sub(d, a));
      const height = dot(n, sub(p[c]!, a));
      for (let i = 0; i < 3; i++) out[SHAPES * k + 3 * c + i] = n[i]! / height;
    }
  }
  return out;
}
