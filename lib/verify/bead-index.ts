/**
 * The beads near a place, by their real cross-section. A bead is a stadium w wide and h high (a circle of
 * diameter h swept across its width) of the metered area, w = A / h + h (1 - pi / 4), swept along the tip's
 * path: the ball of radius h / 2 along all points of a flat strip. So the distance of a place is that from
 * the strip less h / 2, in closed form. A bead narrower than high is taken as an upright stadium. Where the
 * next bead continues, or a loop closes, the strip ends round; loose ends are square and end where the tip
 * does, for that much is metered.
 *
 * The grid (grid.ts) has beads as rectangles in cubes of half a layer, which is as exact as a mean surface
 * needs; it is asked first, and this index only where the grid finds the shape off. Beads are entered in
 * cells of a hash by places along them, so the cost of a search depends only on what lies about it.
 */
import { type Vec3, pointAt } from '../base/vector.js';
import type { Heights } from './layers.js';
import { type Trace, TraceKind } from './trace.js';

/** Edge of a cell, mm. */
const BEAD_INDEX_CELL = 0.75;
/** Most places have a bead this near, which is searched first, mm. */
const FIRST_WITHIN = 0.2;
/** A loop is closed if its ends are nearer to each other, mm. */
const LOOP_CLOSES = 0.05;
const ROUND_START = 1;
const ROUND_END = 2;
const NO_BEADS: readonly number[] = [];
/** Edge of the blocks of cells in which a search far away goes, in cells. */
const BLOCK_CELLS = 16;
/** Cells along an axis on either side of the origin. */
const HASH_HALF = 1 << 15;

export interface NearBead {
  readonly block: number;
  /** To the bead's surface, mm; negative in it. */
  readonly distance: number;
}

export class BeadIndex {
  readonly #trace: Trace;
  readonly #height: Float64Array;
  readonly #widest: number;
  readonly #cells = new Map<number, number[]>();
  /** Which ends of a bead are round: ROUND_START, ROUND_END. */
  readonly #ends: Uint8Array;
  /** The same cells by the blocks in which they lie; made when a search goes far for the first time. */
  #blocks: CellBlocks | undefined;
  /** Farthest that a bead reaches from the path of its tip, mm. */
  #reach = 0;
  /** Of the last bead that was measured: from it to the place, unit vector. */
  readonly #away: [number, number, number] = [0, 0, 0];

  /** @param widest no bead is taken as wider, mm */
  constructor(trace: Trace, heights: Heights, widest: number) {
    this.#trace = trace;
    this.#height = heights.height;
    this.#widest = widest;
    this.#ends = new Uint8Array(trace.kind.length);
    let first = 0;
    for (let b = 1; b < trace.kind.length; b++) {
      if (!this.#isBead(b)) {
        first = 0;
        continue;
      }
      if (first === 0) first = b;
      else {
        this.#ends[b - 1]! |= ROUND_END;
        this.#ends[b]! |= ROUND_START;
      }
      if (this.#meets(b, first)) {
        this.#ends[b]! |= ROUND_END;
        this.#ends[first]! |= ROUND_START;
      }
      this.#enter(b);
    }
  }

