/**
 * A sparse grid of cells that says whether there is material at a place. Its axes may lie any way in the part, and the
 * cells may be lower than wide. Bricks of 8 x 8 x 8 cells are made where material comes; one bit per cell, and a brick
 * that is full gives its bits back, so memory follows the surface of what is laid, not its box. Bricks are numbered in
 * the order in which they were made.
 */
import { BOUNDS } from '../base/bounds.js';
import { Fault } from '../base/fault.js';
import { type Vec3, dot } from '../base/vector.js';

/** The axes of a grid: square to each other, unit vectors of the part frame. */
export type GridAxes = readonly [Vec3, Vec3, Vec3];

const PART_AXES: GridAxes = [
  [1, 0, 0],
  [0, 1, 0],
  [0, 0, 1],
];

/** Words of 32 bits a brick: bit 8 * (y & 3) + z of word 2 * x + (y >> 2). */
const WORDS = 16;
/** Cells of a brick. */
const WHOLE = 512;
/** The slot of a brick that is full. */
const FULL = -1;
const BITS_X = 11;
const BITS_Y = 11;
const BITS_Z = 10;
/** Cells along an axis that can be addressed. */
const MOST_GRID_CELLS = 8 * 2 ** BITS_Z;

export class Grid {
  readonly axes: GridAxes;
  /** Of a cell along the axes, mm. */
  readonly edges: Vec3;
  /** Corner from which cells count, along the axes, mm. */
  readonly origin: Vec3;
  /** Cells that are set. */
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

  private constructor(axes: GridAxes, edges: Vec3, origin: Vec3) {
    this.axes = axes;
    this.edges = edges;
    this.origin = origin;
  }

  /**
   * An empty grid with room for all between two corners along its axes, mm; edges grow if they must.
   * @param edges of a cell, or of a cube, mm
   * @param axes left out: those of the part frame
   */
  static between(edges: Vec3 | number, least: Vec3, most: Vec3, axes = PART_AXES): Grid {
    const wanted: Vec3 = typeof edges === 'number' ? [edges, edges, edges] : edges;
    const grown = wanted.map((edge, c) =>
      Math.max(edge, (most[c]! - least[c]!) / (MOST_GRID_CELLS - 32)),
    ) as unknown as Vec3;
    return new Grid(axes, grown, least.map((v, c) => v - 8 * grown[c]!) as unknown as Vec3);
  }

  /** Another one with the same cells, with nothing in it. */
  empty(): Grid {
    return new Grid(this.axes, this.edges, this.origin);
  }

  /** Edge of a cell across the layers' direction, mm. */
  get edge(): number {
    return this.edges[0];
  }

  /** Of a cell, mm3. */
  get cellVolume(): number {
    return this.edges[0] * this.edges[1] * this.edges[2];
  }

  /** A place along an axis in cells from the origin. */
  along(c: 0 | 1 | 2, x: number, y: number, z: number): number {
    const axis = this.axes[c];
    return (axis[0] * x + axis[1] * y + axis[2] * z - this.origin[c]) / this.edges[c];
  }

  /** Half of what a box of so many cells each way takes up along a direction, mm. */
  halfAlong(d: Vec3, cells: number): number {
    const { axes, edges } = this;
    const part = (c: 0 | 1 | 2): number => Math.abs(dot(axes[c], d)) * edges[c];
    return (cells / 2) * (part(0) + part(1) + part(2));
  }

  /** Half of the diagonal of such a box, mm. */
  halfDiagonal(cells: number): number {
    const [a, b, c] = this.edges;
    return (cells / 2) * Math.sqrt(a * a + b * b + c * c);
  }

  /** A place of the part frame that lies so many cells along the axes from another one, mm. */
  off([px, py, pz]: Vec3, i: number, j: number, k: number): Vec3 {
    const { axes, edges } = this;
    const [a, b, c] = [i * edges[0], j * edges[1], k * edges[2]];
    return [
      px + a * axes[0][0] + b * axes[1][0] + c * axes[2][0],
      py + a * axes[0][1] + b * axes[1][1] + c * axes[2][1],
      pz + a * axes[0][2] + b * axes[1][2] + c * axes[2][2],
    ];
  }

  /** The place at so many cells from the origin, part frame, mm. */
  placeOf(i: number, j: number, k: number): Vec3 {
    const { axes, edges, origin } = this;
    const a = origin[0] + i * edges[0];
    const b = origin[1] + j * edges[1];
    const c = origin[2] + k * edges[2];
    return [
      a * axes[0][0] + b * axes[1][0] + c * axes[2][0],
      a * axes[0][1] + b * axes[1][1] + c * axes[2][1],
      a * axes[0][2] + b * axes[1][2] + c * axes[2][2],
    ];
  }

  /** Sets cells z0 .. z1 (inclusive) of column x, y. @returns how many were not set before */
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

  /** Whether cell x, y, z is set. */
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
    return this.has(
      Math.floor(this.along(0, x, y, z)),
      Math.floor(this.along(1, x, y, z)),
      Math.floor(this.along(2, x, y, z)),
    );
  }

  /**
   * Share of material around a point: the eight nearest cells, weighed linearly; 0 to 1.
   * @param elsewhere whether there is material of another grid at a place of the part frame
   */
  share(x: number, y: number, z: number, elsewhere?: (p: Vec3) => boolean): number {
    const u = this.along(0, x, y, z) - 0.5;
    const v = this.along(1, x, y, z) - 0.5;
    const w = this.along(2, x, y, z) - 0.5;
    const [i, j, k] = [Math.floor(u), Math.floor(v), Math.floor(w)];
    const [a, b, c] = [u - i, v - j, w - k];
    let sum = 0;
    for (let n = 0; n < 8; n++) {
      const [p, q, r] = [n & 1, (n >> 1) & 1, n >> 2];
      const is =
        this.has(i + p, j + q, k + r) ||
        elsewhere?.(this.placeOf(i + p + 0.5, j + q + 0.5, k + r + 0.5));
      if (is) sum += (p ? a : 1 - a) * (q ? b : 1 - b) * (r ? c : 1 - c);
    }
    return sum;
  }

  /** The block that laid material first and last in the brick of a point; -1 where there is none. */
  blocksAt(x: number, y: number, z: number): { readonly first: number; readonly last: number } {
    const brick = this.#find(
      Math.floor(this.along(0, x, y, z)) >> 3,
      Math.floor(this.along(1, x, y, z)) >> 3,
      Math.floor(this.along(2, x, y, z)) >> 3,
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

  /** Middle of a brick, part frame, mm. */
  brickMiddle(brick: number): Vec3 {
    const [x, y, z] = this.brickPlace(brick);
    return this.placeOf(8 * x + 4, 8 * y + 4, 8 * z + 4);
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

  /** Set cells in one of the eight parts of a brick: bits x, y, z of `octant` say in which half. */
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
    const size = this.edges.map((edge) => (8 * edge).toPrecision(3)).join(' x ');
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
