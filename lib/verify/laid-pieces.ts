/**
 * Beads of every direction in one room: for beads that were laid while the head turned there is no plane in which all
 * of a layer lie. Each block's bead is a flat strip along the way of the tip, square to the head halfway along it, as
 * wide as its section over its height. Cells of an even grid hold the blocks whose strips pass through them or come
 * nearer than STRIP_ROOM, so that one stray wide bead does not widen every search.
 */
import { type Vec3, cross, length, pointAt, scale, sub } from '../base/vector.js';
import { type Trace, TraceKind } from './trace.js';

/** Edge of a cell, mm. */
const PIECE_CELL = 1;
/** No bead is wider than twice this, mm. */
const MOST_HALF = 2;
/** No place of a strip is farther than this from one by which it was entered, mm. */
const STRIP_ROOM = 0.4;
const SIDE = 4096;

/** A strip under a place: how deep its upper side lies along an axis, and how far off it passes its flank, mm. */
export interface StripBelow {
  readonly block: number;
  readonly depth: number;
  /** Not more than 0 over the strip itself. */
  readonly aside: number;
}

export class LaidPieces {
  readonly #trace: Trace;
  readonly #height: Float64Array;
  /** Blocks in the order in which they were added. */
  readonly #cells = new Map<number, number[]>();
  readonly #half: Float64Array;
  /** Of each block the number of the search that met it last. */
  readonly #met: Uint32Array;
  #search = 0;

  /** @param height of each block's bead, mm; filled in before a block is added */
  constructor(trace: Trace, height: Float64Array) {
    this.#trace = trace;
    this.#height = height;
    this.#half = new Float64Array(height.length);
    this.#met = new Uint32Array(height.length);
  }

  /** Blocks are added in the order in which they are laid. */
  add(block: number): void {
    this.#half[block] = this.halfWidth(block);
    const { tip, direction } = this.#trace;
    const along = sub(pointAt(tip, block), pointAt(tip, block - 1));
    const half = this.halfWidth(block);
    const across = scale(cross(pointAt(direction, block), along), half / length(along));
    const steps = Math.max(1, Math.ceil(length(along) / STRIP_ROOM));
    // Of a bead of usual width the middle line will do.
    const sides = half > STRIP_ROOM / 2 ? Math.ceil(half / STRIP_ROOM) : 0;
    for (let n = 0; n <= steps; n++) {
      for (let k = -sides; k <= sides; k++) {
        const [x, y, z] = [0, 1, 2].map(
          (c) =>
            tip[3 * block - 3 + c]! +
            (n / steps) * along[c]! +
            (sides ? k / sides : 0) * across[c]!,
        ) as [number, number, number];
        const key = keyOf(cellOf(x), cellOf(y), cellOf(z));
        const list = this.#cells.get(key);
        if (!list) this.#cells.set(key, [block]);
        else if (list.at(-1) !== block) list.push(block);
      }
    }
  }