  /** Whether bead b ends where bead `first` begins. */
  #meets(b: number, first: number): boolean {
    const { tip } = this.#trace;
    const [i, k] = [3 * first - 3, 3 * b];
    const gap = Math.hypot(tip[k]! - tip[i]!, tip[k + 1]! - tip[i + 1]!, tip[k + 2]! - tip[i + 2]!);
    return gap < LOOP_CLOSES;
  }

  /**
   * The nearest bead to a place, no farther than `within`, mm.
   * @param outward if given, beads count only if they do not lie more than `slack` beyond the plane
   *   through the place with this normal
   */
  nearest(p: Vec3, within: number, outward?: Vec3, slack = 0): NearBead | undefined {
    const near = within > FIRST_WITHIN ? this.#search(p, FIRST_WITHIN, outward, slack) : undefined;
    return near ?? this.#search(p, within, outward, slack);
  }

  /**
   * The nearest bead to a place, however far; undefined if there is none at all. Shells of blocks are
   * visited outwards, from the first that meets the box of all beads: the cost does not grow
   * with the distance.
   */
  nearestOfAll(p: Vec3): NearBead | undefined {
    this.#blocks ??= blocksOf(this.#cells);
    const { cells, low, high } = this.#blocks;
    if (cells.size === 0) return undefined;
    const size = BLOCK_CELLS * BEAD_INDEX_CELL;
    const at = p.map((c) => Math.floor(c / size)) as unknown as Vec3;
    const off = at.map((c, i) => Math.max(0, low[i]! - c, c - high[i]!));
    const last = at.map((c, i) => Math.max(Math.abs(low[i]! - c), Math.abs(high[i]! - c)));
    const most = Math.max(...last);
    let block = -1;
    let least = Infinity;
    for (let r = Math.max(...off); r <= most; r++) {
      // What has not been seen yet has no point of its path nearer than this.
      if ((r - 1) * size - this.#reach - BEAD_INDEX_CELL / 2 >= least) break;
      shell(at, r, low, high, (key) => {
        for (const b of cells.get(key)?.flat() ?? NO_BEADS) {
          const distance = this.#distance(b, p);
          if (distance < least) [least, block] = [distance, b];
        }
      });
    }
    return block < 0 ? undefined : { block, distance: least };
  }

  #search(p: Vec3, within: number, outward: Vec3 | undefined, slack: number): NearBead | undefined {
    let block = -1;
    let least = within;
    const spread = this.#reach + BEAD_INDEX_CELL / 2;
    const [x0, y0, z0] = p.map((c) => Math.floor((c - within - spread) / BEAD_INDEX_CELL)) as [
      number,
      number,
      number,
    ];
    const [x1, y1, z1] = p.map((c) => Math.floor((c + within + spread) / BEAD_INDEX_CELL)) as [
      number,
      number,
      number,
    ];
    for (let x = x0; x <= x1; x++) {
      for (let y = y0; y <= y1; y++) {
        for (let z = z0; z <= z1; z++) {
          for (const b of this.#cells.get(keyOf(x, y, z)) ?? NO_BEADS) {
            const distance = this.#distance(b, p);
            if (distance >= least) continue;
            if (outward && distance > 0 && this.#beyond(outward) * distance > slack) continue;
            [least, block] = [distance, b];
          }
        }
      }
    }
    return block < 0 ? undefined : { block, distance: least };
  }

  /**
   * The head's direction where the bead next to a place was laid; undefined if there is none within `within`.
   */
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
    return width >= h ? Math.min(width, this.#widest) : area / ((Math.PI / 4) * h);
  }

  #enter(b: number): void {
    const { tip } = this.#trace;
    const [i, k] = [3 * b - 3, 3 * b];
    this.#reach = Math.max(this.#reach, Math.hypot(this.#width(b) / 2, this.#height[b]!));
    const parts = Math.max(1, Math.ceil(this.#trace.length[b]! / BEAD_INDEX_CELL));
    let last = NaN;
    for (let n = 0; n <= parts; n++) {
      const at = (c: number): number =>
        Math.floor((tip[i + c]! + (n / parts) * (tip[k + c]! - tip[i + c]!)) / BEAD_INDEX_CELL);
      const key = keyOf(at(0), at(1), at(2));
      if (key === last) continue;
      last = key;
      const cell = this.#cells.get(key);
      if (cell) cell.push(b);
      else this.#cells.set(key, [b]);
    }
  }

  /**
   * Distance of a place from the surface of bead b, mm. Plain numbers: this runs a hundred times per sample.
   */
  #distance(b: number, [x, y, z]: Vec3): number {
    const { tip, direction } = this.#trace;
    const [i, k] = [3 * b - 3, 3 * b];
    const [wx, wy, wz] = [tip[k]! - tip[i]!, tip[k + 1]! - tip[i + 1]!, tip[k + 2]! - tip[i + 2]!];
    const size = Math.sqrt(wx * wx + wy * wy + wz * wz) || 1;
    const [tx, ty, tz] = [wx / size, wy / size, wz / size];
    const [dx, dy, dz] = [direction[k]!, direction[k + 1]!, direction[k + 2]!];
    const [qx, qy, qz] = [x - tip[i]!, y - tip[i + 1]!, z - tip[i + 2]!];
    const ahead = qx * tx + qy * ty + qz * tz;
    const up = qx * dx + qy * dy + qz * dz;
    // Square to the path, in the layer; the path of a tip that climbs is taken as level.
    const ax = qx - ahead * tx - up * dx;
    const ay = qy - ahead * ty - up * dy;
    const az = qz - ahead * tz - up * dz;
    const aside = Math.sqrt(ax * ax + ay * ay + az * az);
    const h = this.#height[b]!;
    const half = this.#width(b) / 2;
    const radius = Math.min(half, h / 2);
    const [along, beside] = beyond(ahead, aside, size, half - radius, radius, this.#ends[b]!);
    const over = up + h / 2;
    const above = Math.sign(over) * Math.max(0, Math.abs(over) - (h / 2 - radius));
    const far = Math.sqrt(along * along + beside * beside + above * above);
    if (far > 0) {
      const [u, v, w] = [along / far, aside > 0 ? beside / aside / far : 0, above / far];
      this.#away[0] = u * tx + v * ax + w * dx;
      this.#away[1] = u * ty + v * ay + w * dy;
      this.#away[2] = u * tz + v * az + w * dz;
    }
    return far - radius;
  }

  /** How far along `outward` the bead lies from the place, for each mm of its distance. */
  #beyond(outward: Vec3): number {
    const [x, y, z] = this.#away;
    return -(x * outward[0] + y * outward[1] + z * outward[2]);
  }
}

