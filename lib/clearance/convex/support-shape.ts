/**
 * Convex shapes by their support function: the hull of points and of rings about one axis, expanded by a
 * margin. Boxes, triangles, beads, balls, capsules, cones, frusta and cylinders are all of that kind,
 * exactly. A shape may be swept: `slides` are vectors along each of which it is drawn from 0 to 1, so that
 * the swept body of a move without turning is a convex shape again and is measured as one.
 */
import { type Frame, applyDirection } from '../../base/frame.js';
import type { Vec3 } from '../../base/vector.js';

/** A direction that leans less than this from the axis of rings is along it, rad. */
const AXIS_ROUNDING = 1e-13;

export class ConvexShape {
  /** Packed xyz, mm. */
  points: Float64Array;
  /** Packed centre xyz and radius, mm. */
  rings: Float64Array;
  /** Unit axis of all rings. */
  axis: Vec3;
  /** Everything within this distance of the hull belongs to the shape, mm. */
  margin: number;

  constructor(
    points: Float64Array,
    margin = 0,
    rings: Float64Array = new Float64Array(0),
    axis: Vec3 = [0, 0, 1],
  ) {
    this.points = points;
    this.margin = margin;
    this.rings = rings;
    this.axis = axis;
  }

  /** Farthest point of the hull (margin left out) along (x, y, z), written into `out[at ..]`. */
  support(x: number, y: number, z: number, out: Float64Array, at: number): void {
    const { points: p, rings: q } = this;
    let most = -Infinity;
    for (let i = 0; i < p.length; i += 3) {
      const far = x * p[i]! + y * p[i + 1]! + z * p[i + 2]!;
      if (far > most) {
        most = far;
        out[at] = p[i]!;
        out[at + 1] = p[i + 1]!;
        out[at + 2] = p[i + 2]!;
      }
    }
    if (q.length === 0) return;
    const [ax, ay, az] = this.axis;
    const lift = x * ax + y * ay + z * az;
    let [rx, ry, rz] = [x - lift * ax, y - lift * ay, z - lift * az];
    // Along the axis the remainder is rounding, and must be made square to the axis once more.
    const rest = rx * ax + ry * ay + rz * az;
    rx -= rest * ax;
    ry -= rest * ay;
    rz -= rest * az;
    const across = Math.sqrt(rx * rx + ry * ry + rz * rz);
    // Rounding alone points anywhere, along the axis too: then any point of the ring's disc will do.
    const side = across > AXIS_ROUNDING * (Math.abs(x) + Math.abs(y) + Math.abs(z)) ? across : 0;
    for (let i = 0; i < q.length; i += 4) {
      const far = x * q[i]! + y * q[i + 1]! + z * q[i + 2]! + side * q[i + 3]!;
      if (far > most) {
        most = far;
        const k = side > 0 ? q[i + 3]! / side : 0;
        out[at] = q[i]! + k * rx;
        out[at + 1] = q[i + 1]! + k * ry;
        out[at + 2] = q[i + 2]! + k * rz;
      }
    }
  }
}

/** The hull of points (balls and capsules with a margin). */
export function hull(points: readonly Vec3[], margin = 0): ConvexShape {
  const packed = new Float64Array(3 * points.length);
  points.forEach(([x, y, z], i) => {
    packed[3 * i] = x;
    packed[3 * i + 1] = y;
    packed[3 * i + 2] = z;
  });
  return new ConvexShape(packed, margin);
}

export function boxShape(from: Vec3, to: Vec3): ConvexShape {
  const out: Vec3[] = [];
  for (let i = 0; i < 8; i++) {
    out.push([i & 1 ? to[0] : from[0], i & 2 ? to[1] : from[1], i & 4 ? to[2] : from[2]]);
  }
  return hull(out);
}

/** A frustum between two rings; a radius of 0 makes a cone, equal ones a cylinder, one ring a disc. */
export const roundShape = (
  rings: readonly { readonly centre: Vec3; readonly radius: number }[],
  axis: Vec3,
): ConvexShape =>
  new ConvexShape(
    new Float64Array(0),
    0,
    Float64Array.from(rings.flatMap((r) => [...r.centre, r.radius])),
    axis,
  );

/** A reusable shape: `take` writes another one, carried by a frame, into it. */
export class Scratch extends ConvexShape {
  readonly #points: Float64Array[] = [];
  readonly #rings: Float64Array[] = [];

  constructor() {
    super(new Float64Array(0));
  }

  /** Room for packed points, to be filled by the caller. */
  room(length: number): Float64Array {
    return (this.points = this.#points[length] ??= new Float64Array(length));
  }

  /** Becomes `shape` carried by the frame and then moved by -(x, y, z). */
  take(shape: ConvexShape, f: Frame, x: number, y: number, z: number): void {
    const p = shape.points;
    const out = this.room(p.length);
    for (let i = 0; i < p.length; i += 3) carry(f, p, i, out, i, x, y, z);
    const q = shape.rings;
    this.rings = this.#rings[q.length] ??= new Float64Array(q.length);
    for (let i = 0; i < q.length; i += 4) {
      carry(f, q, i, this.rings, i, x, y, z);
      this.rings[i + 3] = q[i + 3]!;
    }
    if (q.length > 0) this.axis = applyDirection(f, shape.axis);
    this.margin = shape.margin;
  }
}

function carry(
  f: Frame,
  p: Float64Array,
  from: number,
  out: Float64Array,
  to: number,
  x: number,
  y: number,
  z: number,
): void {
  const [a, b, c] = [p[from]!, p[from + 1]!, p[from + 2]!];
  out[to] = f[0]! * a + f[4]! * b + f[8]! * c + f[12]! - x;
  out[to + 1] = f[1]! * a + f[5]! * b + f[9]! * c + f[13]! - y;
  out[to + 2] = f[2]! * a + f[6]! * b + f[10]! * c + f[14]! - z;
}

/** Centre xyz and half extent xyz of a shape, written into `out[at ..]`. */
export function boxInto(shape: ConvexShape, out: Float64Array, at: number): void {
  const far = new Float64Array(3);
  for (let c = 0; c < 3; c++) {
    const d = [0, 1, 2].map((k) => (k === c ? 1 : 0)) as [number, number, number];
    shape.support(...d, far, 0);
    const high = far[c]! + shape.margin;
    shape.support(-d[0], -d[1], -d[2], far, 0);
    const low = far[c]! - shape.margin;
    out[at + c] = (low + high) / 2;
    out[at + 3 + c] = (high - low) / 2;
  }
}
