/**
 * Which parts of a path can bring a body near to a great many beads. A height map of the beads, as they
 * stand in the body's axes, holds the greatest height over each cell of a horizontal grid, with coarser
 * grids over it; path and cells are descended together. A cell counts as full from its height down to the
 * lowest bead, so nothing is missed, whatever lies under it. Heads widen upwards, so what is under other
 * beads is never nearer, and a path of a hundred thousand stretches over as many beads is reduced to the
 * few pieces of its lowest layers before a single pair is measured.
 *
 * Hierarchies of boxes alone were tried: beads that lie askew in the body's axes have boxes a millimetre or
 * two too large, so all layers within that were measured (a bunny of 70 k triangles, 100 mm: 320 s of
 * processor time against 41 s with the height map, shorter beads and guessed directions, on one and the
 * same busy machine).
 */
import { float64List } from '../base/ragged.js';
import type { RigidBody } from './body.js';
import { Path } from './body-path.js';
import { extent } from './convex/prefix-tree.js';

/** Least side of a cell, mm. */
const LEAST_MAP_CELL = 0.3;
/** Most cells, about. */
const MOST_MAP_CELLS = 250_000;

/** Cells of one size. */
interface MapLevel {
  readonly side: number;
  readonly nx: number;
  readonly ny: number;
  /** -Infinity where there is nothing, mm. */
  readonly top: Float64Array;
}

export interface HeightMap {
  /** Corner of the first cell, and the height of the lowest bead, mm. */
  readonly least: readonly [number, number, number];
  /** From the finest cells up, each twice as wide as those below. */
  readonly levels: readonly MapLevel[];
}

/** Straight bars to be entered in a height map: both ends xyz and half extents xyz around them, mm. */
export type Bars = (each: (bar: Float64Array) => void) => void;

/** @param box least x, y, z and most x, y, z of all bars, mm */
export function heightMapOf(bars: Bars, box: ArrayLike<number>): HeightMap {
  const [width, depth] = [box[3]! - box[0]!, box[4]! - box[1]!];
  const side = Math.max(LEAST_MAP_CELL, Math.sqrt((width * depth) / MOST_MAP_CELLS));
  const nx = Math.floor(width / side) + 1;
  const ny = Math.floor(depth / side) + 1;
  const finest = { side, nx, ny, top: new Float64Array(nx * ny).fill(-Infinity) };
  bars((bar) => layBar(finest, box, bar));
  const levels: MapLevel[] = [finest];
  while (levels.at(-1)!.top.length > 1) levels.push(coarser(levels.at(-1)!));
  return { least: [box[0]!, box[1]!, box[2]!], levels };
}

/** A bar in pieces no longer than a cell, each by its box. */
function layBar(
  { side, nx, ny, top }: MapLevel,
  least: ArrayLike<number>,
  bar: Float64Array,
): void {
  const [dx, dy, dz] = [bar[3]! - bar[0]!, bar[4]! - bar[1]!, bar[5]! - bar[2]!];
  const [ex, ey, ez] = [bar[6]!, bar[7]!, bar[8]!];
  const count = Math.max(1, Math.ceil(Math.sqrt(dx * dx + dy * dy) / side));
  const [hx, hy, hz] = [Math.abs(dx), Math.abs(dy), Math.abs(dz)].map((d) => d / (2 * count)) as [
    number,
    number,
    number,
  ];
  for (let k = 0; k < count; k++) {
    const t = (k + 0.5) / count;
    const x = bar[0]! + t * dx - least[0]!;
    const y = bar[1]! + t * dy - least[1]!;
    const high = bar[2]! + t * dz + hz + ez;
    const right = Math.min(nx - 1, Math.floor((x + hx + ex) / side));
    const back = Math.min(ny - 1, Math.floor((y + hy + ey) / side));
    for (let j = Math.max(0, Math.floor((y - hy - ey) / side)); j <= back; j++) {
      for (let i = Math.max(0, Math.floor((x - hx - ex) / side)); i <= right; i++) {
        if (top[j * nx + i]! < high) top[j * nx + i] = high;
      }
    }
  }
}

function coarser({ side, nx, ny, top }: MapLevel): MapLevel {
  const [mx, my] = [(nx + 1) >> 1, (ny + 1) >> 1];
  const out = new Float64Array(mx * my).fill(-Infinity);
  for (let j = 0; j < ny; j++) {
    for (let i = 0; i < nx; i++) {
      const at = (j >> 1) * mx + (i >> 1);
      out[at] = Math.max(out[at]!, top[j * nx + i]!);
    }
  }
  return { side: 2 * side, nx: mx, ny: my, top: out };
}

/**
 * The pieces of the path on which the body may come nearer than `within` mm, one by one, each with the
 * number of its stretch. For bodies without an inside beyond their pieces.
 */
export function piecesNear(heights: HeightMap, body: RigidBody, path: Path, within: number): Path {
  return new Sieve(heights, body, path, within).run();
}

/** A stretch is kept or left out in pieces of at most this length, mm. */
const LONGEST_PATH_PIECE = 1.2;

/**
 * Path and cells descended together: for a node of the path, or a piece of a stretch, all cells that may
 * be near it.
 */
class Sieve {
  readonly #heights: HeightMap;
  readonly #body: RigidBody;
  readonly #path: Path;
  readonly #within: number;
  /** Numbers of cells, those of each step of the descent after those of the step before. */
  #cells = new Uint32Array(1024);
  /** Centre xyz and half extent xyz of the box in question. */
  #boxes: Float64Array = new Float64Array(6);
  #at = 0;
  readonly #piece = new Float64Array(6);
  readonly #points = float64List(1024);
  readonly #origin: number[] = [];