  halfWidth(block: number): number {
    const { volume, length } = this.#trace;
    return Math.min(MOST_HALF, volume[block]! / length[block]! / this.#height[block]! / 2);
  }

  /** Blocks before one whose beads may come within a distance of a place, mm. */
  near(p: Vec3, within: number, before: number): number[] {
    const room = within + STRIP_ROOM;
    const found: number[] = [];
    const search = ++this.#search;
    const [i1, j1, k1] = p.map((x) => cellOf(x + room)) as [number, number, number];
    const [i0, j0, k0] = p.map((x) => cellOf(x - room)) as [number, number, number];
    for (let i = i0; i <= i1; i++) {
      for (let j = j0; j <= j1; j++) {
        const off = beyondCell(i, p[0]) ** 2 + beyondCell(j, p[1]) ** 2;
        for (let k = k0; k <= k1; k++) {
          if (off + beyondCell(k, p[2]) ** 2 > room * room) continue;
          const list = this.#cells.get(keyOf(i, j, k));
          if (!list) continue;
          for (const block of list) {
            if (block >= before) break;
            if (this.#met[block] === search) continue;
            this.#met[block] = search;
            if (this.#distance(block, p[0], p[1], p[2]) < within + this.#half[block]!) {
              found.push(block);
            }
          }
        }
      }
    }
    return found;
  }

  /**
   * Where the line from a place down an axis passes the strip of a block; undefined along it, and where that is not
   * between two depths.
   */
  below(
    block: number,
    p: Vec3,
    d: Vec3,
    [from, to]: readonly [number, number],
  ): StripBelow | undefined {
    const { tip, direction } = this.#trace;
    const [i, k] = [3 * block, 3 * block - 3];
    const [px, py, pz] = p;
    const [dx, dy, dz] = d;
    const nx = direction[i]! + direction[k]!;
    const ny = direction[i + 1]! + direction[k + 1]!;
    const nz = direction[i + 2]! + direction[k + 2]!;
    const steep = nx * dx + ny * dy + nz * dz;
    if (!(steep > LEAST_STEEP * Math.sqrt(nx * nx + ny * ny + nz * nz))) return undefined;
    const share = this.#shareAt(block, px, py, pz);
    const over =
      nx * (px - tip[k]! - share * (tip[i]! - tip[k]!)) +
      ny * (py - tip[k + 1]! - share * (tip[i + 1]! - tip[k + 1]!)) +
      nz * (pz - tip[k + 2]! - share * (tip[i + 2]! - tip[k + 2]!));
    const depth = over / steep;
    if (!(depth >= from && depth <= to)) return undefined;
    const off = this.#distance(block, px - depth * dx, py - depth * dy, pz - depth * dz);
    return { block, depth, aside: off - this.#half[block]! };
  }

  /** The place on the way of a block's tip that is nearest to a place. */
  nearest(block: number, p: Vec3): Vec3 {
    const { tip } = this.#trace;
    const share = this.#shareAt(block, ...p);
    return [0, 1, 2].map((c) => {
      const from = tip[3 * block - 3 + c]!;
      return from + share * (tip[3 * block + c]! - from);
    }) as unknown as Vec3;
  }

  /** From a place to the way of the tip, mm. */
  #distance(block: number, x: number, y: number, z: number): number {
    const { tip } = this.#trace;
    const [i, k] = [3 * block, 3 * block - 3];
    const share = this.#shareAt(block, x, y, z);
    const u = x - tip[k]! - share * (tip[i]! - tip[k]!);
    const v = y - tip[k + 1]! - share * (tip[i + 1]! - tip[k + 1]!);
    const w = z - tip[k + 2]! - share * (tip[i + 2]! - tip[k + 2]!);
    return Math.sqrt(u * u + v * v + w * w);
  }

  /** Where on the way of a block's tip, as a share of it, a place is nearest. */
  #shareAt(block: number, x: number, y: number, z: number): number {
    const { tip } = this.#trace;
    const [i, k] = [3 * block, 3 * block - 3];
    const [u, v, w] = [tip[i]! - tip[k]!, tip[i + 1]! - tip[k + 1]!, tip[i + 2]! - tip[k + 2]!];
    const size = u * u + v * v + w * w;
    const along = u * (x - tip[k]!) + v * (y - tip[k + 1]!) + w * (z - tip[k + 2]!);
    return size > 0 ? Math.min(1, Math.max(0, along / size)) : 0;
  }
}

/** Cosine between an axis and a strip's own, up to which the strip is one that lies under a place. */
const LEAST_STEEP = 0.2;

/** How far a coordinate lies outside of a row of cells, mm. */
const beyondCell = (cell: number, x: number): number =>
  Math.max(0, cell * PIECE_CELL - x, x - (cell + 1) * PIECE_CELL);

const cellOf = (x: number): number => Math.floor(x / PIECE_CELL);
const keyOf = (i: number, j: number, k: number): number =>
  ((i + SIDE / 2) * SIDE + (j + SIDE / 2)) * SIDE + (k + SIDE / 2);

/** Whether a block lays a bead. */
export const lays = ({ kind, volume, length }: Trace, b: number): boolean =>
  b > 0 && kind[b] === TraceKind.deposit && volume[b]! > 0 && length[b]! > 0;
