/**
 * Beads in short pieces: what lies under a bead is looked for piece by piece, and piece by piece it is laid. A bead is
 * its cross-section swept along the tip's path in the part frame, square to the head's direction and under the tip.
 */
import type { Vec3 } from '../base/vector.js';
import type { PiecePlace } from './bead-support.js';
import type { Grids } from './grids.js';
import type { Trace } from './trace.js';

/** Pieces of a bead are no longer than this many edges of the grid. */
const PIECE_EDGES = 5;
/** Nor longer than this, mm: what carries them is looked for in their middles, and a bead of fill is not much wider. */
const LONGEST_LOOK = 0.3;

export class BeadPieces {
  /** Middle of the upper side of the piece in work; along, across, up. */
  readonly p = new Float64Array(3);
  readonly t = new Float64Array(3);
  readonly u = new Float64Array(3);
  readonly d = new Float64Array(3);
  /** Of the bead in work: its block, pieces, and the place of its grid. */
  block = 0;
  count = 0;
  number = 0;
  /** Of a piece, mm. */
  halfLength = 0;
  halfWidth = 0;
  height = 0;
  readonly #trace: Trace;
  readonly #height: Float64Array;
  readonly #widest: number;
  readonly #grids: Grids;
  readonly #here = { block: 0, p: this.p, u: this.u, d: this.d, halfWidth: 0, height: 0 };

  /**
   * @param height of each block's bead, mm
   * @param widest no bead is taken as wider, mm
   */
  constructor(trace: Trace, height: Float64Array, widest: number, grids: Grids) {
    this.#trace = trace;
    this.#height = height;
    this.#widest = widest;
    this.#grids = grids;
  }

  /** The piece in work; changes with it. */
  get here(): PiecePlace {
    return this.#here;
  }

  /** Takes the bead of block b into work. @returns false if the tip stands on it */
  aim(b: number): boolean {
    const { tip, direction, volume, run } = this.#trace;
    const [i, k] = [3 * b, 3 * b - 3];
    const { d, t, u } = this;
    let size = 0;
    for (let c = 0; c < 3; c++) {
      t[c] = tip[i + c]! - tip[k + c]!;
      d[c] = direction[i + c]! + direction[k + c]!;
      size += t[c]! * t[c]!;
    }
    size = Math.sqrt(size);
    if (!(size > LEAST_WAY)) return false;
    const up = Math.sqrt(d[0]! * d[0]! + d[1]! * d[1]! + d[2]! * d[2]!);
    for (let c = 0; c < 3; c++) {
      t[c]! /= size;
      d[c]! /= up;
    }
    cross(d, t, u);
    this.number = this.#grids.numberFor(run[b]!);
    this.block = b;
    this.height = this.#height[b]!;
    this.halfWidth = Math.min(this.#widest, volume[b]! / size / this.height) / 2;
    const { edge } = this.#grids.list[this.number]!;
    this.count = Math.ceil(size / Math.min(LONGEST_LOOK, PIECE_EDGES * edge));
    this.halfLength = size / this.count / 2;
    this.#here.block = b;
    this.#here.halfWidth = this.halfWidth;
    this.#here.height = this.height;
    return true;
  }

  /** Whether a block has a bead on which the tip does not stand. */
  isLong(b: number): boolean {
    const { tip } = this.#trace;
    const [i, k] = [3 * b, 3 * b - 3];
    const [x, y, z] = [tip[i]! - tip[k]!, tip[i + 1]! - tip[k + 1]!, tip[i + 2]! - tip[k + 2]!];
    return Math.sqrt(x * x + y * y + z * z) > LEAST_WAY;
  }

  /** Goes to the middle of piece n of the bead in work. */
  place(n: number): void {
    const at = (2 * n + 1) * this.halfLength;
    const from = 3 * this.block - 3;
    for (let c = 0; c < 3; c++) this.p[c] = this.#trace.tip[from + c]! + at * this.t[c]!;
  }

  /** Goes to the place of the tip at the end of block b. */
  stand(b: number): void {
    for (let c = 0; c < 3; c++) this.p[c] = this.#trace.tip[3 * b + c]!;
  }

  /** A place so far under the upper side, part frame. */
  under(s: number): Vec3 {
    const { p, d } = this;
    return [p[0]! - s * d[0]!, p[1]! - s * d[1]!, p[2]! - s * d[2]!];
  }
}

/** On a shorter way the tip stands, mm. */
const LEAST_WAY = 1e-6;

function cross(a: Float64Array, b: Float64Array, out: Float64Array): void {
  out[0] = a[1]! * b[2]! - a[2]! * b[1]!;
  out[1] = a[2]! * b[0]! - a[0]! * b[2]!;
  out[2] = a[0]! * b[1]! - a[1]! * b[0]!;
  const size = Math.sqrt(out[0]! ** 2 + out[1]! ** 2 + out[2]! ** 2);
  if (size > 0) for (let c = 0; c < 3; c++) out[c]! /= size;
}
