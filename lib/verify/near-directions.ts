/**
 * In which directions beads lie near a place: a coarse grid of the part frame with a bit for each build
 * direction, filled in one pass along all beads. Most places have only beads of their own direction about
 * them, so the others need not be asked one by one.
 */
import { type Trace, TraceKind } from './trace.js';

/**
 * Edge of a cell, mm. Marks along a bead lie up to this far apart, and each marks its cell and those next to it:
 * a place within sqrt(3)/2 of an edge of a bead, 3.46 mm, finds it. Beads that touch are far nearer.
 */
const DIRECTION_CELL = 4;
/** Directions beyond this many share the last bit. */
const LAST_BIT = 30;

export const bitOf = (direction: number): number => 1 << Math.min(direction, LAST_BIT);

const cellOf = (x: number): number => Math.floor(x / DIRECTION_CELL);
const keyOf = (i: number, j: number, k: number): number =>
  ((i + 4096) * 8192 + (j + 4096)) * 8192 + (k + 4096);

export class NearDirections {
  readonly #bits = new Map<number, number>();

  /** @param ofRun direction of each run */
  constructor({ kind, tip, run, length }: Trace, ofRun: Uint16Array) {
    // In one direction alone there are no others to find.
    if (new Set(ofRun).size < 2) return;
    let marked = NaN;
    for (let b = 0; b < kind.length; b++) {
      if (kind[b] !== TraceKind.deposit) continue;
      const bit = bitOf(ofRun[run[b]!]!);
      const steps = Math.max(1, Math.ceil(length[b]! / DIRECTION_CELL));
      for (let n = 0; n <= steps; n++) {
        const [i, j, k] = [0, 1, 2].map((c) => {
          const [from, to] = [tip[3 * b - 3 + c]!, tip[3 * b + c]!];
          return cellOf(from + (n / steps) * (to - from));
        }) as [number, number, number];
        const own = keyOf(i, j, k);
        if (own === marked && (this.#bits.get(own)! & bit) !== 0) continue;
        marked = own;
        this.#mark(i, j, k, bit);
      }
    }
  }

  /** A bit for each direction in which beads lie there; 0 where there is one alone. */
  at(x: number, y: number, z: number): number {
    return this.#bits.get(keyOf(cellOf(x), cellOf(y), cellOf(z))) ?? 0;
  }

  /** A bit for each other direction in which beads lie within 3.46 mm of a place, and of some farther off. */
  othersAt(x: number, y: number, z: number, direction: number): number {
    const bits = this.at(x, y, z);
    return direction < LAST_BIT ? bits & ~bitOf(direction) : bits;
  }

  #mark(i: number, j: number, k: number, bit: number): void {
    for (let a = i - 1; a <= i + 1; a++) {
      for (let b = j - 1; b <= j + 1; b++) {
        for (let c = k - 1; c <= k + 1; c++) {
          const key = keyOf(a, b, c);
          this.#bits.set(key, (this.#bits.get(key) ?? 0) | bit);
        }
      }
    }
  }
}
