/**
 * A sparse grid of cubes in the part frame that says whether there is material at a place. Bricks of 8 x 8
 * x 8 cubes are made where material comes; one bit per cube, and a brick that is full gives its bits back,
 * so memory follows the surface of what is laid, not its box. Bricks are numbered in the order in which
 * they were made.
 */
import { BOUNDS } from '../base/bounds.js';
import { Fault } from '../base/fault.js';
import type { Vec3 } from '../base/vector.js';

/** Words of 32 bits a brick: bit 8 * (y & 3) + z of word 2 * x + (y >> 2). */
const WORDS = 16;
/** Cubes of a brick. */
const WHOLE = 512;
/** The slot of a brick that is full. */
const FULL = -1;
const BITS_X = 11;
const BITS_Y = 11;
const BITS_Z = 10;
/** Cubes along an axis that can be addressed. */
const MOST_CUBES = 8 * 2 ** BITS_Z;

export class Grid {
  /** Edge of a cube, mm. */
  readonly edge: number;
  /** Corner from which cubes count, mm. */
  readonly origin: Vec3;
  /** Cubes that are set. */
  count = 0;
  /** Bricks that hold material. */
  bricks = 0;
  /** Hash of the bricks by their coordinates: brick + 1, or 0. */
  #table: Int32Array = new Int32Array(1 << 12);
  /**
   * Of each brick: packed coordinates, where its bits are (or FULL), block that laid there first and last.
   */
  #key: Uint32Array = new Uint32Array(1 << 10);
  #slot: Int32Array = new Int32Array(1 << 10);
  #first: Uint32Array = new Uint32Array(1 << 10);
  #last: Uint32Array = new Uint32Array(1 << 10);
  /** Of each slot: its bits, and how many are set. */
  #bits: Uint32Array = new Uint32Array(WORDS << 8);
  #filled = new Uint16Array(1 << 8);
  #slots = 0;
  #free: number[] = [];
  /** The brick that was queried last. */
  #recent = -1;
  #recentKey = -1;

  private constructor(edge: number, origin: Vec3) {
    this.edge = edge;
    this.origin = origin;
  }

  /** An empty grid with room for all between two corners, mm; the edge grows if it must. */
  static between(edge: number, least: Vec3, most: Vec3): Grid {
    const widest = Math.max(most[0] - least[0], most[1] - least[1], most[2] - least[2]);
    const grown = Math.max(edge, widest / (MOST_CUBES - 32));
    const room = 8 * grown;
    return new Grid(grown, [least[0] - room, least[1] - room, least[2] - room]);
  }

