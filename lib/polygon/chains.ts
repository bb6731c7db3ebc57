/**
 * Where loops in a plane meet, and which edge lies nearest to the left of a point, without testing
 * every pair.
 *
 * Loops are broken into chains that are monotone in x and in y. A chain cannot meet itself, the box of
 * any stretch of it is that of its two ends, and two chains are compared by halving. Over the chains,
 * in the order of the loops (neighbours there are neighbours in the plane), stands a binary tree of
 * boxes. Building is linear; a query visits what its boxes overlap, so it adapts to long and short
 * edges side by side. Rejected: an even grid, since one cell size cannot suit a scanned face and the
 * flat that it stands on.
 */
import type { Polygons } from './polygons.js';

export class ChainIndex {
  readonly #points: Float64Array;
  readonly #start: Uint32Array;
  /** First point of each chain; its last is `#last`, where a loop's end means its first point. */
  readonly #first: number[] = [];
  readonly #last: number[] = [];
  readonly #loop: number[] = [];
  /** Boxes of the tree, four a node: node 1 is the root, 2 i and 2 i + 1 stand under i. */
  readonly #boxes: Float64Array;
  readonly #leaves: number;

  /** Indexes loops `from .. to` (exclusive) of p. */
  constructor(p: Polygons, from = 0, to = p.start.length - 1) {
    this.#points = p.points;
    this.#start = p.start;
    for (let loop = from; loop < to; loop++) this.#breakUp(loop);
    let leaves = 1;
    while (leaves < this.#first.length) leaves *= 2;
    this.#leaves = leaves;
    this.#boxes = new Float64Array(8 * leaves);
    this.#fillBoxes();
  }

  /** True if two edges have a point in common other than the end that neighbours share. */
  meets(): boolean {
    if (this.#first.length < 2) return false;
    const stack = [1, 1];
    while (stack.length > 0) {
      const j = stack.pop()!;
      const i = stack.pop()!;
      if (i !== j && !this.#overlap(i, j)) continue;
      const leafI = i >= this.#leaves;
      const leafJ = j >= this.#leaves;
      if (leafI && leafJ) {
        if (i !== j && this.#chainsMeet(i - this.#leaves, j - this.#leaves)) return true;
      } else if (i === j) {
        stack.push(2 * i, 2 * i, 2 * i + 1, 2 * i + 1, 2 * i, 2 * i + 1);
      } else if (leafI || (!leafJ && this.#size(j) > this.#size(i))) {
        stack.push(i, 2 * j, i, 2 * j + 1);
      } else {
        stack.push(2 * i, j, 2 * i + 1, j);
      }
    }
    return false;
  }

  /**
   * The edge nearest to the left of a point, at its height, of any loop but one: its loop, and whether
   * it runs upwards. Null if there is none. An edge holds its lower end and not its upper one, so a
   * vertex at the point's height is counted once.
   */
  leftOf(x: number, y: number, except: number): { loop: number; up: boolean } | null {
    let best = -Infinity;
    let found: { loop: number; up: boolean } | null = null;
    const stack = [1];
    while (stack.length > 0) {
      const i = stack.pop()!;
      const b = 4 * i;
      const boxes = this.#boxes;
      if (boxes[b]! > x || boxes[b + 2]! < best || boxes[b + 1]! > y || boxes[b + 3]! < y) continue;
      if (i < this.#leaves) {
        stack.push(2 * i, 2 * i + 1);
        continue;
      }
      const c = i - this.#leaves;
      if (this.#loop[c] === except) continue;
      const hit = this.#crossing(c, y);
      if (hit === undefined || hit > x || hit < best) continue;
      best = hit;
      found = {
        loop: this.#loop[c]!,
        up: this.#y(c, this.#last[c]!) > this.#y(c, this.#first[c]!),
      };
    }
    return found;
  }

  #breakUp(loop: number): void {
    const p = this.#points;
    const from = this.#start[loop]!;
    const to = this.#start[loop + 1]!;
    if (to - from < 2) return;
    let before = -1;
    for (let i = from; i < to; i++) {
      const j = i + 1 < to ? i + 1 : from;
      const way = (p[2 * j]! < p[2 * i]! ? 1 : 0) + (p[2 * j + 1]! < p[2 * i + 1]! ? 2 : 0);
      if (way !== before) {
        if (before >= 0) this.#last.push(i);
        this.#first.push(i);
        this.#loop.push(loop);
        before = way;
      }
    }
    this.#last.push(to);
  }

  #fillBoxes(): void {
    const boxes = this.#boxes.fill(Infinity);
    for (let i = 0; i < boxes.length; i += 4) boxes[i + 2] = boxes[i + 3] = -Infinity;
    for (let c = 0; c < this.#first.length; c++) {
      const b = 4 * (this.#leaves + c);
      const x0 = this.#x(c, this.#first[c]!);
      const y0 = this.#y(c, this.#first[c]!);
      const x1 = this.#x(c, this.#last[c]!);
      const y1 = this.#y(c, this.#last[c]!);
      boxes[b] = Math.min(x0, x1);
      boxes[b + 1] = Math.min(y0, y1);
      boxes[b + 2] = Math.max(x0, x1);
      boxes[b + 3] = Math.max(y0, y1);
    }
    for (let i = this.#leaves - 1; i >= 1; i--) {
      for (const c of [8 * i, 8 * i + 4]) {
        boxes[4 * i] = Math.min(boxes[4 * i]!, boxes[c]!);
        boxes[4 * i + 1] = Math.min(boxes[4 * i + 1]!, boxes[c + 1]!);
        boxes[4 * i + 2] = Math.max(boxes[4 * i + 2]!, boxes[c + 2]!);
        boxes[4 * i + 3] = Math.max(boxes[4 * i + 3]!, boxes[c + 3]!);
      }
    }
  }

  /** Point i of chain c; the loop's end stands for its first point. */
  #at(c: number, i: number): number {
    const loop = this.#loop[c]!;
    return i === this.#start[loop + 1]! ? this.#start[loop]! : i;
  }

  #x(c: number, i: number): number {
    return this.#points[2 * this.#at(c, i)]!;
  }

  #y(c: number, i: number): number {
    return this.#points[2 * this.#at(c, i) + 1]!;
  }

  #size(i: number): number {
    const b = 4 * i;
    return this.#boxes[b + 2]! - this.#boxes[b]! + this.#boxes[b + 3]! - this.#boxes[b + 1]!;
  }

  #overlap(i: number, j: number): boolean {
    const boxes = this.#boxes;
    const a = 4 * i;
    const b = 4 * j;
    return (
      boxes[a]! <= boxes[b + 2]! &&
      boxes[b]! <= boxes[a + 2]! &&
      boxes[a + 1]! <= boxes[b + 3]! &&
      boxes[b + 1]! <= boxes[a + 3]!
    );
  }

