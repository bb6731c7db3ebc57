/**
 * Which stretches of the beads hang in the air: pieces come in along each chain of beads, carried or
 * not; stretches that hang come out with the block at which they begin.
 *
 * A stretch between two carried places is a bridge, and it counts as carried up to the longest
 * span and a bead's width more, for its ends are found along the bead to half its width. It is straight, to
 * half its width: what goes round over nothing is held by nothing on its way. Where sparse
 * fill lies below (the place under the stretch is inside the part) it may be as long as the gaps of
 * the sparsest usual fill, and bent: how far apart fill beads lie is the choice of who planned them. A stretch at the begin or end of a chain may be as long as the bead is
 * wide. A chain that is carried nowhere hangs whole. Pieces that hang are handed back, for what ends at
 * them is not held.
 */
import { type Vec3, cross, length, sub } from '../base/vector.js';
import type { Trace } from './trace.js';

/**
 * Longest way between two carried places that counts as carried where neither the part nor a span is
 * known, or where it crosses fill, mm.
 */
export const BRIDGE = 10;
/** Gaps between the beads of the layer below are no spans: this many widths (common practice, no source). */
const GAPS = 2;

/** Piece `index` of a block's bead, and a place a little below its underside. */
export interface Piece {
  readonly block: number;
  readonly index: number;
  readonly below: Vec3;
  /** mm */
  readonly length: number;
  readonly width: number;
}

export interface Stretch {
  readonly block: number;
  /** mm */
  readonly length: number;
  /** Length by width, mm2. */
  readonly area: number;
  /** Whether it hangs over the inside of the part, as far as that is known: between beads of fill. */
  readonly overFill: boolean;
}

export class Stretches {
  readonly hanging: Stretch[] = [];
  /** Lengths of beads in the air, and of what is carried as bridges, mm. */
  inAir = 0;
  bridged = 0;
  readonly #trace: Trace;
  readonly #inside: (p: Vec3) => boolean;
  readonly #span: number;
  readonly #hung: (piece: Piece) => void;
  /** The stretch in work: length, pieces. */
  #open = 0;
  #openPieces: Piece[] = [];
  #width = 0;
  /** Whether the chain was carried somewhere, and is held at its end so far. */
  #carried = false;
  #endHeld = false;
  /** The stretch with which the chain began, if it was not carried there. */
  #head = 0;
  #headPieces: readonly Piece[] = [];
  #firstBlock = -1;
  #lastBlock = -1;

  /**
   * @param inside whether a place is inside the part; always false where no part is known
   * @param span longest bridge, mm
   * @param hung called for each piece that hangs, once its chain has ended or the stretch is closed
   */
  constructor(
    trace: Trace,
    inside: (p: Vec3) => boolean,
    span: number,
    hung: (piece: Piece) => void,
  ) {
    this.#trace = trace;
    this.#inside = inside;
    this.#span = span;
    this.#hung = hung;
  }

  get inChain(): boolean {
    return this.#firstBlock >= 0;
  }

  /** A chain begins. @param held whether its begin is */
  begin(held: boolean): void {
    this.#carried = held;
  }

  /** @param held whether the end of the block is that comes next */
  reaches(held: boolean): void {
    this.#endHeld = held;
  }

  piece(piece: Piece, carried: boolean): void {
    if (this.#firstBlock < 0) this.#firstBlock = piece.block;
    this.#lastBlock = piece.block;
    if (carried) {
      this.#meet();
      this.#carried = true;
      return;
    }
    if (this.#open === 0) {
      this.#openPieces = [];
      this.#width = piece.width;
    }
    this.#open += piece.length;
    this.#openPieces.push(piece);
  }

  /** The chain ends: the head moves on without material. */
  end(): void {
    if (this.#firstBlock < 0) return;
    const open = this.#open;
    if (this.#head > 0 && open > 0 && this.#isLoop()) {
      const length = this.#head + open;
      this.#close(length, [...this.#openPieces, ...this.#headPieces]);
    } else if (this.#carried) {
      if (open > 0 && this.#endHeld) this.#close(open, this.#openPieces);
      else if (open > 0) this.#closeEnd(open, this.#openPieces);
      if (this.#head > 0) this.#closeEnd(this.#head, this.#headPieces);
    } else if (open > 0) this.#hang(open, this.#openPieces);
    this.#open = 0;
    this.#head = 0;
    this.#carried = false;
    this.#endHeld = false;
    this.#firstBlock = -1;
  }

  /** The stretch in work comes to a carried place. */
  #meet(): void {
    if (this.#open === 0) return;
    if (this.#carried) this.#close(this.#open, this.#openPieces);
    else {
      this.#head = this.#open;
      this.#headPieces = this.#openPieces;
    }
    this.#open = 0;
  }

  /** A stretch between two carried places. */
  #close(length: number, pieces: readonly Piece[]): void {
    const [span, width] = [this.#span, this.#width];
    const carried =
      length <= width ||
      (length <= Math.max(span, GAPS * width) + width && isStraight(pieces, width / 2)) ||
      (length <= BRIDGE + width && this.#isOverFill(pieces));
    if (carried) this.bridged += length;
    else this.#hang(length, pieces);
  }

  #isOverFill(pieces: readonly Piece[]): boolean {
    const last = pieces.length - 1;
    return [0, last >> 1, last].every((i) => this.#inside(pieces[i]!.below));
  }

  /** A stretch with one carried end. */
  #closeEnd(length: number, pieces: readonly Piece[]): void {
    if (length <= this.#width) this.bridged += length;
    else this.#hang(length, pieces);
  }

  #hang(length: number, pieces: readonly Piece[]): void {
    this.inAir += length;
    const area = pieces.reduce((sum, piece) => sum + piece.length * piece.width, 0);
    const overFill = this.#isOverFill(pieces);
    this.hanging.push({ block: pieces[0]!.block, length, area, overFill });
    pieces.forEach(this.#hung);
  }

  /** Whether the chain comes back to within a bead of where it began. */
  #isLoop(): boolean {
    const { tip } = this.#trace;
    const [i, k] = [3 * this.#firstBlock - 3, 3 * this.#lastBlock];
    const gap = Math.hypot(tip[i]! - tip[k]!, tip[i + 1]! - tip[k + 1]!, tip[i + 2]! - tip[k + 2]!);
    return gap <= this.#width;
  }
}

/** Whether no piece is farther than `within` from the line between the first and the last, mm. */
function isStraight(pieces: readonly Piece[], within: number): boolean {
  const from = pieces[0]!.below;
  const way = sub(pieces.at(-1)!.below, from);
  const size = length(way);
  if (size === 0) return pieces.length === 1;
  return pieces.every(({ below }) => length(cross(sub(below, from), way)) <= within * size);
}
