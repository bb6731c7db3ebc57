/**
 * Pairs of facets of one mesh that cross, found by traversing its bounding volume hierarchy against
 * itself. Two facets cross when an edge of one passes through the inside of the other by more than a
 * stated depth; facets that only touch do not. Coplanar facets that share area are reported apart from
 * those that cross. Time grows with the facets and with what is found.
 */
import { type BoxTree, facetBoxes } from '../bvh.js';
import { type Mesh } from '../mesh.js';
import { diagonal } from '../shells.js';

export type FacetContact = 'cross' | 'overlap';

/**
 * Facets that reach through each other by less than this share of the diagonal only touch: twice the
 * rounding of float32, in which most files hold their coordinates.
 */
const TOUCHING_DEPTH = 1.2e-7;

/**
 * Calls `visit` for each pair of facets that cross or share area in one plane, in a fixed order.
 * @param wanted whether a pair is to be tested
 * @param visit returns false to end the walk
 */
export function eachContact(
  tree: BoxTree,
  visit: (a: number, b: number, contact: FacetContact) => boolean,
  wanted: (a: number, b: number) => boolean = () => true,
): void {
  const { leaf, link, order, boxes, mesh } = tree;
  if (leaf.length === 0) return;
  const limits = facetBoxes(mesh);
  const pair = new FacetPair(mesh, TOUCHING_DEPTH * diagonal(mesh));
  let stack = new Uint32Array(1024);
  let top = 2;
  while (top > 0) {
    if (top + 6 > stack.length) stack = grown(stack);
    const b = stack[--top]!;
    const a = stack[--top]!;
    if (a !== b && !meet(boxes, a, b)) continue;
    if (leaf[a]! > 0 && leaf[b]! > 0) {
      for (let i = link[a]!; i < link[a]! + leaf[a]!; i++) {
        for (let k = a === b ? i + 1 : link[b]!; k < link[b]! + leaf[b]!; k++) {
          const s = order[i]!;
          const t = order[k]!;
          if (!meet(limits, s, t) || !wanted(s, t)) continue;
          const contact = pair.contact(s, t);
          if (contact && !visit(s, t, contact)) return;
        }
      }
    } else if (a === b) {
      const right = link[a]!;
      stack[top++] = a + 1;
      stack[top++] = a + 1;
      stack[top++] = right;
      stack[top++] = right;
      stack[top++] = a + 1;
      stack[top++] = right;
    } else {
      const splitB = leaf[a]! > 0 || (leaf[b]! === 0 && girth(boxes, b) > girth(boxes, a));
      const whole = splitB ? a : b;
      const split = splitB ? b : a;
      stack[top++] = whole;
      stack[top++] = split + 1;
      stack[top++] = whole;
      stack[top++] = link[split]!;
    }
  }
}

function grown(stack: Uint32Array): Uint32Array<ArrayBuffer> {
  const next = new Uint32Array(2 * stack.length);
  next.set(stack);
  return next;
}

function meet(boxes: Float64Array, a: number, b: number): boolean {
  const i = 6 * a;
  const k = 6 * b;
  return (
    boxes[i]! <= boxes[k + 3]! &&
    boxes[k]! <= boxes[i + 3]! &&
    boxes[i + 1]! <= boxes[k + 4]! &&
    boxes[k + 1]! <= boxes[i + 4]! &&
    boxes[i + 2]! <= boxes[k + 5]! &&
    boxes[k + 2]! <= boxes[i + 5]!
  );
}

const girth = (b: Float64Array, n: number): number =>
  b[6 * n + 3]! - b[6 * n]! + b[6 * n + 4]! - b[6 * n + 1]! + b[6 * n + 5]! - b[6 * n + 2]!;

/** The test for one pair; holds the six corners so that nothing is allocated. */
class FacetPair {
  readonly mesh: Mesh;
  readonly depth: number;
  /** Corners of the first facet, then of the second. */
  readonly p = new Float64Array(18);
  /** On which side of the other facet's plane each corner lies: -1, 0 (within depth), 1. */
  readonly side = new Int8Array(6);

  constructor(mesh: Mesh, depth: number) {
    this.mesh = mesh;
    this.depth = depth;
  }

  contact(s: number, t: number): FacetContact | undefined {
    const { p, side } = this;
    this.load(s, 0);
    this.load(t, 9);
    this.takeSides(9, 0);
    if (oneSided(side, 0)) return undefined;
    this.takeSides(0, 3);
    if (oneSided(side, 3)) return undefined;
    if (flat(side, 0) || flat(side, 3)) {
      return flat(side, 0) && flat(side, 3) && overlaps(p) ? 'overlap' : undefined;
    }
    for (let i = 0; i < 3; i++) {
      const k = (i + 1) % 3;
      if (side[i]! * side[k]! < 0 && pierces(p, i, k, 3)) return 'cross';
      if (side[3 + i]! * side[3 + k]! < 0 && pierces(p, 3 + i, 3 + k, 0)) return 'cross';
    }
    return undefined;
  }

  load(facet: number, at: number): void {
    const { vertices, triangles } = this.mesh;
    for (let i = 0; i < 3; i++) {
      const v = 3 * triangles[3 * facet + i]!;
      this.p[at + 3 * i] = vertices[v]!;
      this.p[at + 3 * i + 1] = vertices[v + 1]!;
      this.p[at + 3 * i + 2] = vertices[v + 2]!;
    }
  }

