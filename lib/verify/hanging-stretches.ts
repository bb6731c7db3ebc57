/**
 * Which stretches of the beads hang, from pieces along each chain of beads that are carried or not.
 *
 * The rule, by area. In the open, where the part itself has nothing below, a place hangs that is farther
 * out than the self-supporting angle reaches (bead-support.ts), whether the rest of its bead lies on
 * something or not. Only a bridge is excepted: a straight stretch between two carried places, no longer
 * than the longest span and a bead's width more, for its ends are found along the bead to half its width.
 * Over the inside of the part, between beads of sparse fill, a piece that is not carried hangs as a whole,
 * unless its stretch is straight to half its width, lies between two places that hold it and is no longer
 * than the gaps of the sparsest usual fill; if no longer than the bead is wide it may turn, or end. What
 * goes round over a gap is held by nothing on its way; but where it lies against a bead of its level that
 * is carried just there, it is held as well as a straight stretch would be, for as far. Where no part is
 * known every gap is taken for one of the fill. A chain that is carried nowhere hangs as a whole. Pieces
 * that hang are handed back, for what ends at them is not held.
 */
import { type Vec3, cross, length, sub } from '../base/vector.js';
import type { Trace } from './trace.js';

/**
 * Longest way between two carried places that counts as carried where neither the part nor a span is
 * known, or where it crosses fill, mm.
 */
export const LONGEST_BRIDGE = 10;
/** Gaps between the beads of the layer below are no spans: this many widths (common practice, no source). */
const GAPS = 2;

/** Piece `index` of a block's bead, and a place a little below its underside. */
export interface LaidPiece {
  readonly block: number;
  readonly index: number;
  readonly below: Vec3;
  /** mm */
  readonly length: number;
  readonly width: number;
  /** What of it hangs in the open, mm2. */
  readonly air: number;
  /** Whether it lies against a bead of its level that is carried there. */
  readonly beside: boolean;
}

export interface HangingStretch {
  readonly block: number;
  /** Of whole bead: the area over the width, mm. */
  readonly length: number;
  /** mm2 */
  readonly area: number;
  /** Whether it hangs over the inside of the part, as far as that is known: between beads of fill. */
  readonly overFill: boolean;
}

interface EndsHeld {
  readonly begin: boolean;
  readonly end: boolean;
}

export class Stretches {
  readonly hanging: HangingStretch[] = [];
  /** Lengths of beads in the air, and of what is carried as bridges, mm. */
  inAir = 0;
  bridged = 0;
  readonly #trace: Trace;
  readonly #inside: ((p: Vec3) => boolean) | undefined;
  readonly #span: number;
  readonly #hung: (piece: LaidPiece) => void;
  /** The stretch in work: length, pieces. */
  #open = 0;
  #openPieces: LaidPiece[] = [];
  #width = 0;
  /** Whether the chain was carried somewhere, and is held at its end so far. */
  #carried = false;
  #endHeld = false;
  /** The stretch with which the chain began, if it was not carried there. */
  #head = 0;
  #headPieces: readonly LaidPiece[] = [];
  #firstBlock = -1;
  #lastBlock = -1;
  /** Where carried pieces began to hang over, and by how much they do, mm2. */
  #over: LaidPiece | undefined;
  #overArea = 0;

  /**
   * @param inside whether a place is inside the part; undefined where no part is known
   * @param span longest bridge, mm
   * @param hung called for each piece that hangs, once its chain has ended or the stretch is closed
   */
  constructor(
    trace: Trace,
    inside: ((p: Vec3) => boolean) | undefined,
    span: number,
    hung: (piece: LaidPiece) => void,
  ) {
    this.#trace = trace;
    this.#inside = inside;
    this.#span = span;
    this.#hung = hung;
  }

  get inChain(): boolean {
    return this.#firstBlock >= 0;
  }

  /** A chain begins. @param held whether its start is held */
  begin(held: boolean): void {
    this.#carried = held;
  }

  /** @param held whether the end of the block is that comes next */
  reaches(held: boolean): void {
    this.#endHeld = held;
  }

