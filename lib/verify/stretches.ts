/**
 * Which stretches of the beads hang in the air: pieces come in along each chain of beads, carried or
 * not; stretches that hang come out with the block at which they begin.
 *
 * A stretch between two carried places is a bridge, and it counts as carried up to the longest
 * span and a bead's width more, for its ends are found along the bead to half its width. Where sparse
 * fill lies below (the place under the stretch is inside the part) it may be longer: how far apart fill
 * beads lie is the choice of who planned them. A stretch at the begin or end of a chain may be as long as the bead is
 * wide. A chain that is carried nowhere hangs whole.
 */
import type { Vec3 } from '../base/vector.js';
import type { Trace } from './trace.js';

/** Longest way between two carried places that counts as carried whatever is below, where nobody says more, mm. */
export const BRIDGE = 10;

export interface Stretch {
  readonly block: number;
  /** mm */
  readonly length: number;
}

export class Stretches {
  readonly hanging: Stretch[] = [];
  /** Lengths of beads in the air, and of what is carried as bridges, mm. */
  inAir = 0;
  bridged = 0;
  readonly #trace: Trace;
  readonly #inside: (p: Vec3) => boolean;
  readonly #span: number;
  /** The stretch in work: length, first block, and places under its begin, about its middle and its end. */
  #open = 0;
  #openBlock = 0;
  #width = 0;
  #begin: Vec3 = [0, 0, 0];
  #middle: Vec3 = [0, 0, 0];
  #middleAt = 0;
  #end: Vec3 = [0, 0, 0];
  /** Whether the chain was carried somewhere, and is held at its end so far. */
  #carried = false;
  #endHeld = false;
  /** The stretch with which the chain began, if it was not carried there. */
  #head = 0;
  #headBlock = 0;
  #headOverFill = false;
  #firstBlock = -1;
  #lastBlock = -1;

  /**
   * @param inside whether a place is inside the part; always false where no part is known
   * @param span longest bridge, mm
   */
  constructor(trace: Trace, inside: (p: Vec3) => boolean, span: number) {
    this.#trace = trace;
    this.#inside = inside;
    this.#span = span;
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

  /** @param below a place a little below the piece's underside */
  piece(block: number, length: number, carried: boolean, width: number, below: Vec3): void {
    if (this.#firstBlock < 0) this.#firstBlock = block;
    this.#lastBlock = block;
    if (carried) {
      this.#meet();
      this.#carried = true;
      return;
    }
    if (this.#open === 0) {
      this.#openBlock = block;
      this.#width = width;
      this.#begin = below;
      this.#middleAt = 0;
    }
    this.#open += length;
    this.#end = below;
    if (this.#open >= 2 * this.#middleAt) {
      this.#middle = below;
      this.#middleAt = this.#open;
    }
  }

  /** The chain ends: the head moves on without material. */
  end(): void {
    if (this.#firstBlock < 0) return;
    const open = this.#open;
    if (this.#head > 0 && open > 0 && this.#isLoop()) {
      const length = this.#head + open;
      this.#close(length, this.#openBlock, this.#headOverFill && this.#isOverFill(length));
    } else if (this.#carried) {
      if (open > 0 && this.#endHeld) this.#close(open, this.#openBlock, this.#isOverFill(open));
      else if (open > 0) this.#closeEnd(open, this.#openBlock);
      if (this.#head > 0) this.#closeEnd(this.#head, this.#headBlock);
    } else if (open > 0) this.#hang(open, this.#openBlock);
    this.#open = 0;
    this.#head = 0;
    this.#carried = false;
    this.#endHeld = false;
    this.#firstBlock = -1;
  }

  /** The stretch in work comes to a carried place. */
  #meet(): void {
    if (this.#open === 0) return;
    const overFill = this.#isOverFill(this.#open);
    if (this.#carried) this.#close(this.#open, this.#openBlock, overFill);
    else {
      this.#head = this.#open;
      this.#headBlock = this.#openBlock;
      this.#headOverFill = overFill;
    }
    this.#open = 0;
  }

  #isOverFill(length: number): boolean {
    if (length <= this.#width) return true;
    return this.#inside(this.#begin) && this.#inside(this.#middle) && this.#inside(this.#end);
  }

  /** A stretch between two carried places. */
  #close(length: number, block: number, overFill: boolean): void {
    if (length <= this.#span + this.#width || overFill) this.bridged += length;
    else this.#hang(length, block);
  }

  /** A stretch with one carried end. */
  #closeEnd(length: number, block: number): void {
    if (length <= this.#width) this.bridged += length;
    else this.#hang(length, block);
  }

  #hang(length: number, block: number): void {
    this.inAir += length;
    this.hanging.push({ block, length });
  }

  /** Whether the chain comes back to within a bead of where it began. */
  #isLoop(): boolean {
    const { tip } = this.#trace;
    const [i, k] = [3 * this.#firstBlock - 3, 3 * this.#lastBlock];
    const gap = Math.hypot(tip[i]! - tip[k]!, tip[i + 1]! - tip[k + 1]!, tip[i + 2]! - tip[k + 2]!);
    return gap <= this.#width;
  }
}
