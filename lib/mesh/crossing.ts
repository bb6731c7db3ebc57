/**
 * Pairs of facets of one mesh that cross, found by walking its tree of boxes against itself. Two facets
 * cross when an edge of one passes through the inside of the other; facets that only touch, within the
 * rounding of float64, do not. Facets in one plane that overlap are told apart from those that cross.
 */
import type { Tree } from './bvh.js';
import type { Mesh } from './mesh.js';

export type Contact = 'cross' | 'overlap';

/**
 * Calls `visit` for each pair of facets that cross or lie on each other in one plane, in a fixed order.
 * @param wanted tells which pairs to look at; all when absent
 * @param visit returns false to end the walk
 */
export function eachContact(
  tree: Tree,
  visit: (a: number, b: number, contact: Contact) => boolean,
  wanted: (a: number, b: number) => boolean = () => true,
): void {
  const { leaf, link, order, boxes, mesh } = tree;
  if (leaf.length === 0) return;
  const stack: number[] = [0, 0];
  const measure = new Measure(mesh);
  while (stack.length > 0) {
    const b = stack.pop()!;
    const a = stack.pop()!;
    if (a !== b && !boxesMeet(boxes, a, b)) continue;
    if (leaf[a]! > 0 && leaf[b]! > 0) {
      for (let i = link[a]!; i < link[a]! + leaf[a]!; i++) {
        for (let k = a === b ? i + 1 : link[b]!; k < link[b]! + leaf[b]!; k++) {
          if (!wanted(order[i]!, order[k]!)) continue;
          const contact = measure.contact(order[i]!, order[k]!);
          if (contact && !visit(order[i]!, order[k]!, contact)) return;
        }
      }
    } else if (a === b) {
      stack.push(a + 1, a + 1, link[a]!, link[a]!, a + 1, link[a]!);
    } else if (leaf[a]! > 0 || (leaf[b]! === 0 && size(boxes, b) > size(boxes, a))) {
      stack.push(a, b + 1, a, link[b]!);
    } else {
      stack.push(a + 1, b, link[a]!, b);
    }
  }
}

function boxesMeet(boxes: Float64Array, a: number, b: number): boolean {
  for (let c = 0; c < 3; c++) {
    if (boxes[6 * a + c]! > boxes[6 * b + 3 + c]!) return false;
    if (boxes[6 * b + c]! > boxes[6 * a + 3 + c]!) return false;
  }
  return true;
}

const size = (boxes: Float64Array, n: number): number =>
  boxes[6 * n + 3]! -
  boxes[6 * n]! +
  boxes[6 * n + 4]! -
  boxes[6 * n + 1]! +
  boxes[6 * n + 5]! -
  boxes[6 * n + 2]!;

/** The test for one pair; keeps the six corners at hand so that none is allocated. */
class Measure {
  readonly #mesh: Mesh;
  readonly #p = new Float64Array(18);
  readonly #sides = new Float64Array(6);

  constructor(mesh: Mesh) {
    this.#mesh = mesh;
  }

  contact(s: number, t: number): Contact | undefined {
    const { vertices, triangles } = this.#mesh;
    const p = this.#p;
    for (let i = 0; i < 3; i++) {
      const a = 3 * triangles[3 * s + i]!;
      const b = 3 * triangles[3 * t + i]!;
      for (let c = 0; c < 3; c++) {
        p[3 * i + c] = vertices[a + c]!;
        p[9 + 3 * i + c] = vertices[b + c]!;
      }
    }
    const side = this.#sides;
    for (let i = 0; i < 3; i++) side[i] = orient(p, 3, 4, 5, i);
    if (oneSided(side, 0)) return undefined;
    for (let i = 3; i < 6; i++) side[i] = orient(p, 0, 1, 2, i);
    if (oneSided(side, 3)) return undefined;
    if (flat(side, 0) && flat(side, 3)) return overlaps(p) ? 'overlap' : undefined;
    for (let i = 0; i < 3; i++) {
      const k = (i + 1) % 3;
      if (side[i]! * side[k]! < 0 && pierces(p, i, k, 3)) return 'cross';
      if (side[3 + i]! * side[3 + k]! < 0 && pierces(p, 3 + i, 3 + k, 0)) return 'cross';
    }
    return undefined;
  }
}

/** All on one side of the other's plane, touching it at most, and not all within it. */
const oneSided = (s: Float64Array, o: number): boolean =>
  !flat(s, o) &&
  ((s[o]! >= 0 && s[o + 1]! >= 0 && s[o + 2]! >= 0) ||
    (s[o]! <= 0 && s[o + 1]! <= 0 && s[o + 2]! <= 0));

const flat = (s: Float64Array, o: number): boolean =>
  s[o] === 0 && s[o + 1] === 0 && s[o + 2] === 0;

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
 * Whether two triangles in one plane share area: no edge line of either parts them, touching allowed.
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