  /** Sides of the corners from `first` on, against the plane of the facet whose corners begin at `f`. */
  takeSides(f: number, first: number): void {
    const { p, side } = this;
    const ux = p[f + 3]! - p[f]!;
    const uy = p[f + 4]! - p[f + 1]!;
    const uz = p[f + 5]! - p[f + 2]!;
    const wx = p[f + 6]! - p[f]!;
    const wy = p[f + 7]! - p[f + 1]!;
    const wz = p[f + 8]! - p[f + 2]!;
    const nx = uy * wz - uz * wy;
    const ny = uz * wx - ux * wz;
    const nz = ux * wy - uy * wx;
    const limit = this.depth * Math.sqrt(nx * nx + ny * ny + nz * nz);
    for (let i = first; i < first + 3; i++) {
      const d =
        nx * (p[3 * i]! - p[f]!) +
        ny * (p[3 * i + 1]! - p[f + 1]!) +
        nz * (p[3 * i + 2]! - p[f + 2]!);
      side[i] = d > limit ? 1 : d < -limit ? -1 : 0;
    }
  }
}

const flat = (s: Int8Array, o: number): boolean => s[o] === 0 && s[o + 1] === 0 && s[o + 2] === 0;

/** All on one side of the other's plane, touching it at most, and not all within it. */
const oneSided = (s: Int8Array, o: number): boolean =>
  !flat(s, o) &&
  ((s[o]! >= 0 && s[o + 1]! >= 0 && s[o + 2]! >= 0) ||
    (s[o]! <= 0 && s[o + 1]! <= 0 && s[o + 2]! <= 0));

/** Whether the segment u v, which passes the plane of triangle t, t+1, t+2, passes its inside. */
function pierces(p: Float64Array, u: number, v: number, t: number): boolean {
  const a = orient(p, u, v, t, t + 1);
  if (a === 0) return false;
  const b = orient(p, u, v, t + 1, t + 2);
  if (a * b <= 0) return false;
  return a * orient(p, u, v, t + 2, t) > 0;
}

/**
 * Sign of the volume that points a, b, c, d span: Shewchuk's determinant with his first error bound
 * (Adaptive Precision Floating-Point Arithmetic, 1997, section 4.3); 0 when rounding could decide.
 */
function orient(p: Float64Array, a: number, b: number, c: number, d: number): number {
  const ax = p[3 * a]! - p[3 * d]!;
  const ay = p[3 * a + 1]! - p[3 * d + 1]!;
  const az = p[3 * a + 2]! - p[3 * d + 2]!;
  const bx = p[3 * b]! - p[3 * d]!;
  const by = p[3 * b + 1]! - p[3 * d + 1]!;
  const bz = p[3 * b + 2]! - p[3 * d + 2]!;
  const cx = p[3 * c]! - p[3 * d]!;
  const cy = p[3 * c + 1]! - p[3 * d + 1]!;
  const cz = p[3 * c + 2]! - p[3 * d + 2]!;
  const bc = bx * cy;
  const cb = cx * by;
  const ca = cx * ay;
  const ac = ax * cy;
  const ab = ax * by;
  const ba = bx * ay;
  const det = az * (bc - cb) + bz * (ca - ac) + cz * (ab - ba);
  const most =
    (Math.abs(bc) + Math.abs(cb)) * Math.abs(az) +
    (Math.abs(ca) + Math.abs(ac)) * Math.abs(bz) +
    (Math.abs(ab) + Math.abs(ba)) * Math.abs(cz);
  return Math.abs(det) > 7.7715611723761027e-16 * most ? Math.sign(det) : 0;
}

/**
 * Whether two triangles in one plane share area: no edge line of either separates them, touching allowed.
 * Seen along the axis in which the first triangle's normal is longest.
 */
function overlaps(p: Float64Array): boolean {
  const normal = [0, 1, 2].map((c) => {
    const [x, y] = [(c + 1) % 3, (c + 2) % 3];
    return area2(p, 0, 1, 2, x, y);
  });
  const axis = normal.reduce((most, n, c) => (Math.abs(n) > Math.abs(normal[most]!) ? c : most), 0);
  if (normal[axis] === 0) return false;
  const x = (axis + 1) % 3;
  const y = (axis + 2) % 3;
  for (const from of [0, 3]) {
    const own = Math.sign(area2(p, from, from + 1, from + 2, x, y));
    if (own === 0) return false;
    for (let i = 0; i < 3; i++) {
      const u = from + i;
      const v = from + ((i + 1) % 3);
      const parted = [0, 1, 2].every((k) => {
        const w = 3 - from + k;
        const slack = 1e-9 * (span(p, u, v, x, y) + span(p, u, w, x, y)) ** 2;
        return own * area2(p, u, v, w, x, y) <= slack;
      });
      if (parted) return false;
    }
  }
  return true;
}

/** Twice the signed area of a, b, c in coordinates x, y. */
const area2 = (p: Float64Array, a: number, b: number, c: number, x: number, y: number): number =>
  (p[3 * b + x]! - p[3 * a + x]!) * (p[3 * c + y]! - p[3 * a + y]!) -
  (p[3 * b + y]! - p[3 * a + y]!) * (p[3 * c + x]! - p[3 * a + x]!);

const span = (p: Float64Array, a: number, b: number, x: number, y: number): number =>
  Math.abs(p[3 * a + x]! - p[3 * b + x]!) + Math.abs(p[3 * a + y]! - p[3 * b + y]!);
