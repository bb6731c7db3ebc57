/**
 * The sheets of curved layers as points: every place where the tip laid something, by the region and the
 * layer that the program's marks name. How deep a sheet lies under a place along an axis, and how it leans
 * there, is a plane through the points nearby by weighted least squares, near ones counting most.
 */
import { type Beads, dot, minus, unit } from './beads.js';
import type { Vec } from './chain.js';
import type { Moves } from './program.js';

/** Points along a bead are this far apart, mm; edge of a cell. */
const SPACING = 0.3;
const CELL = 1;
/** Points are gathered so far beside the axis, mm: farther only where nearer ones are too few. */
const ASIDE = [0.8, 1.4, 2.2, 3] as const;
const FEW = 8;
/** And so far over a place and under it, mm. */
const OVER = 0.4;
const UNDER = 1.2;
/** Points count half as much this far beside the axis, mm. */
const NEAR = 0.35;
/** Slopes across a single row of points are not known: with this spread, mm2, they are taken for none. */
const FLAT = 0.004;

export interface Plane {
  /** How far under the place the plane is along the axis, mm; negative over it. */
  readonly depth: number;
  /** Between the axis and the plane's normal, rad. */
  readonly lean: number;
  /** Unit, on the axis's side. */
  readonly normal: Vec;
  /** Whether the points lie to all sides, so that the lean is known. */
  readonly sure: boolean;
}

export class Sheets {
  readonly #points: number[] = [];
  readonly #cells = new Map<number, number[]>();

  constructor({ count, tip, length, block }: Beads, { region, layer }: Moves) {
    for (let i = 0; i < count; i++) {
      const n = Math.max(1, Math.ceil(length[i]! / SPACING));
      for (let k = 0; k < n; k++) {
        const t = (k + 0.5) / n;
        const p = [0, 1, 2].map(
          (c) => tip[6 * i + c]! + t * (tip[6 * i + 3 + c]! - tip[6 * i + c]!),
        ) as never as Vec;
        const key = keyOf(region[block[i]!]!, layer[block[i]!]!, ...cellOf(p));
        const cell = this.#cells.get(key);
        if (cell) cell.push(this.#points.length);
        else this.#cells.set(key, [this.#points.length]);
        this.#points.push(...p);
      }
    }
  }

  /** The plane through what a layer laid near a place; nothing if it laid nothing there. */
  plane(region: number, layer: number, p: Vec, axis: Vec): Plane | undefined {
    const [u, v] = squareTo(axis);
    for (const aside of ASIDE) {
      const near = this.#near(region, layer, p, axis, aside);
      if (near.length === 0 || (near.length < FEW && aside < ASIDE.at(-1)!)) continue;
      return fit(
        near.map((q) => [dot(q, u), dot(q, v), -dot(q, axis)]),
        [u, v, axis],
      );
    }
    return undefined;
  }

  /** Points from the place, near its axis. */
  #near(region: number, layer: number, p: Vec, axis: Vec, aside: number): Vec[] {
    const out: Vec[] = [];
    const reach = Math.hypot(aside, UNDER);
    const [low, high] = [-reach, reach].map((by) => cellOf(p.map((x) => x + by) as never as Vec));
    for (let i = low![0]; i <= high![0]; i++) {
      for (let j = low![1]; j <= high![1]; j++) {
        for (let k = low![2]; k <= high![2]; k++) {
          for (const at of this.#cells.get(keyOf(region, layer, i, j, k)) ?? []) {
            const q = minus(this.#points.slice(at, at + 3) as never as Vec, p);
            const depth = -dot(q, axis);
            if (depth < -OVER || depth > UNDER) continue;
            if (dot(q, q) - depth * depth <= aside * aside) out.push(q);
          }
        }
      }
    }
    return out;
  }
}

/** Rows of two places in the plane and a depth: depth = c + a x + b y. */
export function fit(
  rows: readonly (readonly number[])[],
  [u, v, axis]: readonly [Vec, Vec, Vec],
): Plane {
  const weight = rows.map(([x, y]) => 1 / (1 + (x! ** 2 + y! ** 2) / NEAR ** 2));
  const all = weight.reduce((a, b) => a + b, 0);
  const mean = (f: (row: readonly number[]) => number): number =>
    rows.reduce((sum, row, i) => sum + weight[i]! * f(row), 0) / all;
  const [mx, my, mz] = [0, 1, 2].map((c) => mean((r) => r[c]!)) as [number, number, number];
  const of = (a: number, b: number): number =>
    mean((r) => (r[a]! - [mx, my, mz][a]!) * (r[b]! - [mx, my, mz][b]!));
  const [xx, xy, yy, xz, yz] = [of(0, 0), of(0, 1), of(1, 1), of(0, 2), of(1, 2)];
  const [sx, sy] = [xx + FLAT, yy + FLAT];
  const whole = sx * sy - xy * xy;
  const a = (xz * sy - yz * xy) / whole;
  const b = (yz * sx - xz * xy) / whole;
  const normal = unit([0, 1, 2].map((c) => axis[c]! + a * u[c]! + b * v[c]!) as never as Vec);
  const half = (xx + yy) / 2;
  const least = half - Math.hypot((xx - yy) / 2, xy);
  return {
    depth: mz - a * mx - b * my,
    lean: Math.atan(Math.hypot(a, b)),
    normal,
    // The middle of the points is not far from the place, and they are no single row.
    sure: least > SURE && Math.hypot(mx, my) < Math.sqrt(xx + yy),
  };
}

/** Least spread of points in every direction, mm2: that of two rows 0.3 mm apart. */
const SURE = 0.0225;

/** Two unit vectors square to an axis and to each other. */
export function squareTo([x, y, z]: Vec): [Vec, Vec] {
  const other: Vec = Math.abs(z) < 0.9 ? [0, 0, 1] : [1, 0, 0];
  const u = unit([
    y * other[2] - z * other[1],
    z * other[0] - x * other[2],
    x * other[1] - y * other[0],
  ]);
  return [u, [y * u[2] - z * u[1], z * u[0] - x * u[2], x * u[1] - y * u[0]]];
}

const cellOf = (p: Vec): [number, number, number] =>
  p.map((x) => Math.floor(x / CELL) + SIDE / 2) as [number, number, number];

/** Cells on a side of the room, layers of a region. */
const SIDE = 1024;
const LAYERS = 4096;
const keyOf = (region: number, layer: number, i: number, j: number, k: number): number =>
  (((region * LAYERS + layer) * SIDE + i) * SIDE + j) * SIDE + k;