  /** Do two different chains have a point in common, ends shared by neighbours apart? */
  #chainsMeet(c: number, d: number): boolean {
    return this.#stretchesMeet(
      c,
      this.#first[c]!,
      this.#last[c]!,
      d,
      this.#first[d]!,
      this.#last[d]!,
    );
  }

  #stretchesMeet(c: number, i0: number, i1: number, d: number, j0: number, j1: number): boolean {
    if (apart(this.#x(c, i0), this.#x(c, i1), this.#x(d, j0), this.#x(d, j1))) return false;
    if (apart(this.#y(c, i0), this.#y(c, i1), this.#y(d, j0), this.#y(d, j1))) return false;
    if (i1 - i0 === 1 && j1 - j0 === 1) return this.#edgesMeet(c, i0, d, j0);
    if (i1 - i0 >= j1 - j0) {
      const middle = (i0 + i1) >> 1;
      return (
        this.#stretchesMeet(c, i0, middle, d, j0, j1) ||
        this.#stretchesMeet(c, middle, i1, d, j0, j1)
      );
    }
    const middle = (j0 + j1) >> 1;
    return (
      this.#stretchesMeet(c, i0, i1, d, j0, middle) || this.#stretchesMeet(c, i0, i1, d, middle, j1)
    );
  }

  #edgesMeet(c: number, i: number, d: number, j: number): boolean {
    const [p, q, r, s] = [this.#at(c, i), this.#at(c, i + 1), this.#at(d, j), this.#at(d, j + 1)];
    if (p === s || q === r) return false;
    return (
      this.#side(p, q, r) * this.#side(p, q, s) <= 0 &&
      this.#side(r, s, p) * this.#side(r, s, q) <= 0
    );
  }

  /**
   * Sign of the turn p -> q -> r. Rounding may call a near miss a meeting or the reverse: see
   * layers/crossing-loops.ts.
   */
  #side(p: number, q: number, r: number): number {
    const v = this.#points;
    return Math.sign(
      (v[2 * q]! - v[2 * p]!) * (v[2 * r + 1]! - v[2 * p + 1]!) -
        (v[2 * q + 1]! - v[2 * p + 1]!) * (v[2 * r]! - v[2 * p]!),
    );
  }

  /** Where chain c crosses a height; undefined if it does not. */
  #crossing(c: number, y: number): number | undefined {
    let low = this.#first[c]!;
    let high = this.#last[c]!;
    const up = this.#y(c, high) > this.#y(c, low);
    // An edge holds its lower end: "at or below y" on the lower side, "above y" on the upper one.
    if (
      up
        ? !(this.#y(c, low) <= y && y < this.#y(c, high))
        : !(this.#y(c, high) <= y && y < this.#y(c, low))
    )
      return undefined;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (this.#y(c, middle) <= y === up) low = middle;
      else high = middle;
    }
    const [x0, y0, x1, y1] = [this.#x(c, low), this.#y(c, low), this.#x(c, high), this.#y(c, high)];
    return x0 + ((y - y0) / (y1 - y0)) * (x1 - x0);
  }
}

const apart = (a0: number, a1: number, b0: number, b1: number): boolean =>
  Math.max(a0, a1) < Math.min(b0, b1) || Math.max(b0, b1) < Math.min(a0, a1);
