/**
 * Lays beads into grids, piece by piece: a cell is set if its middle lies in the piece. The section of a bead is a
 * rectangle of its height and of the metered area: the mean of the round flanks of a real bead, and beads at gap-free
 * spacing then touch without overlap.
 */
import type { Vec3 } from '../base/vector.js';
import type { Machine } from '../machine/machine.js';
import { BeadPieces } from './bead-pieces.js';
import type { Grid } from './grid.js';
import type { Grids } from './grids.js';
import type { Heights } from './layers.js';
import { isLaid, widestOf } from './piece-looks.js';
import type { Trace } from './trace.js';

/** Turns sharper than this leave a gap on their outside that is filled with a round joint. */
const SHARP_TURN = Math.cos(0.2);
/** A part of a unit vector that is less counts as none. */
const NONE = 1e-9;

/** First and last. */
type Ends = readonly [number, number];

export class BeadLaying {
  readonly #pieces: BeadPieces;
  /** Along, across and up by the axes of the grid. */
  readonly #t = new Float64Array(3);
  readonly #u = new Float64Array(3);
  readonly #d = new Float64Array(3);
  #halfLength = 0;
  /** Of a column of cells where the piece begins and ends, mm from its middle. */
  #low = 0;
  #high = 0;

  /** @param pieces what is laid is the piece that they have in work */
  constructor(pieces: BeadPieces) {
    this.#pieces = pieces;
  }

  /** Lays the piece. @returns cells that were set where no grid had material */
  box(grids: Grids): number {
    this.#halfLength = this.#pieces.halfLength;
    return this.#fill(false, grids);
  }

  /**
   * The round of a corner at the beginning of block b, the bead in work.
   * @returns cells that were set where no grid had material; -1 where there is no sharp corner
   */
  joint(trace: Trace, b: number, grids: Grids): number {
    if (!isLaid(trace, b - 1)) return -1;
    const { tip } = trace;
    const { t } = this.#pieces;
    const k = 3 * b - 3;
    const [x, y, z] = [0, 1, 2].map((c) => tip[k + c]! - tip[k - 3 + c]!) as unknown as Vec3;
    const size = Math.sqrt(x * x + y * y + z * z);
    const turn = (x / size) * t[0]! + (y / size) * t[1]! + (z / size) * t[2]!;
    if (!(turn < SHARP_TURN)) return -1;
    this.#pieces.stand(b - 1);
    this.#halfLength = this.#pieces.halfWidth;
    return this.#fill(true, grids);
  }

