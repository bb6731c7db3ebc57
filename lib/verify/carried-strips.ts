/**
 * Whether a place lies against a piece of bead of its own level that is carried from below. Carried pieces
 * are strips in the plane of the level; they are added one by one, and cells are made at the first query,
 * which most levels never make. Linear in the pieces.
 */

/** Edge of a cell, mm. */
const CARRIED_CELL = 1;
/** Beads side by side touch but for rounding, mm. */
const SLIT = 0.01;

const cellOf = (x: number): number => Math.floor(x / CARRIED_CELL);
const keyOf = (i: number, j: number): number => (i + 32768) * 65536 + (j + 32768);

export class CarriedStrips {
  /** Both ends and half the width of each. */
  readonly #strips: number[] = [];
  readonly #cells = new Map<number, number[]>();
  #inCells = 0;

  add(a0: number, b0: number, a1: number, b1: number, half: number): void {
    this.#strips.push(a0, b0, a1, b1, half);
  }

  holds(a: number, b: number): boolean {
    for (; this.#inCells < this.#strips.length; this.#inCells += 5) this.#put(this.#inCells);
    return (this.#cells.get(keyOf(cellOf(a), cellOf(b))) ?? []).some(
      (k) => this.#distance(k, a, b) <= SLIT,
    );
  }

  #put(k: number): void {
    const [a0, b0, a1, b1, half] = this.#strips.slice(k, k + 5) as [
      number,
      number,
      number,
      number,
      number,
    ];
    const room = half + SLIT;
    for (let i = cellOf(Math.min(a0, a1) - room); i <= cellOf(Math.max(a0, a1) + room); i++) {
      for (let j = cellOf(Math.min(b0, b1) - room); j <= cellOf(Math.max(b0, b1) + room); j++) {
        const list = this.#cells.get(keyOf(i, j));
        if (list) list.push(k);
        else this.#cells.set(keyOf(i, j), [k]);
      }
    }
  }

  #distance(k: number, a: number, b: number): number {
    const q = this.#strips;
    const [a0, b0] = [q[k]!, q[k + 1]!];
    const [x, y] = [q[k + 2]! - a0, q[k + 3]! - b0];
    const size = x * x + y * y;
    const t = size > 0 ? Math.min(1, Math.max(0, ((a - a0) * x + (b - b0) * y) / size)) : 0;
    return Math.hypot(a - a0 - t * x, b - b0 - t * y) - q[k + 4]!;
  }
}
