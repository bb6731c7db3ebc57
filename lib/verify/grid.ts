/**
 * A sparse grid of cubes in the part frame: beads go in, and whether there is material at a place
 * comes out. Bricks of 8 x 8 x 8 cubes are made where material comes; one bit a cube, and a brick that
 * is full gives its bits back, so memory follows the surface of what is laid, not its box.
 */
import type { Vec3 } from '../base/vector.js';

/** Words of 32 bits a brick: bit 8 * (y & 3) + z of word 2 * x + (y >> 2). */
export const WORDS = 16;
/** A cell of the hash without a brick, and one whose brick is full. */
const NONE = 0;
export const FULL = -1;
const BITS_X = 11;
const BITS_Y = 11;
const BITS_Z = 10;
/** Cubes along an axis that can be addressed. */
const REACH = 8 * 2 ** BITS_Z;

export class Grid {
  /** Edge of a cube, mm. */
  readonly edge: number;
  /** Corner from which cubes count, mm. */
  readonly origin: Vec3;
  /** Cubes that are set. */
  count = 0;
  /** Of each place in the hash: brick number + 1, NONE or FULL; and its coordinates, packed. */
  #slot = new Int32Array(1 << 12);
  #key = new Uint32Array(1 << 12);
  /** Block that laid material there first, and last. */
  #first = new Uint32Array(1 << 12);
  #last = new Uint32Array(1 << 12);
  #used = 0;
  #bits = new Uint32Array(WORDS << 8);
  /** Set cubes of each brick. */
  #filled = new Uint16Array(1 << 8);
  #bricks = 0;
  #free: number[] = [];
  #place = -1;
  #placeKey = -1;

  /** A grid that holds all between two corners, mm; the edge grows if it must. */
  constructor(edge: number, least: Vec3, most: Vec3) {
    const widest = Math.max(most[0] - least[0], most[1] - least[1], most[2] - least[2]);
    this.edge = Math.max(edge, widest / (REACH - 32));
    const room = 8 * this.edge;
    this.origin = [least[0] - room, least[1] - room, least[2] - room];
  }

  /** Bricks that hold material. */
  get bricks(): number {
    return this.#used;
  }

