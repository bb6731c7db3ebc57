/**
 * Prints the program in the computer: block by block grids of what is laid grow. Each bead is its
 * cross-section swept along the tip's path in the part frame, square to the head's direction and under the
 * tip. The section is a rectangle of the bead's height and of the metered area: the mean of the round
 * flanks of a real bead, and beads at gap-free spacing then touch without overlap.
 *
 * In the air: of the samples across a piece of a bead at least LEAST_CARRIED must rest on material or the
 * table (bead-support.ts); which pieces hang is decided stretch by stretch (hanging-stretches.ts). Where a
 * bead runs into others of its layer, those hold its end unless they hang themselves: fill from contour to
 * contour of an island hangs as they do.
 */
import { BOUNDS } from '../base/bounds.js';
import type { Vec3 } from '../base/vector.js';
import type { Machine } from '../machine/machine.js';
import type { Grid } from './grid.js';
import type { Grids } from './grids.js';
import type { Heights } from './layers.js';
import {
  type KnownPart,
  type PiecePlace,
  type Support,
  BeadSupport,
  onFaceOf,
} from './bead-support.js';
import { type LaidPiece, Stretches } from './hanging-stretches.js';
import { type Trace, TraceKind } from './trace.js';
import { TurningSupport } from './turning-support.js';

/** Pieces of a bead are no longer than this many edges of the grid. */
const PIECE_EDGES = 5;
/** Nor longer than this, mm: what carries them is looked for in their middles, and a bead of fill is not much wider. */
const LONGEST_LOOK = 0.3;
/** Samples across a bead, as shares of its width from its middle. */
const SHARES_ACROSS = [-0.4, -0.2, 0, 0.2, 0.4] as const;
/** Samples of a piece that must be carried: one of five. */
const LEAST_CARRIED = 1;
/** Angles from its path at which the round end of a bead is held against what is laid, rad. */
const END_ANGLES = [0, 0.8, -0.8, 1.6, -1.6] as const;
/** Depth at which the inside of the part is looked for below: the middle of the layer below, in heights. */
const LAYER_BELOW = 1.5;
/** Turns sharper than this leave a gap on their outside that is filled with a round joint. */
const SHARP_TURN = Math.cos(0.2);
/** Grid cells along an edge of a cell in which metered and filled volume are compared. */
export const CELL_CUBES = 16;
/** Cells along an axis at most, for keys. */
const CELLS = 2048;

/** The first grid cell of a volume cell by its key. */
export const cellCorner = (key: number): Vec3 => [
  CELL_CUBES * Math.floor(key / CELLS ** 2),
  CELL_CUBES * (Math.floor(key / CELLS) % CELLS),
  CELL_CUBES * (key % CELLS),
];

/** Metered material against the volume that it fills, in a cell of a grid, mm3. */
export interface VolumeCell {
  metered: number;
  filled: number;
  block: number;
}

export class Deposit {
  readonly grids: Grids;
  readonly stretches: Stretches;
  /** What lies under the beads, of runs in levels and of those in which the head turns. */
  readonly #levels: Support;
  readonly #turned: Support | undefined;
  #reach: Support;
  /** By key, of each grid. */
  readonly cells: readonly Map<number, VolumeCell>[];
  /** Length laid, mm. */
  length = 0;
  /** Material metered on moves, mm3. */
  metered = 0;
  /** Cells of each grid that were set where no other one had material. */
  readonly #fresh: number[];
  /** What hangs, as far as its layer may still run into it. */
  readonly #hung: Grids;
  /** Pieces that hang and are not in it yet. */
  readonly #due: LaidPiece[] = [];
  readonly #trace: Trace;
  readonly #height: Float64Array;
  /** Widest bead, mm. */
  readonly #widest: number;
  /** The bead in work, in pieces, and the middle of the upper side of one of them; along, across, up. */
  readonly #p = new Float64Array(3);
  readonly #t = new Float64Array(3);
  readonly #u = new Float64Array(3);
  readonly #d = new Float64Array(3);
  /** Its grid, and along, across and up by the axes of that. */
  #number = 0;
  readonly #tg = new Float64Array(3);
  readonly #ug = new Float64Array(3);
  readonly #dg = new Float64Array(3);
  #pieces = 0;
  /** Of a piece, mm. */
  #halfLength = 0;
  #halfWidth = 0;
  #h = 0;
  #block = 0;
  readonly #here = { block: 0, p: this.#p, u: this.#u, d: this.#d, halfWidth: 0, height: 0 };
  /** Of a column of cells where the piece begins and ends, mm from its middle. */
  #low = 0;
  #high = 0;

