/**
 * Bodies by mass, centre and inertia: homogeneous solids (mm, kg) as SI values (m, kg, kg m2), summed by
 * the parallel-axis theorem. The printed part grows bead by bead in the same way.
 */
import type { Vec3 } from '../base/vector.js';
import { scale, sub, unit, length } from '../base/vector.js';
import type { Solid } from './simple-solids.js';

/** Inertia about the centre, kg m2: xx yy zz xy xz yz, products with their sign in the matrix. */
export type Inertia = readonly [number, number, number, number, number, number];

export interface Mass {
  /** kg */
  readonly kg: number;
  /** m */
  readonly centre: Vec3;
  readonly inertia: Inertia;
}

export const NO_MASS: Mass = { kg: 0, centre: [0, 0, 0], inertia: [0, 0, 0, 0, 0, 0] };

/** kg of 1 mm3 with a density of 1 g/cm3. */
export const KG_PER_MM3 = 1e-6;

const METRES = 1e-3;

/** Box m (b2 + c2) / 12; cylinder m r2 / 2 about its axis and m (3 r2 + h2) / 12 across. */
export function solidMass(solid: Solid, kg: number): Mass {
  const from = scale(solid.from, METRES);
  const size = sub(scale(solid.to, METRES), from);
  const centre: Vec3 = [from[0] + size[0] / 2, from[1] + size[1] / 2, from[2] + size[2] / 2];
  if (solid.shape === 'box') {
    const [x, y, z] = size.map((s) => (kg * s * s) / 12) as [number, number, number];
    return { kg, centre, inertia: [y + z, x + z, x + y, 0, 0, 0] };
  }
  const r = solid.radius * METRES;
  const across = (kg * (3 * r * r + length(size) ** 2)) / 12;
  const extra = (kg * r * r) / 2 - across;
  const [x, y, z] = unit(size);
  return {
    kg,
    centre,
    inertia: [
      across + extra * x * x,
      across + extra * y * y,
      across + extra * z * z,
      extra * x * y,
      extra * x * z,
      extra * y * z,
    ],
  };
}

/** Both as one body. */
export function joined(a: Mass, b: Mass): Mass {
  const kg = a.kg + b.kg;
  if (!(kg > 0)) return NO_MASS;
  const centre = [0, 1, 2].map(
    (c) => (a.kg * a.centre[c]! + b.kg * b.centre[c]!) / kg,
  ) as unknown as Vec3;
  const [x, y, z] = sub(b.centre, a.centre);
  const k = (a.kg * b.kg) / kg;
  const apart = [y * y + z * z, x * x + z * z, x * x + y * y, -x * y, -x * z, -y * z];
  return {
    kg,
    centre,
    inertia: apart.map((p, i) => a.inertia[i]! + b.inertia[i]! + k * p) as unknown as Inertia,
  };
}

/** The printed part as it grows: beads as thin homogeneous rods, in the frame of their points. */
export class GrowingMass {
  kg = 0;
  readonly #first = new Float64Array(3);
  /** Sums of m p p, xx yy zz xy xz yz. */
  readonly #second = new Float64Array(6);

  /** A bead from p to q, m. */
  add(kg: number, p: ArrayLike<number>, q: ArrayLike<number>): void {
    this.kg += kg;
    const f = this.#first;
    const s = this.#second;
    const [mx, my, mz] = [(p[0]! + q[0]!) / 2, (p[1]! + q[1]!) / 2, (p[2]! + q[2]!) / 2];
    const [dx, dy, dz] = [q[0]! - p[0]!, q[1]! - p[1]!, q[2]! - p[2]!];
    f[0]! += kg * mx;
    f[1]! += kg * my;
    f[2]! += kg * mz;
    s[0]! += kg * (mx * mx + (dx * dx) / 12);
    s[1]! += kg * (my * my + (dy * dy) / 12);
    s[2]! += kg * (mz * mz + (dz * dz) / 12);
    s[3]! += kg * (mx * my + (dx * dy) / 12);
    s[4]! += kg * (mx * mz + (dx * dz) / 12);
    s[5]! += kg * (my * mz + (dy * dz) / 12);
  }

  mass(): Mass {
    if (!(this.kg > 0)) return NO_MASS;
    const [x, y, z] = [...this.#first].map((f) => f / this.kg) as [number, number, number];
    const [xx, yy, zz, xy, xz, yz] = [...this.#second] as [
      number,
      number,
      number,
      number,
      number,
      number,
    ];
    const m = this.kg;
    const [a, b, c] = [xx - m * x * x, yy - m * y * y, zz - m * z * z];
    return {
      kg: m,
      centre: [x, y, z],
      inertia: [b + c, a + c, a + b, -(xy - m * x * y), -(xz - m * x * z), -(yz - m * y * z)],
    };
  }
}