  #fill(round: boolean, grids: Grids): number {
    const { number, p, height: h, halfWidth: hw } = this.#pieces;
    const grid = grids.list[number]!;
    this.#turn(grid);
    const { edges, origin, axes } = grid;
    const [t, u, d, hl] = [this.#t, this.#u, this.#d, this.#halfLength];
    // Middle of the box.
    const mx = p[0]! - (this.#pieces.d[0]! * h) / 2;
    const my = p[1]! - (this.#pieces.d[1]! * h) / 2;
    const mz = p[2]! - (this.#pieces.d[2]! * h) / 2;
    const ax = axes[0][0] * mx + axes[0][1] * my + axes[0][2] * mz;
    const ay = axes[1][0] * mx + axes[1][1] * my + axes[1][2] * mz;
    const az = axes[2][0] * mx + axes[2][1] * my + axes[2][2] * mz;
    const rx = Math.abs(t[0]!) * hl + Math.abs(u[0]!) * hw + (Math.abs(d[0]!) * h) / 2;
    const ry = Math.abs(t[1]!) * hl + Math.abs(u[1]!) * hw + (Math.abs(d[1]!) * h) / 2;
    const x0 = Math.ceil((ax - rx - origin[0]) / edges[0] - 0.5);
    const x1 = Math.ceil((ax + rx - origin[0]) / edges[0] - 0.5) - 1;
    const y0 = Math.ceil((ay - ry - origin[1]) / edges[1] - 0.5);
    const y1 = Math.ceil((ay + ry - origin[1]) / edges[1] - 0.5) - 1;
    const shared = grids.mayHaveOther(number, mx, my, mz);
    if (!round && this.#isLevel() && !shared)
      return this.#fillLevel(grid, [x0, x1], [y0, y1], [ax, ay, az]);
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
          ? this.#setShared(grids, x, y, z0, z1)
          : grid.setColumn(x, y, z0, z1, this.#pieces.block);
      }
    }
    return fresh;
  }

  /** Whether the piece lies in the plane of the first two axes of its grid. */
  #isLevel(): boolean {
    const [t, u, d] = [this.#t, this.#u, this.#d];
    return [t[2]!, u[2]!, d[0]!, d[1]!].every((part) => Math.abs(part) < NONE);
  }

  /** The same for a box that does: all of its columns are alike. */
  #fillLevel(grid: Grid, xs: Ends, ys: Ends, [ax, ay, az]: Vec3): number {
    const { edges, origin } = grid;
    const { block, halfWidth: hw } = this.#pieces;
    const [t0, t1, u0, u1, hl] = [
      this.#t[0]!,
      this.#t[1]!,
      this.#u[0]!,
      this.#u[1]!,
      this.#halfLength,
    ];
    this.#low = -Infinity;
    this.#high = Infinity;
    this.#narrow(0, this.#d[2]!, this.#pieces.height / 2);
    const z0 = Math.ceil((az + this.#low - origin[2]) / edges[2] - 0.5);
    const z1 = Math.ceil((az + this.#high - origin[2]) / edges[2] - 0.5) - 1;
    let fresh = 0;
    for (let x = xs[0]; x <= xs[1]; x++) {
      const dx = origin[0] + (x + 0.5) * edges[0] - ax;
      for (let y = ys[0]; y <= ys[1]; y++) {
        const dy = origin[1] + (y + 0.5) * edges[1] - ay;
        const along = dx * t0 + dy * t1;
        if (!(along >= -hl && along < hl)) continue;
        const across = dx * u0 + dy * u1;
        if (across >= -hw && across < hw) fresh += grid.setColumn(x, y, z0, z1, block);
      }
    }
    return fresh;
  }

  /** Takes the ways of the piece by the axes of a grid. */
  #turn({ axes }: Grid): void {
    const { t, u, d } = this.#pieces;
    for (let c = 0; c < 3; c++) {
      const [x, y, z] = axes[c]!;
      this.#t[c] = x * t[0]! + y * t[1]! + z * t[2]!;
      this.#u[c] = x * u[0]! + y * u[1]! + z * u[2]!;
      this.#d[c] = x * d[0]! + y * d[1]! + z * d[2]!;
    }
  }

  /** Sets a column of cells. @returns how many were not set before, in this grid or another one */
  #setShared(grids: Grids, x: number, y: number, z0: number, z1: number): number {
    const { number, block } = this.#pieces;
    const grid = grids.list[number]!;
    let fresh = 0;
    for (let z = z0; z <= z1; z++) {
      if (grid.setColumn(x, y, z, z, block) === 0) continue;
      const [px, py, pz] = grid.placeOf(x + 0.5, y + 0.5, z + 0.5);
      if (!grids.hasOther(number, px, py, pz)) fresh++;
    }
    return fresh;
  }

  /** Where a column of cells passes the box of the piece. @returns whether it does */
  #inBox(dx: number, dy: number): boolean {
    const [t, u, d] = [this.#t, this.#u, this.#d];
    this.#low = -Infinity;
    this.#high = Infinity;
    this.#narrow(dx * t[0]! + dy * t[1]!, t[2]!, this.#halfLength);
    if (!(this.#low < this.#high)) return false;
    this.#narrow(dx * u[0]! + dy * u[1]!, u[2]!, this.#pieces.halfWidth);
    if (!(this.#low < this.#high)) return false;
    this.#narrow(dx * d[0]! + dy * d[1]!, d[2]!, this.#pieces.height / 2);
    return this.#low < this.#high;
  }

  /** The same for the disc of a corner: the slab of its height, and a cylinder about d. */
  #inRound(dx: number, dy: number): boolean {
    const [d, hw] = [this.#d, this.#pieces.halfWidth];
    this.#low = -Infinity;
    this.#high = Infinity;
    const a = dx * d[0]! + dy * d[1]!;
    this.#narrow(a, d[2]!, this.#pieces.height / 2);
    const q = dx * dx + dy * dy - a * a - hw * hw;
    const b = -a * d[2]!;
    const c = 1 - d[2]! * d[2]!;
    if (c < NONE) return q < 0 && this.#low < this.#high;
    const root = b * b - c * q;
    if (root <= 0) return false;
    this.#low = Math.max(this.#low, (-b - Math.sqrt(root)) / c);
    this.#high = Math.min(this.#high, (-b + Math.sqrt(root)) / c);
    return this.#low < this.#high;
  }

  /** Narrows low .. high to where |a + z b| < half (the lower end belongs to it, the upper one not). */
  #narrow(a: number, b: number, half: number): void {
    if (Math.abs(b) < NONE) {
      if (!(a >= -half && a < half)) [this.#low, this.#high] = [1, 0];
      return;
    }
    const p = (-half - a) / b;
    const q = (half - a) / b;
    const [from, to] = b > 0 ? [p, q] : [q, p];
    if (from > this.#low) this.#low = from;
    if (to < this.#high) this.#high = to;
  }
}

/** Lays a program block by block, and asks nothing of what lies under it. */
export class PlainDeposit {
  readonly #trace: Trace;
  readonly #grids: Grids;
  readonly #pieces: BeadPieces;
  readonly #laying: BeadLaying;

  /** @param grids empty, with room for all of it */
  constructor(trace: Trace, heights: Pick<Heights, 'height'>, machine: Machine, grids: Grids) {
    this.#trace = trace;
    this.#grids = grids;
    this.#pieces = new BeadPieces(trace, heights.height, widestOf(machine), grids);
    this.#laying = new BeadLaying(this.#pieces);
  }

  /** Lays block b, if it lays anything; blocks come in order. */
  block(b: number): void {
    if (!isLaid(this.#trace, b)) return;
    const pieces = this.#pieces;
    if (!pieces.aim(b)) return;
    this.#laying.joint(this.#trace, b, this.#grids);
    for (let n = 0; n < pieces.count; n++) {
      pieces.place(n);
      this.#laying.box(this.#grids);
    }
  }
}