/**
 * How far a place lies outside the strip of a bead, along it (signed) and beside it, mm.
 * @param ahead of the place from the bead's beginning along it, mm; `aside` square to it
 * @param size of the bead's way; `half` of the strip's width; `radius` of the ball on it
 */
function beyond(
  ahead: number,
  aside: number,
  size: number,
  half: number,
  radius: number,
  ends: number,
): [number, number] {
  const first = ahead < size / 2;
  const past = first ? -ahead : ahead - size;
  const sense = first ? -1 : 1;
  if (ends & (first ? ROUND_START : ROUND_END)) {
    const far = Math.hypot(Math.max(0, past), aside);
    const out = far > half ? (far - half) / far : 0;
    return [sense * Math.max(0, past) * out, aside * out];
  }
  const square = Math.max(0, past + Math.min(radius, size / 2));
  return [sense * square, Math.max(0, aside - half)];
}

const keyOf = (x: number, y: number, z: number): number =>
  ((x + HASH_HALF) * 2 * HASH_HALF + (y + HASH_HALF)) * 2 * HASH_HALF + (z + HASH_HALF);

/** Cells by the keys of their blocks, and the corners of the box of all, in blocks. */
interface CellBlocks {
  readonly cells: ReadonlyMap<number, (readonly number[])[]>;
  readonly low: Vec3;
  readonly high: Vec3;
}

function blocksOf(fine: ReadonlyMap<number, readonly number[]>): CellBlocks {
  const cells = new Map<number, (readonly number[])[]>();
  const low: [number, number, number] = [Infinity, Infinity, Infinity];
  const high: [number, number, number] = [-Infinity, -Infinity, -Infinity];
  for (const [key, beads] of fine) {
    const [x, y, z] = placeOfKey(key).map((c) => Math.floor(c / BLOCK_CELLS)) as unknown as Vec3;
    [x, y, z].forEach((v, c) => {
      low[c] = Math.min(low[c]!, v);
      high[c] = Math.max(high[c]!, v);
    });
    const block = keyOf(x, y, z);
    const known = cells.get(block);
    if (known) known.push(beads);
    else cells.set(block, [beads]);
  }
  return { cells, low, high };
}

/** Visits the cells within a box that are exactly `r` from another one along some axis, and no farther. */
function shell(at: Vec3, r: number, low: Vec3, high: Vec3, visit: (key: number) => void): void {
  const from = at.map((c, i) => Math.max(low[i]!, c - r)) as unknown as Vec3;
  const to = at.map((c, i) => Math.min(high[i]!, c + r)) as unknown as Vec3;
  for (let x = from[0]; x <= to[0]; x++) {
    for (let y = from[1]; y <= to[1]; y++) {
      const whole = Math.abs(x - at[0]) === r || Math.abs(y - at[1]) === r;
      if (whole) for (let z = from[2]; z <= to[2]; z++) visit(keyOf(x, y, z));
      else {
        if (at[2] - r >= from[2]) visit(keyOf(x, y, at[2] - r));
        if (at[2] + r <= to[2]) visit(keyOf(x, y, at[2] + r));
      }
    }
  }
}

/** The cell of a key of `keyOf`. */
function placeOfKey(key: number): Vec3 {
  const side = 2 * HASH_HALF;
  const rest = Math.floor(key / side);
  return [Math.floor(rest / side) - HASH_HALF, (rest % side) - HASH_HALF, (key % side) - HASH_HALF];
}