  piece(piece: LaidPiece, carried: boolean): void {
    if (this.#firstBlock < 0) this.#firstBlock = piece.block;
    this.#lastBlock = piece.block;
    if (carried) {
      this.#meet();
      this.#carried = true;
      this.#edge(piece);
      return;
    }
    this.#endEdge();
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
      else if (open > 0) this.#settle(this.#openPieces, { begin: true, end: false });
      if (this.#head > 0) this.#settle(this.#headPieces, { begin: false, end: true });
    } else if (open > 0) this.#settle(this.#openPieces, { begin: false, end: this.#endHeld });
    this.#endEdge();
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
  #close(length: number, pieces: readonly LaidPiece[]): void {
    const [span, width] = [this.#span, this.#width];
    const bridged = span > 0 && length <= span + width && isStraight(pieces, width / 2);
    this.#settle(pieces, { begin: true, end: true }, bridged);
  }

  /** What of a stretch hangs: in the open what the angle does not reach, else whole pieces. */
  #settle(pieces: readonly LaidPiece[], held: EndsHeld, bridged = false): void {
    const gaps = bridged ? [] : this.#gaps(pieces, held);
    let [open, fill] = [0, 0];
    pieces.forEach((piece, i) => {
      const whole = piece.length * piece.width;
      let area = 0;
      if (piece.air > 0) open += area = bridged ? 0 : piece.air;
      else if (gaps[i] && (this.#inside?.(piece.below) ?? true)) fill += area = whole;
      if (area > 0) this.#hung(piece);
      this.bridged += piece.length * (1 - area / whole);
    });
    this.#report(pieces[0]!, open, fill);
  }

  /**
   * For each piece whether it hangs between beads of fill: what is beside carried beads divides the stretch.
   */
  #gaps(pieces: readonly LaidPiece[], held: EndsHeld): boolean[] {
    const out = new Array<boolean>(pieces.length);
    for (let first = 0, end; first < pieces.length; first = end) {
      const { beside } = pieces[first]!;
      for (end = first + 1; end < pieces.length && pieces[end]!.beside === beside;) end++;
      const part = pieces.slice(first, end);
      const length = part.reduce((sum, p) => sum + p.length, 0);
      const ends = Number(first > 0 || held.begin) + Number(end < pieces.length || held.end);
      out.fill(beside ? length > LONGEST_BRIDGE : this.#hangs(part, length, ends), first, end);
    }
    return out;
  }

  /** @param ends how many of its ends are held */
  #hangs(part: readonly LaidPiece[], length: number, ends: number): boolean {
    if (ends === 0) return true;
    const width = this.#width;
    if (length <= width) return false;
    return ends < 2 || length > this.#gap(part) + width || !isStraight(part, width / 2);
  }

  /** Longest straight stretch between beads of fill, mm. */
  #gap(pieces: readonly LaidPiece[]): number {
    const least = Math.max(this.#span, GAPS * this.#width);
    return this.#isOverFill(pieces) ? Math.max(least, LONGEST_BRIDGE) : least;
  }

  #isOverFill(pieces: readonly LaidPiece[]): boolean {
    const inside = this.#inside;
    const last = pieces.length - 1;
    return !!inside && [0, last >> 1, last].every((i) => inside(pieces[i]!.below));
  }

  #report({ block, width }: LaidPiece, open: number, fill: number): void {
    const area = open + fill;
    if (!(area > 0)) return;
    this.inAir += area / width;
    this.hanging.push({ block, length: area / width, area, overFill: fill > open });
  }

  /** A piece that is carried and hangs over by a part of its width. */
  #edge(piece: LaidPiece): void {
    if (piece.air > 0) {
      this.#over ??= piece;
      this.#overArea += piece.air;
    } else this.#endEdge();
  }

  #endEdge(): void {
    if (this.#over) this.#report(this.#over, this.#overArea, 0);
    this.#over = undefined;
    this.#overArea = 0;
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
function isStraight(pieces: readonly LaidPiece[], within: number): boolean {
  const from = pieces[0]!.below;
  const way = sub(pieces.at(-1)!.below, from);
  const size = length(way);
  if (size === 0) return pieces.length === 1;
  return pieces.every(({ below }) => length(cross(sub(below, from), way)) <= within * size);
}