  /** Sets cubes z0 .. z1 (inclusive) of column x, y. @returns how many were not set before */
  setColumn(x: number, y: number, z0: number, z1: number, block: number): number {
    let fresh = 0;
    for (let z = z0; z <= z1;) {
      const end = Math.min(z1, z | 7);
      const brick = this.#touch(x >> 3, y >> 3, z >> 3, block);
      const slot = this.#slot[brick]!;
      if (slot !== FULL) {
        const word = slot * WORDS + 2 * (x & 7) + ((y & 7) >> 2);
        const mask = (((2 << (end - z)) - 1) << (z & 7)) << (8 * (y & 3));
        const before = this.#bits[word]!;
        const added = mask & ~before;
        if (added !== 0) {
          this.#bits[word] = before | mask;
          const n = popcount(added);
          fresh += n;
          if ((this.#filled[slot]! += n) === WHOLE) this.#release(brick, slot);
        }
      }
      z = end + 1;
    }
    this.count += fresh;
    return fresh;
  }

  /** Whether cube x, y, z is set. */
  has(x: number, y: number, z: number): boolean {
    const brick = this.#find(x >> 3, y >> 3, z >> 3);
    if (brick < 0) return false;
    const slot = this.#slot[brick]!;
    if (slot === FULL) return true;
    const word = this.#bits[slot * WORDS + 2 * (x & 7) + ((y & 7) >> 2)]!;
    return ((word >>> (8 * (y & 3) + (z & 7))) & 1) !== 0;
  }
  /** Whether there is material at a point of the part frame, mm. */
  at(x: number, y: number, z: number): boolean {
    const { origin, edge } = this;
    return this.has(
      Math.floor((x - origin[0]) / edge),
      Math.floor((y - origin[1]) / edge),
      Math.floor((z - origin[2]) / edge),
    );
  }

  /** Share of material around a point: the eight nearest cubes, weighed linearly; 0 to 1. */
  share(x: number, y: number, z: number): number {
    const { origin, edge } = this;
    const u = (x - origin[0]) / edge - 0.5;
    const v = (y - origin[1]) / edge - 0.5;
    const w = (z - origin[2]) / edge - 0.5;
    const [i, j, k] = [Math.floor(u), Math.floor(v), Math.floor(w)];
    const [a, b, c] = [u - i, v - j, w - k];
    let sum = 0;
    for (let n = 0; n < 8; n++) {
      const [p, q, r] = [n & 1, (n >> 1) & 1, n >> 2];
      if (!this.has(i + p, j + q, k + r)) continue;
      sum += (p ? a : 1 - a) * (q ? b : 1 - b) * (r ? c : 1 - c);
    }
    return sum;
  }

  /** The block that laid material first and last in the brick of a point; -1 where there is none. */
  blocksAt(x: number, y: number, z: number): { readonly first: number; readonly last: number } {
    const { origin, edge } = this;
    const brick = this.#find(
      Math.floor((x - origin[0]) / edge) >> 3,
      Math.floor((y - origin[1]) / edge) >> 3,
      Math.floor((z - origin[2]) / edge) >> 3,
    );
    if (brick < 0) return { first: -1, last: -1 };
    return { first: this.#first[brick]!, last: this.#last[brick]! };
  }

  /** Coordinates of a brick, in bricks from the origin. */
  brickPlace(brick: number): Vec3 {
    const key = this.#key[brick]!;
    return [
      key >>> (BITS_Y + BITS_Z),
      (key >>> BITS_Z) & ((1 << BITS_Y) - 1),
      key & ((1 << BITS_Z) - 1),
    ];
  }

  /** Middle of a brick, mm. */
  brickMiddle(brick: number): Vec3 {
    const { origin, edge } = this;
    const [x, y, z] = this.brickPlace(brick);
    const size = 8 * edge;
    return [
      origin[0] + (x + 0.5) * size,
      origin[1] + (y + 0.5) * size,
      origin[2] + (z + 0.5) * size,
    ];
  }

  /** The block that laid material last in a brick. */
  lastIn(brick: number): number {
    return this.#last[brick]!;
  }

  /** Word w of a brick: bits 8 * (y & 3) + z of x = w >> 1, y = 4 * (w & 1) + 0 .. 3. */
  wordOf(brick: number, w: number): number {
    const slot = this.#slot[brick]!;
    return slot === FULL ? -1 : this.#bits[slot * WORDS + w]!;
  }

  /** Set cubes in one of the eight parts of a brick: bits x, y, z of `octant` say in which half. */
  octantCount(brick: number, octant: number): number {
    const x0 = octant & 1 ? 4 : 0;
    const y = octant & 2 ? 1 : 0;
    const mask = octant & 4 ? 0xf0f0f0f0 : 0x0f0f0f0f;
    let count = 0;
    for (let x = x0; x < x0 + 4; x++) count += popcount(this.wordOf(brick, 2 * x + y) & mask);
    return count;
  }

  /** The brick of these coordinates, -1 where there is none. */
  #find(x: number, y: number, z: number): number {
    if ((x | y | z) < 0 || x >= 1 << BITS_X || y >= 1 << BITS_Y || z >= 1 << BITS_Z) return -1;
    const key = ((x << (BITS_Y + BITS_Z)) | (y << BITS_Z) | z) >>> 0;
    if (key === this.#recentKey) return this.#recent;
    const mask = this.#table.length - 1;
    for (let place = hash(key) & mask; ; place = (place + 1) & mask) {
      const brick = this.#table[place]! - 1;
      if (brick < 0) return -1;
      if (this.#key[brick] !== key) continue;
      this.#recent = brick;
      this.#recentKey = key;
      return brick;
    }
  }

  /** A brick, which is made if it is not there. */
  #touch(x: number, y: number, z: number, block: number): number {
    let brick = this.#find(x, y, z);
    if (brick < 0) brick = this.#make(x, y, z, block);
    this.#last[brick] = block;
    return brick;
  }

  #make(x: number, y: number, z: number, block: number): number {
    if ((x | y | z) < 0 || x >= 1 << BITS_X || y >= 1 << BITS_Y || z >= 1 << BITS_Z) {
      throw new Error(`brick ${x} ${y} ${z} lies outside the grid`);
    }
    if (this.bricks >= BOUNDS.bricks) this.#refuse();
    const brick = this.bricks++;
    if (this.bricks > this.#key.length) {
      this.#key = doubled(this.#key, Uint32Array);
      this.#slot = doubled(this.#slot, Int32Array);
      this.#first = doubled(this.#first, Uint32Array);
      this.#last = doubled(this.#last, Uint32Array);
    }
    const key = ((x << (BITS_Y + BITS_Z)) | (y << BITS_Z) | z) >>> 0;
    this.#key[brick] = key;
    this.#slot[brick] = this.#slotFor();
    this.#first[brick] = block;
    this.#recent = brick;
    this.#recentKey = key;
    if (2 * this.bricks > this.#table.length) this.#rehash();
    else this.#enter(brick);
    return brick;
  }

  #refuse(): never {
    const size = (8 * this.edge).toPrecision(3);
    throw new Fault(
      'verify/too-much',
      `what is laid takes more than ${BOUNDS.bricks} bricks of ${size} mm, which is the limit`,
    );
  }

  #slotFor(): number {
    const slot = this.#free.pop() ?? this.#slots++;
    if ((slot + 1) * WORDS > this.#bits.length) {
      this.#bits = doubled(this.#bits, Uint32Array);
      this.#filled = doubled(this.#filled, Uint16Array);
    }
    return slot;
  }

