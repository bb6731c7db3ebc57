/**
 * A flat joint under bending and pull: the area over which a part is held, and the greatest tension in
 * it. Plane sections stay plane, so the tension over a joint of area A and second moments J about its
 * centroid is linear (unsymmetrical bending; Timoshenko, Strength of Materials, part I). With the force
 * R at the point r over the centroid, the tension at the place q of the outline is k(q, r).R with
 *   w = J^-1 q,   k = (-w_x r_z, -w_y r_z, 1/A + w_x r_x + w_y r_y).
 *
 * A stress field in equilibrium that exceeds the limit nowhere proves that the joint holds (lower bound
 * theorem of plasticity), so this one figure covers tipping over an edge as well: for a square on its
 * whole foot it allows a third of the moment that would tip the square with full tension over all of it.
 */
import type { Polygons } from '../polygon/polygons.js';
import type { Vec3 } from '../base/vector.js';

/** Area with its moments about the origin, and the outermost points. Millimetres; z is the level. */
export interface Footprint {
  readonly z: number;
  readonly area: number;
  /** Integrals of x, y, x2, xy, y2 over the area. */
  readonly moments: readonly [number, number, number, number, number];
  /** The farthest points in even directions, packed x, y. */
  readonly rim: Float64Array;
}

/** Directions in which the rim is sought: of a circle's radius it misses at most 0.3 %. */
const RIM_DIRECTIONS = 48;

/** Moments by Green's theorem over the edges of the loops. */
export function footprintOf({ points, start }: Polygons, z: number): Footprint {
  let area = 0;
  const m: [number, number, number, number, number] = [0, 0, 0, 0, 0];
  for (let loop = 0; loop + 1 < start.length; loop++) {
    const [from, to] = [start[loop]!, start[loop + 1]!];
    for (let i = from, j = to - 1; i < to; j = i++) {
      const [ax, ay, bx, by] = [
        points[2 * j]!,
        points[2 * j + 1]!,
        points[2 * i]!,
        points[2 * i + 1]!,
      ];
      const s = ax * by - bx * ay;
      area += s / 2;
      m[0] += (s * (ax + bx)) / 6;
      m[1] += (s * (ay + by)) / 6;
      m[2] += (s * (ax * ax + ax * bx + bx * bx)) / 12;
      m[3] += (s * (ax * by + 2 * ax * ay + 2 * bx * by + bx * ay)) / 24;
      m[4] += (s * (ay * ay + ay * by + by * by)) / 12;
    }
  }
  return { z, area, moments: m, rim: rimOf(points) };
}

function rimOf(points: Float64Array): Float64Array {
  const out: number[] = [];
  for (let k = 0; k < RIM_DIRECTIONS && points.length > 0; k++) {
    const [x, y] = [
      Math.cos((2 * Math.PI * k) / RIM_DIRECTIONS),
      Math.sin((2 * Math.PI * k) / RIM_DIRECTIONS),
    ];
    let [best, most] = [0, -Infinity];
    for (let i = 0; i < points.length; i += 2) {
      const far = points[i]! * x + points[i + 1]! * y;
      if (far > most) [best, most] = [i, far];
    }
    const [px, py] = [points[best]!, points[best + 1]!];
    // A corner is the farthest point in many directions.
    if (px !== out.at(-2) || py !== out.at(-1)) out.push(px, py);
  }
  return Float64Array.from(out);
}

/** Two joints at one level that hold together. */
export function together(a: Footprint, b: Footprint): Footprint {
  return {
    z: a.z,
    area: a.area + b.area,
    moments: a.moments.map((m, i) => m + b.moments[i]!) as unknown as Footprint['moments'],
    rim: rimOf(Float64Array.from([...a.rim, ...b.rim])),
  };
}

/** The tension in a joint for any force at any point. */
export class BondedJoint {
  readonly #area: number;
  readonly #centre: Vec3;
  /** w of each point of the rim, packed. */
  readonly #rim: Float64Array;

  /** @param print of an area above 0, not all on one line */
  constructor({ z, area, moments: [x, y, xx, xy, yy], rim }: Footprint) {
    const [cx, cy] = [x / area, y / area];
    const [jxx, jxy, jyy] = [xx - area * cx * cx, xy - area * cx * cy, yy - area * cy * cy];
    const det = jxx * jyy - jxy * jxy;
    this.#area = area;
    this.#centre = [cx, cy, z];
    this.#rim = new Float64Array(rim.length);
    for (let i = 0; i < rim.length; i += 2) {
      const [p, q] = [rim[i]! - cx, rim[i + 1]! - cy];
      this.#rim[i] = (jyy * p - jxy * q) / det;
      this.#rim[i + 1] = (jxx * q - jxy * p) / det;
    }
  }

  /** Tension at each point of the rim, MPa, with a force (N) at a point (mm). */
  tensions(force: Vec3, point: Vec3): Float64Array {
    const [cx, cy, cz] = this.#centre;
    const [x, y, z] = [point[0] - cx, point[1] - cy, point[2] - cz];
    const w = this.#rim;
    return Float64Array.from({ length: w.length / 2 }, (_, i) => {
      const pull = 1 / this.#area + w[2 * i]! * x + w[2 * i + 1]! * y;
      return pull * force[2] - z * (w[2 * i]! * force[0] + w[2 * i + 1]! * force[1]);
    });
  }

  /**
   * The greatest tension at each point of the rim, MPa, with a push of any sense square to d at any of
   * the points: its part square to d is what of k counts.
   * @param points packed xyz, mm
   */
  pushed(newtons: number, d: Vec3, points: Float64Array): Float64Array {
    const w = this.#rim;
    const out = new Float64Array(w.length / 2);
    const [cx, cy, cz] = this.#centre;
    const [dx, dy, dz] = d;
    for (let p = 0; p < points.length; p += 3) {
      const x = points[p]! - cx;
      const y = points[p + 1]! - cy;
      const z = points[p + 2]! - cz;
      for (let i = 0; i < out.length; i++) {
        const wx = w[2 * i]!;
        const wy = w[2 * i + 1]!;
        const kz = 1 / this.#area + wx * x + wy * y;
        const along = kz * dz - z * (wx * dx + wy * dy);
        const squared = z * z * (wx * wx + wy * wy) + kz * kz - along * along;
        if (squared > out[i]!) out[i] = squared;
      }
    }
    return out.map((squared) => newtons * Math.sqrt(squared));
  }
}