  /**
   * @param grids empty, with room for all of it
   * @param span longest bridge, mm
   */
  constructor(
    trace: Trace,
    heights: Heights,
    machine: Machine,
    grids: Grids,
    part: KnownPart | undefined,
    span: number,
  ) {
    this.#trace = trace;
    this.#height = heights.height;
    this.#widest = BOUNDS.beadBores * machine.nozzle.diameter;
    this.grids = grids;
    this.#hung = grids.empty();
    this.#fresh = grids.list.map(() => 0);
    this.cells = grids.list.map(() => new Map<number, VolumeCell>());
    this.stretches = new Stretches(trace, part?.inside, span, (piece) => this.#due.push(piece));
    this.#levels = new BeadSupport(trace, heights, machine, part);
    const { turned } = heights;
    this.#turned = turned && new TurningSupport(turned.pieces, part, onFaceOf(machine));
    this.#reach = this.#levels;
  }

  /** Room that is taken up, mm3: less than what is metered where beads overlap. */
  get filled(): number {
    return this.grids.list.reduce((sum, grid, n) => sum + this.#fresh[n]! * grid.cellVolume, 0);
  }

  /** Lays block b, if it lays anything; blocks come in order. */
  block(b: number): void {
    const { kind, tip, length, volume } = this.#trace;
    if (kind[b] !== TraceKind.deposit || !(volume[b]! > 0) || b === 0) {
      if (length[b]! > 0) this.#endChain();
      return;
    }
    const before = [...this.#t] as unknown as Vec3;
    const [i, k] = [3 * b, 3 * b - 3];
    if (!this.#aim(b)) return;
    const { run, turning } = this.#trace;
    this.#reach = this.#turned && turning[run[b]!] === 1 ? this.#turned : this.#levels;
    this.#reach.aim(b, this.#h);
    const size = 2 * this.#halfLength * this.#pieces;
    this.length += size;
    this.metered += volume[b]!;
    const t = this.#t;
    const goesOn = kind[b - 1] === TraceKind.deposit;
    const along = before[0] * t[0]! + before[1] * t[1]! + before[2] * t[2]!;
    if (goesOn && along < SHARP_TURN) this.#joint(k);
    if (!this.stretches.inChain) this.stretches.begin(this.#holds(tip, k, -1));
    this.stretches.reaches(this.#holds(tip, i, 1));
    for (let n = 0; n < this.#pieces; n++) {
      this.#place(n);
      this.#look(n);
      this.#fill(volume[b]! / this.#pieces, false, this.grids);
    }
    if (this.#due.length > 0) {
      this.#hang();
      this.#aim(b);
    }
  }

  #endChain(): void {
    this.stretches.end();
    this.#hang();
  }

  #hang(): void {
    for (const { block, index } of this.#due) {
      this.#aim(block);
      this.#place(index);
      this.#fill(0, false, this.#hung);
    }
    this.#due.length = 0;
  }

  /** Takes the bead of block b into work. @returns false if the tip stands on it */
  #aim(b: number): boolean {
    const { tip, direction, volume } = this.#trace;
    const [i, k] = [3 * b, 3 * b - 3];
    const [d, t, u] = [this.#d, this.#t, this.#u];
    let size = 0;
    for (let c = 0; c < 3; c++) {
      t[c] = tip[i + c]! - tip[k + c]!;
      d[c] = direction[i + c]! + direction[k + c]!;
      size += t[c]! * t[c]!;
    }
    size = Math.sqrt(size);
    if (!(size > 1e-6)) return false;
    const up = Math.sqrt(d[0]! * d[0]! + d[1]! * d[1]! + d[2]! * d[2]!);
    for (let c = 0; c < 3; c++) {
      t[c]! /= size;
      d[c]! /= up;
    }
    cross(d, t, u);
    this.#number = this.grids.numberFor(this.#trace.run[b]!);
    const grid = this.grids.list[this.#number]!;
    for (let c = 0; c < 3; c++) {
      const [x, y, z] = grid.axes[c]!;
      this.#tg[c] = x * t[0]! + y * t[1]! + z * t[2]!;
      this.#ug[c] = x * u[0]! + y * u[1]! + z * u[2]!;
      this.#dg[c] = x * d[0]! + y * d[1]! + z * d[2]!;
    }
    this.#block = b;
    this.#h = this.#height[b]!;
    this.#halfWidth = Math.min(this.#widest, volume[b]! / size / this.#h) / 2;
    this.#pieces = Math.ceil(size / Math.min(LONGEST_LOOK, PIECE_EDGES * grid.edge));
    this.#halfLength = size / this.#pieces / 2;
    this.#here.block = b;
    this.#here.halfWidth = this.#halfWidth;
    this.#here.height = this.#h;
    return true;
  }

  /** Goes to the middle of piece n of the bead in work. */
  #place(n: number): void {
    const at = (2 * n + 1) * this.#halfLength;
    const from = 3 * this.#block - 3;
    for (let c = 0; c < 3; c++) this.#p[c] = this.#trace.tip[from + c]! + at * this.#t[c]!;
  }

  /**
   * Whether the end of a bead is held: it lies on something, or its round end, half a width about
   * the last place of the tip, runs into what is laid and does not hang. Half a cube farther, because the
   * grid may place the flank of a bead that just touches off by that much.
   */
  #holds(tip: Float64Array, i: number, sense: number): boolean {
    const [p, d, t] = [this.#p, this.#d, this.#t];
    for (let c = 0; c < 3; c++) p[c] = tip[i + c]!;
    if (this.#carried() >= LEAST_CARRIED) return true;
    const [u, s] = [this.#u, this.#h / 2];
    const reach = this.#halfWidth + this.grids.list[this.#number]!.edge / 2;
    for (const angle of END_ANGLES) {
      const ahead = sense * reach * Math.cos(angle);
      const aside = reach * Math.sin(angle);
      const x = p[0]! - s * d[0]! + ahead * t[0]! + aside * u[0]!;
      const y = p[1]! - s * d[1]! + ahead * t[1]! + aside * u[1]!;
      const z = p[2]! - s * d[2]! + ahead * t[2]! + aside * u[2]!;
      if (this.grids.at(x, y, z) && !this.#hung.at(x, y, z)) return true;
    }
    return false;
  }

  /** The round of a sharp corner, whose material is that of the beads beside it. */
  #joint(k: number): void {
    for (let c = 0; c < 3; c++) this.#p[c] = this.#trace.tip[k + c]!;
    const half = this.#halfLength;
    this.#halfLength = this.#halfWidth;
    this.#fill(0, true, this.grids);
    this.#halfLength = half;
  }

  /** What lies under the piece, and the stretch that it belongs to. */
  #look(index: number): void {
    const found = this.#carried();
    const [p, d, s] = [this.#p, this.#d, LAYER_BELOW * this.#h];
    const below: Vec3 = [p[0]! - s * d[0]!, p[1]! - s * d[1]!, p[2]! - s * d[2]!];
    const [length, width] = [2 * this.#halfLength, 2 * this.#halfWidth];
    const here: PiecePlace = this.#here;
    const air = found < SHARES_ACROSS.length ? length * this.#reach.beyond(here) : 0;
    const carried = found >= LEAST_CARRIED;
    const beside = !carried && this.#reach.isBeside(here);
    if (carried) this.#reach.isCarried(here, this.#t, length);
    const block = this.#block;
    this.stretches.piece({ block, index, below, length, width, air, beside }, carried);
  }

  /** How many of the samples across the bead find something under them. */
  #carried(): number {
    const place: PiecePlace = this.#here;
    let carried = 0;
    for (const share of SHARES_ACROSS)
      if (this.#reach.rests(place, 2 * this.#halfWidth * share)) carried++;
    return carried;
  }

  /** Sets the cells of its grid whose middles lie in the piece, column by column. */
  #fill(volume: number, round: boolean, grids: Grids): void {
    const grid = grids.list[this.#number]!;
    const { edges, origin, axes } = grid;
    const [p, t, u, d] = [this.#p, this.#tg, this.#ug, this.#dg];
    const [hl, hw, h] = [this.#halfLength, this.#halfWidth, this.#h];
    // Middle of the box.
    const mx = p[0]! - (this.#d[0]! * h) / 2;
    const my = p[1]! - (this.#d[1]! * h) / 2;
    const mz = p[2]! - (this.#d[2]! * h) / 2;
    const [ax, ay, az] = axes.map((a) => a[0] * mx + a[1] * my + a[2] * mz) as unknown as Vec3;
    const rx = Math.abs(t[0]!) * hl + Math.abs(u[0]!) * hw + (Math.abs(d[0]!) * h) / 2;
    const ry = Math.abs(t[1]!) * hl + Math.abs(u[1]!) * hw + (Math.abs(d[1]!) * h) / 2;
    const x0 = Math.ceil((ax - rx - origin[0]) / edges[0] - 0.5);
    const x1 = Math.ceil((ax + rx - origin[0]) / edges[0] - 0.5) - 1;
    const y0 = Math.ceil((ay - ry - origin[1]) / edges[1] - 0.5);
    const y1 = Math.ceil((ay + ry - origin[1]) / edges[1] - 0.5) - 1;
    const shared = grids === this.grids && grids.mayHaveOther(this.#number, mx, my, mz);
    let fresh = 0;
    for (let x = x0; x <= x1; x++) {
      const dx = origin[0] + (x + 0.5) * edges[0] - ax;
      for (let y = y0; y <= y1; y++) {
        const dy = origin[1] + (y + 0.5) * edges[1] - ay;
        if (!(round ? this.#inRound(dx, dy) : this.#inBox(dx, dy))) continue;
        const z0 = Math.ceil((az + this.#low - origin[2]) / edges[2] - 0.5);
        const z1 = Math.ceil((az + this.#high - origin[2]) / edges[2] - 0.5) - 1;
        if (z1 < z0) continue;
        fresh += shared
          ? this.#setShared(grid, x, y, z0, z1)
          : grid.setColumn(x, y, z0, z1, this.#block);
      }
    }
    if (grids !== this.grids) return;
    this.#fresh[this.#number]! += fresh;
    this.#count(grid, ax, ay, az, volume, fresh);
  }

  /** Sets a column of cells. @returns how many were not set before, in this grid or another one */
  #setShared(grid: Grid, x: number, y: number, z0: number, z1: number): number {
    let fresh = 0;
    for (let z = z0; z <= z1; z++) {
      if (grid.setColumn(x, y, z, z, this.#block) === 0) continue;
      const [px, py, pz] = grid.placeOf(x + 0.5, y + 0.5, z + 0.5);
      if (!this.grids.hasOther(this.#number, px, py, pz)) fresh++;
    }
    return fresh;
  }

  /** Where a column of cells passes the box of the piece. @returns whether it does */
  #inBox(dx: number, dy: number): boolean {
    const [t, u, d] = [this.#tg, this.#ug, this.#dg];
    this.#low = -Infinity;
    this.#high = Infinity;
    this.#narrow(dx * t[0]! + dy * t[1]!, t[2]!, this.#halfLength);
    if (!(this.#low < this.#high)) return false;
    this.#narrow(dx * u[0]! + dy * u[1]!, u[2]!, this.#halfWidth);
    if (!(this.#low < this.#high)) return false;
    this.#narrow(dx * d[0]! + dy * d[1]!, d[2]!, this.#h / 2);
    return this.#low < this.#high;
  }

  /** The same for the disc of a corner: the slab of its height, and a cylinder about d. */
  #inRound(dx: number, dy: number): boolean {
    const [d, hw] = [this.#dg, this.#halfWidth];
    this.#low = -Infinity;
    this.#high = Infinity;
    const a = dx * d[0]! + dy * d[1]!;
    this.#narrow(a, d[2]!, this.#h / 2);
    const q = dx * dx + dy * dy - a * a - hw * hw;
    const b = -a * d[2]!;
    const c = 1 - d[2]! * d[2]!;
    if (c < 1e-9) return q < 0 && this.#low < this.#high;
    const root = b * b - c * q;
    if (root <= 0) return false;
    this.#low = Math.max(this.#low, (-b - Math.sqrt(root)) / c);
    this.#high = Math.min(this.#high, (-b + Math.sqrt(root)) / c);
    return this.#low < this.#high;
  }

  /** Narrows low .. high to where |a + z b| < half (the lower end belongs to it, the upper one not). */
  #narrow(a: number, b: number, half: number): void {
    if (Math.abs(b) < 1e-9) {
      if (!(a >= -half && a < half)) [this.#low, this.#high] = [1, 0];
      return;
    }
    const p = (-half - a) / b;
    const q = (half - a) / b;
    const [from, to] = b > 0 ? [p, q] : [q, p];
    if (from > this.#low) this.#low = from;
    if (to < this.#high) this.#high = to;
  }

  #count(grid: Grid, x: number, y: number, z: number, volume: number, fresh: number): void {
    const { edges, origin } = grid;
    const i = Math.floor((x - origin[0]) / (CELL_CUBES * edges[0]));
    const j = Math.floor((y - origin[1]) / (CELL_CUBES * edges[1]));
    const k = Math.floor((z - origin[2]) / (CELL_CUBES * edges[2]));
    const key = (i * CELLS + j) * CELLS + k;
    const cells = this.cells[this.#number]!;
    let cell = cells.get(key);
    if (!cell) cells.set(key, (cell = { metered: 0, filled: 0, block: this.#block }));
    cell.metered += volume;
    cell.filled += fresh * grid.cellVolume;
    cell.block = this.#block;
  }
}

function cross(a: Float64Array, b: Float64Array, out: Float64Array): void {
  out[0] = a[1]! * b[2]! - a[2]! * b[1]!;
  out[1] = a[2]! * b[0]! - a[0]! * b[2]!;
  out[2] = a[0]! * b[1]! - a[1]! * b[0]!;
  const size = Math.sqrt(out[0]! ** 2 + out[1]! ** 2 + out[2]! ** 2);
  if (size > 0) for (let c = 0; c < 3; c++) out[c]! /= size;
}
