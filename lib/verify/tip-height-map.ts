/**
 * How low the tip may go while the head keeps its direction: a height map along that direction. What stands
 * there is entered as points; `least` gives, for a position of the tip, the lowest height at which the
 * round outline of the head is clear of all of it. Each cell of the map spreads its height, less the height
 * over the tip at which the head is as wide, over the positions from which the head reaches it.
 */
import { BOUNDS } from '../base/bounds.js';
import { Fault } from '../base/fault.js';
import type { Vec3 } from '../base/vector.js';

/** The part of the head between two radii, mm, as the least height over the tip at each radius. */
export interface Ring {
  readonly cell: number;
  readonly from: number;
  readonly to: number;
  /** Height over the tip from which on the head, or its substitute, is at least that wide. */
  readonly above: (radius: number) => number;
}

/** Axes of a map: u and v span it, heights run along d. Part frame. */
export interface Axes {
  readonly u: Vec3;
  readonly v: Vec3;
  readonly d: Vec3;
}

/** @throws Fault `verify/too-wide` for a map of more cells than `BOUNDS.mapCells` */
function refuseWide(box: readonly number[], cells: number, cell: number): void {
  if (cells <= BOUNDS.mapCells) return;
  const size = [box[2]! - box[0]!, box[3]! - box[1]!].map((v) => v.toFixed(0)).join(' x ');
  throw new Fault(
    'verify/too-wide',
    `the tip goes over ${size} mm while the head keeps one direction, ${cells} cells of ${cell} mm with the head's own width; the limit is ${BOUNDS.mapCells}`,
  );
}

export class TipHeightMap {
  readonly #ring: Ring;
  readonly #u0: number;
  readonly #v0: number;
  readonly #nu: number;
  readonly #nv: number;
  readonly #height: Float32Array;
  readonly #least: Float32Array;
  /** Offsets of the cells about one, and the height of the head there. */
  readonly #du: Int32Array;
  readonly #dv: Int32Array;
  readonly #above: Float32Array;
  readonly #changed: number[] = [];
  readonly #isChanged: Uint8Array;
  /** Highest point since the last `settle`. */
  top = -Infinity;

  /** @param box least u, v and most u, v of the places of the tip, mm */
  constructor(ring: Ring, box: readonly [number, number, number, number]) {
    const { cell, to } = ring;
    this.#ring = ring;
    this.#u0 = Math.floor((box[0] - to) / cell) - 1;
    this.#v0 = Math.floor((box[1] - to) / cell) - 1;
    this.#nu = Math.ceil((box[2] + to) / cell) + 2 - this.#u0;
    this.#nv = Math.ceil((box[3] + to) / cell) + 2 - this.#v0;
    refuseWide(box, this.#nu * this.#nv, cell);
    this.#height = new Float32Array(this.#nu * this.#nv).fill(-Infinity);
    this.#least = new Float32Array(this.#nu * this.#nv).fill(-Infinity);
    this.#isChanged = new Uint8Array(this.#nu * this.#nv);
    const offsets: [number, number, number][] = [];
    const reach = Math.ceil(to / cell);
    for (let i = -reach; i <= reach; i++) {
      for (let k = -reach; k <= reach; k++) {
        const r = Math.hypot(i, k) * cell;
        if (r >= ring.from && r <= to) offsets.push([i, k, ring.above(r)]);
      }
    }
    this.#du = Int32Array.from(offsets, (o) => o[0]);
    this.#dv = Int32Array.from(offsets, (o) => o[1]);
    this.#above = Float32Array.from(offsets, (o) => o[2]);
  }

  /** Something stands at u, v up to height s. */
  raise(u: number, v: number, s: number): void {
    const at = this.#indexOf(u, v);
    if (at < 0 || s <= this.#height[at]!) return;
    this.#height[at] = s;
    if (s > this.top) this.top = s;
    if (this.#isChanged[at]) return;
    this.#isChanged[at] = 1;
    this.#changed.push(at);
  }

  /** Makes all that was raised count. */
  settle(): void {
    for (const at of this.#changed) {
      this.#isChanged[at] = 0;
      const i = Math.floor(at / this.#nv);
      this.#spread(i, at - i * this.#nv, this.#height[at]!);
    }
    this.#changed.length = 0;
    this.top = -Infinity;
  }

  least(u: number, v: number): number {
    const at = this.#indexOf(u, v);
    return at < 0 ? -Infinity : this.#least[at]!;
  }

  /** Visits the places u, v, height that stand higher than the head over a tip at height s. */
  above(u: number, v: number, s: number, visit: (u: number, v: number, s: number) => void): void {
    const { cell } = this.#ring;
    const i = Math.floor(u / cell) - this.#u0;
    const k = Math.floor(v / cell) - this.#v0;
    for (let n = 0; n < this.#du.length; n++) {
      const [p, q] = [i + this.#du[n]!, k + this.#dv[n]!];
      if (p < 0 || q < 0 || p >= this.#nu || q >= this.#nv) continue;
      const height = this.#height[p * this.#nv + q]!;
      if (height - this.#above[n]! <= s) continue;
      visit((p + this.#u0 + 0.5) * cell, (q + this.#v0 + 0.5) * cell, height);
    }
  }

  #indexOf(u: number, v: number): number {
    const i = Math.floor(u / this.#ring.cell) - this.#u0;
    const k = Math.floor(v / this.#ring.cell) - this.#v0;
    return i < 0 || k < 0 || i >= this.#nu || k >= this.#nv ? -1 : i * this.#nv + k;
  }

  #spread(i: number, k: number, height: number): void {
    const [nu, nv, least] = [this.#nu, this.#nv, this.#least];
    for (let n = 0; n < this.#du.length; n++) {
      const [p, q] = [i + this.#du[n]!, k + this.#dv[n]!];
      if (p < 0 || q < 0 || p >= nu || q >= nv) continue;
      const low = height - this.#above[n]!;
      if (low > least[p * nv + q]!) least[p * nv + q] = low;
    }
  }
}