  constructor(heights: HeightMap, body: RigidBody, path: Path, within: number) {
    this.#heights = heights;
    this.#body = body;
    this.#path = path;
    this.#within = within;
  }

  run(): Path {
    const { tree } = this.#path;
    if (tree.count > 0) this.#down(tree.top, 0, this.#heights.levels.length - 1, 0, 1);
    return new Path(this.#points.take(), this.#origin, 2);
  }

  /** Node of the path's tree (level -1: a stretch) against the cells from .. to of a level. */
  #down(level: number, node: number, size: number, from: number, to: number): void {
    if (level < 0) {
      this.#cut(node, 0, 1, size, from, to);
      return;
    }
    const { tree, boxes } = this.#path;
    if (this.#wide(tree.levels[level]!, 6 * node, size)) {
      this.#ask(tree.levels[level]!, 6 * node);
      const end = this.#finer(size, from, to);
      if (end > to) this.#down(level, node, size - 1, to, end);
      return;
    }
    const [a, b] = level === 0 ? tree.things(node) : tree.children(level, node);
    const below = level === 0 ? boxes : tree.levels[level - 1]!;
    for (let n = a; n < b; n++) {
      this.#ask(below, 6 * n);
      const end = this.#same(size, from, to);
      if (end > to) this.#down(level - 1, n, size, to, end);
    }
  }

  /** The part of a stretch between two shares of it. */
  #cut(stretch: number, t0: number, t1: number, size: number, from: number, to: number): void {
    this.#askPart(stretch, t0, t1);
    if (this.#wide(this.#piece, 0, size)) {
      const end = this.#finer(size, from, to);
      if (end > to) this.#cut(stretch, t0, t1, size - 1, to, end);
      return;
    }
    if (2 * extent(this.#piece, 0) <= LONGEST_PATH_PIECE) {
      if (this.#any(size, from, to)) this.#keep(stretch, t0, t1);
      return;
    }
    const middle = (t0 + t1) / 2;
    for (const [a, b] of [
      [t0, middle],
      [middle, t1],
    ] as const) {
      this.#askPart(stretch, a, b);
      const end = this.#same(size, from, to);
      if (end > to) this.#cut(stretch, a, b, size, to, end);
    }
  }

  /** True if the cells are to be refined before the box in question is divided. */
  #wide(boxes: Float64Array, at: number, size: number): boolean {
    return size > 0 && this.#heights.levels[size]!.side > 2 * extent(boxes, at);
  }

  #ask(boxes: Float64Array, at: number): void {
    this.#boxes = boxes;
    this.#at = at;
  }

  #askPart(stretch: number, t0: number, t1: number): void {
    const { points: p, step } = this.#path;
    for (let c = 0; c < 3; c++) {
      const at = 3 * step * stretch + c;
      const by = p[at + 3]! - p[at]!;
      this.#piece[c] = p[at]! + (by * (t0 + t1)) / 2;
      this.#piece[3 + c] = (Math.abs(by) * (t1 - t0)) / 2;
    }
    this.#ask(this.#piece, 0);
  }

  #keep(stretch: number, t0: number, t1: number): void {
    const { points: p, step } = this.#path;
    for (const t of [t0, t1]) {
      for (let c = 0; c < 3; c++) {
        const at = 3 * step * stretch + c;
        this.#points.push(p[at]! + t * (p[at + 3]! - p[at]!));
      }
    }
    this.#origin.push(stretch);
  }

  /** True if one of the finest cells under the cells from .. to is near. */
  #any(size: number, from: number, to: number): boolean {
    if (size === 0) return to > from;
    for (let k = from; k < to; k++) {
      this.#put(to, this.#cells[k]!);
      const end = this.#finer(size, to, to + 1);
      if (end > to + 1 && this.#any(size - 1, to + 1, end)) return true;
    }
    return false;
  }

  /** Puts those of the cells from .. to that are near after them; returns where they end. */
  #same(size: number, from: number, to: number): number {
    let end = to;
    for (let k = from; k < to; k++) {
      if (this.#near(size, this.#cells[k]!)) end = this.#put(end, this.#cells[k]!);
    }
    return end;
  }

  /** The same for the parts of the cells. */
  #finer(size: number, from: number, to: number): number {
    const { nx } = this.#heights.levels[size]!;
    const { nx: mx, ny: my } = this.#heights.levels[size - 1]!;
    let end = to;
    for (let k = from; k < to; k++) {
      const i = 2 * (this.#cells[k]! % nx);
      const j = 2 * Math.floor(this.#cells[k]! / nx);
      for (let v = j; v < Math.min(my, j + 2); v++) {
        for (let u = i; u < Math.min(mx, i + 2); u++) {
          if (this.#near(size - 1, v * mx + u)) end = this.#put(end, v * mx + u);
        }
      }
    }
    return end;
  }

  #put(at: number, cell: number): number {
    if (at === this.#cells.length) {
      const more = new Uint32Array(2 * at);
      more.set(this.#cells);
      this.#cells = more;
    }
    this.#cells[at] = cell;
    return at + 1;
  }

  #near(size: number, cell: number): boolean {
    const { least, levels } = this.#heights;
    const { side, nx, top } = levels[size]!;
    const high = top[cell]!;
    if (high === -Infinity) return false;
    const boxes = this.#boxes;
    const at = this.#at;
    const half = side / 2;
    const bound = this.#body.bound(
      least[0] + (cell % nx) * side + half - boxes[at]!,
      least[1] + Math.floor(cell / nx) * side + half - boxes[at + 1]!,
      (high + least[2]) / 2 - boxes[at + 2]!,
      half + boxes[at + 3]!,
      half + boxes[at + 4]!,
      (high - least[2]) / 2 + boxes[at + 5]!,
      this.#within,
    );
    return bound < this.#within;
  }
}
