/**
 * The beads near a place, by their real section. A bead is a stadium w wide and h high (a circle of
 * diameter h swept across its width) of the metered area, w = A / h + h (1 - pi / 4), swept along the tip's
 * way with round ends: the ball of radius h / 2 along all places of a flat strip. So the distance of a
 * place is that from the strip less h / 2, in closed form. A bead narrower than high is taken as an
 * upright stadium.
 *
 * The grid (grid.ts) has beads as rectangles in cubes of half a layer, which is as exact as a mean surface
 * needs; it is asked first, and this index only where it finds the shape off. Beads are entered in cells
 * of a hash by places along them, so a search costs what lies about it.
 */
import { type Vec3, pointAt } from '../base/vector.js';
import type { Heights } from './layers.js';
import { type Trace, TraceKind } from './trace.js';

/** Edge of a cell, mm. */
const CELL = 1.5;
/** Cells along an axis on either side of the origin. */
const SIDE = 1 << 15;

export interface NearBead {
  readonly block: number;
  /** To the bead's surface, mm; negative in it. */
  readonly distance: number;
}

export class BeadIndex {
  readonly #trace: Trace;
  readonly #height: Float64Array;
  readonly #cells = new Map<number, number[]>();
  /** Farthest that a bead reaches from the way of its tip, mm. */
  #reach = 0;
  /** Of the last bead that was measured: from it to the place, unit vector. */
  readonly #away: [number, number, number] = [0, 0, 0];

  constructor(trace: Trace, heights: Heights) {
    this.#trace = trace;
    this.#height = heights.height;
    for (let b = 1; b < trace.kind.length; b++) if (this.#isBead(b)) this.#enter(b);
  }

  /**
   * The nearest bead to a place, no farther than `within`, mm.
   * @param outward if given, beads count only if they do not lie more than `slack` beyond the plane
   *   through the place with this normal
   */
  nearest(p: Vec3, within: number, outward?: Vec3, slack = 0): NearBead | undefined {
    let found: NearBead | undefined;
    let least = within;
    const room = within + this.#reach + CELL / 2;
    const low = p.map((c) => Math.floor((c - room) / CELL));
    const high = p.map((c) => Math.floor((c + room) / CELL));
    for (let x = low[0]!; x <= high[0]!; x++) {
      for (let y = low[1]!; y <= high[1]!; y++) {
        for (let z = low[2]!; z <= high[2]!; z++) {
          for (const block of this.#cells.get(keyOf(x, y, z)) ?? []) {
            const distance = this.#distance(block, p);
            if (distance >= least) continue;
            if (outward && distance > 0 && this.#beyond(outward) * distance > slack) continue;
            least = distance;
            found = { block, distance };
          }
        }
      }
    }
    return found;
  }

  /** Up the head where the bead next to a place was laid; undefined if there is none within `within`. */
  directionNear(p: Vec3, within: number): Vec3 | undefined {
    const near = this.nearest(p, within);
    return near && pointAt(this.#trace.direction, near.block);
  }

  #isBead(b: number): boolean {
    const { kind, volume, length } = this.#trace;
    return kind[b] === TraceKind.deposit && volume[b]! > 0 && length[b]! > 0;
  }

  #width(b: number): number {
    const { volume, length } = this.#trace;
    const h = this.#height[b]!;
    const area = volume[b]! / length[b]!;
    const width = area / h + h * (1 - Math.PI / 4);
    return width >= h ? width : area / ((Math.PI / 4) * h);
  }

  #enter(b: number): void {
    const { tip } = this.#trace;
    const [i, k] = [3 * b - 3, 3 * b];
    this.#reach = Math.max(this.#reach, this.#width(b) / 2 + this.#height[b]!);
    const parts = Math.max(1, Math.ceil(this.#trace.length[b]! / CELL));
    let last = NaN;
    for (let n = 0; n <= parts; n++) {
      const at = (c: number): number =>
        Math.floor((tip[i + c]! + (n / parts) * (tip[k + c]! - tip[i + c]!)) / CELL);
      const key = keyOf(at(0), at(1), at(2));
      if (key === last) continue;
      last = key;
      const cell = this.#cells.get(key);
      if (cell) cell.push(b);
      else this.#cells.set(key, [b]);
    }
  }

  /** Of a place from the surface of bead b, mm. */
  #distance(b: number, [x, y, z]: Vec3): number {
    const { tip, direction } = this.#trace;
    const [i, k] = [3 * b - 3, 3 * b];
    const [dx, dy, dz] = [direction[k]!, direction[k + 1]!, direction[k + 2]!];
    const [tx, ty, tz] = [tip[k]! - tip[i]!, tip[k + 1]! - tip[i + 1]!, tip[k + 2]! - tip[i + 2]!];
    const [qx, qy, qz] = [x - tip[i]!, y - tip[i + 1]!, z - tip[i + 2]!];
    const size = tx * tx + ty * ty + tz * tz;
    const t = Math.min(1, Math.max(0, (qx * tx + qy * ty + qz * tz) / (size || 1)));
    const [ex, ey, ez] = [qx - t * tx, qy - t * ty, qz - t * tz];
    const up = ex * dx + ey * dy + ez * dz;
    const [fx, fy, fz] = [ex - up * dx, ey - up * dy, ez - up * dz];
    const aside = Math.sqrt(fx * fx + fy * fy + fz * fz);
    const h = this.#height[b]!;
    const width = this.#width(b);
    const radius = Math.min(width, h) / 2;
    const over = up + h / 2;
    const u = Math.sign(over) * Math.max(0, Math.abs(over) - (h / 2 - radius));
    const s = Math.max(0, aside - (width / 2 - radius));
    const d = Math.sqrt(u * u + s * s);
    const [su, ss] = d > 0 ? [u / d, aside > 0 ? s / d / aside : 0] : [0, 0];
    this.#away[0] = su * dx + ss * fx;
    this.#away[1] = su * dy + ss * fy;
    this.#away[2] = su * dz + ss * fz;
    return d - radius;
  }

  /** How far along `outward` the bead lies from the place, for each mm of its distance. */
  #beyond(outward: Vec3): number {
    const [x, y, z] = this.#away;
    return -(x * outward[0] + y * outward[1] + z * outward[2]);
  }
}

const keyOf = (x: number, y: number, z: number): number =>
  ((x + SIDE) * 2 * SIDE + (y + SIDE)) * 2 * SIDE + (z + SIDE);
