/**
 * Laid beads of one layer as strips of the plane, in cells, for the distance from a place to them. A strip is
 * as wide as the bead's section over its height: beads at gap-free spacing touch without overlap. Building is
 * linear and waits for the first query, which many layers never make; a query looks into the few cells near
 * the place.
 */
import { beadSpacing } from '../bead.js';
import type { Paths } from '../paths.js';

/** Edge of a cell, mm. */
const STRIP_CELL = 2;

/** Beads that lie side by side touch but for rounding, mm: no slit between them is a gap. */
export const SLIT = 0.01;

const cellKey = (i: number, j: number): number => (i + 32768) * 65536 + (j + 32768);

export class BeadStrips {
  readonly #cells = new Map<number, number[]>();
  /** Per strip: four coordinates of the ends and half the width. */
  readonly #data: number[] = [];
  /** How many of them are in the cells. */
  #indexed = 0;
  #widest = 0;

  add(x0: number, y0: number, x1: number, y1: number, half: number): void {
    this.#data.push(x0, y0, x1, y1, half);
    this.#widest = Math.max(this.#widest, half);
  }

  #index(n: number): void {
    const [x0, y0, x1, y1] = this.#data.slice(5 * n, 5 * n + 4) as [number, number, number, number];
    const steps = Math.max(1, Math.ceil(Math.hypot(x1 - x0, y1 - y0) / (STRIP_CELL / 2)));
    let before = NaN;
    for (let k = 0; k <= steps; k++) {
      const t = k / steps;
      const x = Math.floor((x0 + t * (x1 - x0)) / STRIP_CELL);
      const y = Math.floor((y0 + t * (y1 - y0)) / STRIP_CELL);
      const key = cellKey(x, y);
      if (key === before) continue;
      before = key;
      const list = this.#cells.get(key);
      if (list) list.push(n);
      else this.#cells.set(key, [n]);
    }
  }

  /** Whether a place lies in one of them. */
  holds(x: number, y: number): boolean {
    return this.distance(x, y, 2 * SLIT, SLIT) <= SLIT;
  }

  /** From a place to the nearest flank, mm, negative inside; `far` where nothing is nearer. */
  distance(x: number, y: number, far: number, enough: number): number {
    while (5 * this.#indexed < this.#data.length) this.#index(this.#indexed++);
    const room = far + STRIP_CELL / 4 + this.#widest;
    let least = far;
    for (
      let i = Math.floor((x - room) / STRIP_CELL);
      i <= Math.floor((x + room) / STRIP_CELL);
      i++
    ) {
      for (
        let j = Math.floor((y - room) / STRIP_CELL);
        j <= Math.floor((y + room) / STRIP_CELL);
        j++
      ) {
        for (const n of this.#cells.get(cellKey(i, j)) ?? []) {
          least = Math.min(least, this.#toStrip(n, x, y));
          if (least <= enough) return least;
        }
      }
    }
    return least;
  }

  #toStrip(n: number, x: number, y: number): number {
    const [q, i] = [this.#data, 5 * n];
    const [x0, y0] = [q[i]!, q[i + 1]!];
    const [dx, dy] = [q[i + 2]! - x0, q[i + 3]! - y0];
    const size = dx * dx + dy * dy;
    const t = size > 0 ? Math.min(1, Math.max(0, ((x - x0) * dx + (y - y0) * dy) / size)) : 0;
    return Math.hypot(x - x0 - t * dx, y - y0 - t * dy) - q[i + 4]!;
  }
}

/** Half the width of the strip of the bead that ends at point i of path p, mm. */
export function halfStrip(paths: Paths, p: number, i: number): number {
  return (paths.flowFactor[p]! * beadSpacing(paths.width[i]!, paths.height[i]!)) / 2;
}