  /** Sets cubes z0 .. z1 (inclusive) of column x, y. @returns how many were not set before */
  setColumn(x: number, y: number, z0: number, z1: number, block: number): number {
    let fresh = 0;
    for (let z = z0; z <= z1;) {
      const end = Math.min(z1, z | 7);
      const place = this.#touch(x >> 3, y >> 3, z >> 3, block);
      const slot = this.#slot[place]!;
      if (slot !== FULL) {
        const word = (slot - 1) * WORDS + 2 * (x & 7) + ((y & 7) >> 2);
        const mask = (((2 << (end - z)) - 1) << (z & 7)) << (8 * (y & 3));
        const before = this.#bits[word]!;
        const added = mask & ~before;
        if (added !== 0) {
          this.#bits[word] = before | mask;
          const n = popcount(added);
          fresh += n;
          if ((this.#filled[slot - 1]! += n) === 512) this.#release(place, slot - 1);
        }
      }
      z = end + 1;
    }
    this.count += fresh;
    return fresh;
  }

  /** Whether cube x, y, z is set. */
  has(x: number, y: number, z: number): boolean {
    const place = this.#find(x >> 3, y >> 3, z >> 3);
    if (place < 0) return false;
    const slot = this.#slot[place]!;
    if (slot === FULL) return true;
    const word = this.#bits[(slot - 1) * WORDS + 2 * (x & 7) + ((y & 7) >> 2)]!;
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
    const place = this.#find(
      Math.floor((x - origin[0]) / edge) >> 3,
      Math.floor((y - origin[1]) / edge) >> 3,
      Math.floor((z - origin[2]) / edge) >> 3,
    );
    if (place < 0) return { first: -1, last: -1 };
    return { first: this.#first[place]!, last: this.#last[place]! };
  }

  /** Visits every brick that holds material. `slot` is for `wordOf`. */
  each(visit: (x: number, y: number, z: number, slot: number, lastBlock: number) => void): void {
    for (let place = 0; place < this.#slot.length; place++) {
      const slot = this.#slot[place]!;
      if (slot === NONE) continue;
      const key = this.#key[place]!;
      visit(
        key >>> (BITS_Y + BITS_Z),
        (key >>> BITS_Z) & ((1 << BITS_Y) - 1),
        key & ((1 << BITS_Z) - 1),
        slot,
        this.#last[place]!,
      );
    }
  }

  /** Word w of a brick: bits 8 * (y & 3) + z of x = w >> 1, y = 4 * (w & 1) + 0 .. 3. */
  wordOf(slot: number, w: number): number {
    return slot === FULL ? -1 : this.#bits[(slot - 1) * WORDS + w]!;
  }

  #find(x: number, y: number, z: number): number {
    if ((x | y | z) < 0 || x >= 1 << BITS_X || y >= 1 << BITS_Y || z >= 1 << BITS_Z) return -1;
    const key = ((x << (BITS_Y + BITS_Z)) | (y << BITS_Z) | z) >>> 0;
    if (key === this.#placeKey) return this.#place;
    const mask = this.#slot.length - 1;
    for (let place = hash(key) & mask; ; place = (place + 1) & mask) {
      if (this.#slot[place] === NONE) return -1;
      if (this.#key[place] !== key) continue;
      this.#place = place;
      this.#placeKey = key;
      return place;
    }
  }

  /** The place of a brick, which is made if it is not there. */
  #touch(x: number, y: number, z: number, block: number): number {
    let place = this.#find(x, y, z);
    if (place < 0) place = this.#make(x, y, z, block);
    this.#last[place] = block;
    return place;
  }

  #make(x: number, y: number, z: number, block: number): number {
    if ((x | y | z) < 0 || x >= 1 << BITS_X || y >= 1 << BITS_Y || z >= 1 << BITS_Z) {
      throw new Error(`brick ${x} ${y} ${z} lies outside the grid`);
    }
    if (2 * (this.#used + 1) > this.#slot.length) this.#rehash();
    const brick = this.#free.pop() ?? this.#bricks++;
    if ((brick + 1) * WORDS > this.#bits.length) {
      this.#bits = doubled(this.#bits, Uint32Array);
      this.#filled = doubled(this.#filled, Uint16Array);
    }
    const key = ((x << (BITS_Y + BITS_Z)) | (y << BITS_Z) | z) >>> 0;
    const place = this.#vacant(key);
    this.#slot[place] = brick + 1;
    this.#key[place] = key;
    this.#first[place] = block;
    this.#used++;
    this.#place = place;
    this.#placeKey = key;
    return place;
  }

  #vacant(key: number): number {
    const mask = this.#slot.length - 1;
    let place = hash(key) & mask;
    while (this.#slot[place] !== NONE) place = (place + 1) & mask;
    return place;
  }

  #release(place: number, brick: number): void {
    this.#bits.fill(0, brick * WORDS, (brick + 1) * WORDS);
    this.#filled[brick] = 0;
    this.#free.push(brick);
    this.#slot[place] = FULL;
  }

  #rehash(): void {
    const [slot, key, first, last] = [this.#slot, this.#key, this.#first, this.#last];
    const size = 2 * slot.length;
    this.#slot = new Int32Array(size);
    this.#key = new Uint32Array(size);
    this.#first = new Uint32Array(size);
    this.#last = new Uint32Array(size);
    this.#placeKey = -1;
    for (let i = 0; i < slot.length; i++) {
      if (slot[i] === NONE) continue;
      const place = this.#vacant(key[i]!);
      this.#slot[place] = slot[i]!;
      this.#key[place] = key[i]!;
      this.#first[place] = first[i]!;
      this.#last[place] = last[i]!;
    }
  }
}

/** Fibonacci hashing (Knuth, The Art of Computer Programming 3, section 6.4; from memory). */
const hash = (key: number): number => {
  const h = Math.imul(key, 0x9e3779b1);
  return (h ^ (h >>> 15)) >>> 0;
};

/** Warren, Hacker's Delight (2nd ed.), section 5-1. */
export function popcount(word: number): number {
  let w = word - ((word >>> 1) & 0x55555555);
  w = (w & 0x33333333) + ((w >>> 2) & 0x33333333);
  return Math.imul((w + (w >>> 4)) & 0x0f0f0f0f, 0x01010101) >>> 24;
}

function doubled<T extends Uint32Array | Uint16Array>(
  values: T,
  make: new (length: number) => T,
): T {
  const next = new make(2 * values.length);
  next.set(values);
  return next;
}
