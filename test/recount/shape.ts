/**
 * What is laid against the part: volume by the divergence theorem, and how far the part's surface lies from
 * where the material ends, at points spread over its facets. Beads are stadiums of their height, their
 * section the metered one, and the distance of a place from one is in closed form: to a flat strip halfway
 * up it, less half the height.
 */
import { type Beads, type Frame, cross, dot, frameOf, minus } from './beads.js';
import type { Vec } from './chain.js';

export interface Shape {
  /** mm3 */
  readonly laid: number;
  readonly part: number;
  /** Size of the error up to which 95 % of the surface lies, and its mean with sign, mm. */
  readonly p95: number;
  readonly mean: number;
}

/** A closed mesh as corners of triangles. */
export type Facets = readonly (readonly [Vec, Vec, Vec])[];

/** Points of the surface are so far apart, and errors are sought so far, mm. */
const SPACING = 0.5;
const FARTHEST = 0.8;
const STEP = 0.02;
const CELL = 1;
const SIDE = 1024;

export function shapeOf(beads: Beads, facets: Facets, laid: number): Shape {
  const solid = new Solid(beads);
  const errors: [number, number][] = [];
  for (const [a, b, c] of facets) {
    const n = cross(minus(b, a), minus(c, a));
    const twice = Math.hypot(...n);
    if (twice < 1e-9) continue;
    const out: Vec = [n[0] / twice, n[1] / twice, n[2] / twice];
    const rows = Math.max(1, Math.ceil(Math.sqrt(twice) / SPACING));
    for (const p of spread(a, b, c, rows)) {
      // The table cuts off what would stand out of a face on it.
      if (p[2] < 1e-6) continue;
      errors.push([errorAt(solid, p, out), twice / 2 / rows ** 2]);
    }
  }
  const all = errors.reduce((sum, [, w]) => sum + w, 0);
  const mean = errors.reduce((sum, [e, w]) => sum + e * w, 0) / all;
  return { laid, part: volumeOf(facets), p95: quantile(errors, 0.95 * all), mean };
}

/** Middles of n^2 equal triangles. */
function spread(a: Vec, b: Vec, c: Vec, n: number): Vec[] {
  const out: Vec[] = [];
  const at = (i: number, j: number): Vec =>
    [0, 1, 2].map((k) => a[k]! + (i / n) * (b[k]! - a[k]!) + (j / n) * (c[k]! - a[k]!)) as never;
  for (let i = 0; i < n; i++) {
    for (let j = 0; i + j < n; j++) {
      out.push(at(i + 1 / 3, j + 1 / 3));
      if (i + j + 1 < n) out.push(at(i + 2 / 3, j + 2 / 3));
    }
  }
  return out;
}

/** mm; positive where material stands out. */
function errorAt(solid: Solid, p: Vec, out: Vec): number {
  const here = solid.distance(p);
  if (here > 0) return -Math.min(here, FARTHEST);
  for (let s = STEP; s < FARTHEST; s += STEP) {
    const q: Vec = [p[0] + s * out[0], p[1] + s * out[1], p[2] + s * out[2]];
    if (solid.distance(q) > 0) return s - STEP / 2;
  }
  return FARTHEST;
}

function quantile(weighted: readonly (readonly [number, number])[], upTo: number): number {
  const sizes = weighted.map(([e, w]) => [Math.abs(e), w] as const).sort((x, y) => x[0] - y[0]);
  let sum = 0;
  for (const [size, w] of sizes) if ((sum += w) >= upTo) return size;
  return 0;
}

/** The union of all beads. */
export class Solid {
  readonly #beads: Beads;
  readonly #frames: readonly Frame[];
  readonly #cells = new Map<number, number[]>();

  constructor(beads: Beads) {
    this.#beads = beads;
    this.#frames = Array.from({ length: beads.count }, (_, i) => frameOf(beads, i));
    for (let i = 0; i < beads.count; i++) {
      const n = Math.ceil(beads.length[i]! / (CELL / 2));
      for (let k = 0; k <= n; k++) {
        const key = keyOf(
          ...cellOf(
            [0, 1, 2].map(
              (c) =>
                beads.tip[6 * i + c]! +
                (k / n) * (beads.tip[6 * i + 3 + c]! - beads.tip[6 * i + c]!),
            ) as never as Vec,
          ),
        );
        const cell = this.#cells.get(key);
        if (!cell) this.#cells.set(key, [i]);
        else if (cell.at(-1) !== i) cell.push(i);
      }
    }
  }

  /** To the nearest bead, negative inside one; of those that are no farther than FARTHEST exact. */
  distance(p: Vec): number {
    let least = Infinity;
    const reach = FARTHEST + CELL / 2;
    const [low, high] = [-reach, reach].map((by) => cellOf(p.map((x) => x + by) as never as Vec));
    for (let i = low![0]; i <= high![0]; i++) {
      for (let j = low![1]; j <= high![1]; j++) {
        for (let k = low![2]; k <= high![2]; k++) {
          for (const at of this.#cells.get(keyOf(i, j, k)) ?? []) {
            least = Math.min(least, this.#to(at, p));
          }
        }
      }
    }
    return least;
  }

  #to(i: number, p: Vec): number {
    const { tip, length, volume, height } = this.#beads;
    const area = volume[i]! / length[i]!;
    const h = Math.min(height[i]!, 2 * Math.sqrt(area / Math.PI));
    const side = Math.max(0, (area / h + h * (1 - Math.PI / 4) - h) / 2);
    const q = minus(p, [tip[6 * i]!, tip[6 * i + 1]!, tip[6 * i + 2]!]);
    const { along, across, up } = this.#frames[i]!;
    const x = dot(q, along);
    const out = x < 0 ? x : Math.max(0, x - length[i]!);
    const aside = Math.max(0, Math.abs(dot(q, across)) - side);
    return Math.hypot(out, aside, dot(q, up) + h / 2) - h / 2;
  }
}

/** Sum over facets of the tetrahedron to the origin. */
export const volumeOf = (facets: Facets): number =>
  facets.reduce((sum, [a, b, c]) => sum + dot(a, cross(b, c)) / 6, 0);

const cellOf = (p: Vec): [number, number, number] =>
  p.map((x) => Math.floor(x / CELL) + SIDE / 2) as [number, number, number];
const keyOf = (i: number, j: number, k: number): number => (i * SIDE + j) * SIDE + k;