  #enter(brick: number): void {
    const mask = this.#table.length - 1;
    let place = hash(this.#key[brick]!) & mask;
    while (this.#table[place] !== 0) place = (place + 1) & mask;
    this.#table[place] = brick + 1;
  }

  #release(brick: number, slot: number): void {
    this.#bits.fill(0, slot * WORDS, (slot + 1) * WORDS);
    this.#filled[slot] = 0;
    this.#free.push(slot);
    this.#slot[brick] = FULL;
  }

  #rehash(): void {
    this.#table = new Int32Array(2 * this.#table.length);
    for (let brick = 0; brick < this.bricks; brick++) this.#enter(brick);
  }
}

/** Fibonacci hashing (Knuth, The Art of Computer Programming 3, section 6.4; from memory). */
const hash = (key: number): number => {
  const h = Math.imul(key, 0x9e3779b1);
  return (h ^ (h >>> 15)) >>> 0;
};

/** Warren, Hacker's Delight (2nd ed.), section 5-1. */
function popcount(word: number): number {
  let w = word - ((word >>> 1) & 0x55555555);
  w = (w & 0x33333333) + ((w >>> 2) & 0x33333333);
  return Math.imul((w + (w >>> 4)) & 0x0f0f0f0f, 0x01010101) >>> 24;
}

function doubled<T extends Uint32Array | Int32Array | Uint16Array>(
  values: T,
  make: new (length: number) => T,
): T {
  const next = new make(2 * values.length);
  next.set(values);
  return next;
}
