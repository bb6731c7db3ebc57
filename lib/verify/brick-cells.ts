/**
 * A lower bound of the room about the head among all that is laid, or a cube that lies in the head. The
 * bricks of the grid are grouped into cells of three sizes, so that the head is held against single cubes
 * and most of them are skipped. Cells follow the grid as bricks are made.
 */
import type { Vec3 } from '../base/vector.js';
import type { Gauge } from './gauge.js';
import type { Grid } from './grid.js';

/** Cubes along the edges of the cells, the largest first, of a brick and of half of one. */
const SIZES = [512, 128, 32] as const;
const BRICK = 8;
const HALF = 4;
/** Room is measured up to this, mm. */
const FARTHEST_ROOM = 2;
/** Cells, bricks and halves of bricks nearer than this are looked into, mm: the smaller, the costlier. */
const LOOKED_INTO = { cell: 0.8, brick: 0.6, half: 0.4, cube: 0.2 } as const;

/**
 * A lower bound of the room about the head, mm, and the middle of a cube that lies in it. What lies under
 * the tip's level does not count: it obstructs nothing unless the head goes down.
 */
export interface ClosestCube {
  readonly gap: number;
  readonly cube: Vec3 | undefined;
}

interface BrickCell {
  readonly x: number;
  readonly y: number;
  readonly z: number;
  /** Numbers of cells of the next size, or of bricks. */
  readonly parts: number[];
}

export class BrickCells {
  readonly #grid: Grid;
  readonly #gauge: Gauge;
  /** By size, in the order of SIZES. */
  readonly #cells: readonly BrickCell[][] = SIZES.map(() => []);
  readonly #seen: readonly Map<number, number>[] = SIZES.map(() => new Map());
  /** Middles of bricks, three numbers each. */
  readonly #bricks: number[] = [];
  /** Half a diagonal between the middles of the outermost cubes of cells, bricks and halves, mm. */
  readonly #halves: readonly number[];
  readonly #halfBrick: number;
  readonly #halfOctant: number;
  /** During a look: what is not looked into narrows the gap. */
  #gap = 0;

  constructor(grid: Grid, gauge: Gauge) {
    this.#grid = grid;
    this.#gauge = gauge;
    this.#halves = SIZES.map((size) => grid.halfDiagonal(size - 1));
    this.#halfBrick = grid.halfDiagonal(BRICK - 1);
    this.#halfOctant = grid.halfDiagonal(HALF - 1);
  }

  /** The room about the head in the pose of the gauge. */
  room(): ClosestCube {
    this.#follow();
    this.#gap = FARTHEST_ROOM;
    for (const large of this.#cells[0]!) {
      const cube = this.#into(large, 0);
      if (cube) return { gap: 0, cube };
    }
    return { gap: this.#gap, cube: undefined };
  }

  /** Takes in the bricks that were made since the last look. */
  #follow(): void {
    for (let brick = this.#bricks.length / 3; brick < this.#grid.bricks; brick++) {
      this.#bricks.push(...this.#grid.brickMiddle(brick));
      let part = brick;
      for (let level = SIZES.length - 1; level >= 0; level--) {
        const [number, isNew] = this.#enter(level, this.#grid.brickPlace(brick));
        this.#cells[level]![number]!.parts.push(part);
        if (!isNew) break;
        part = number;
      }
    }
  }

  /** The number of the cell in which a brick lies, and whether it was made now. */
  #enter(level: number, at: Vec3): [number, boolean] {
    const size = SIZES[level]!;
    const [i, j, k] = at.map((c) => Math.floor((c * BRICK) / size)) as unknown as Vec3;
    const key = (i * 4096 + j) * 4096 + k;
    const found = this.#seen[level]!.get(key);
    if (found !== undefined) return [found, false];
    const cells = this.#cells[level]!;
    this.#seen[level]!.set(key, cells.length);
    const [x, y, z] = this.#grid.placeOf((i + 0.5) * size, (j + 0.5) * size, (k + 0.5) * size);
    cells.push({ x, y, z, parts: [] });
    return [cells.length - 1, true];
  }

  /** A cube of the cell that lies in the head. */
  #into({ x, y, z, parts }: BrickCell, level: number): Vec3 | undefined {
    if (!this.#isClose(x, y, z, this.#halves[level]!, LOOKED_INTO.cell)) return undefined;
    const below = this.#cells[level + 1];
    for (const part of parts) {
      const cube = below ? this.#into(below[part]!, level + 1) : this.#intoBrick(part);
      if (cube) return cube;
    }
    return undefined;
  }

  /** Whether the middle of a cube no farther than `half` from x, y, z may be nearer than `close`. */
  #isClose(x: number, y: number, z: number, half: number, close: number): boolean {
    const gap = this.#gauge.bound(x, y, z) - half;
    if (this.#gauge.height < -half) return false;
    if (gap < close) return true;
    if (gap < this.#gap) this.#gap = gap;
    return false;
  }

  #intoBrick(brick: number): Vec3 | undefined {
    const x = this.#bricks[3 * brick]!;
    const y = this.#bricks[3 * brick + 1]!;
    const z = this.#bricks[3 * brick + 2]!;
    if (!this.#isClose(x, y, z, this.#halfBrick, LOOKED_INTO.brick)) return undefined;
    const sense = (is: number): number => (is ? HALF / 2 : -HALF / 2);
    for (let octant = 0; octant < 8; octant++) {
      if (this.#grid.octantCount(brick, octant) === 0) continue;
      const way = [sense(octant & 1), sense(octant & 2), sense(octant & 4)] as const;
      const [ox, oy, oz] = this.#grid.off([x, y, z], ...way);
      if (!this.#isClose(ox, oy, oz, this.#halfOctant, LOOKED_INTO.half)) continue;
      const cube = this.#cubes(brick, octant, [ox, oy, oz]);
      if (cube) return cube;
    }
    return undefined;
  }

  #cubes(brick: number, octant: number, middle: Vec3): Vec3 | undefined {
    const [x0, y0, z0] = [4 * (octant & 1), (octant >> 1) & 1, 4 * (octant >> 2)];
    for (let n = 0; n < HALF ** 3; n++) {
      const i = n & 3;
      const j = (n >> 2) & 3;
      const k = n >> 4;
      const word = this.#grid.wordOf(brick, 2 * (i + x0) + y0);
      if (((word >>> (8 * j + k + z0)) & 1) === 0) continue;
      const [cx, cy, cz] = this.#grid.off(middle, i - 1.5, j - 1.5, k - 1.5);
      if (this.#isClose(cx, cy, cz, 0, LOOKED_INTO.cube)) {
        const gap = this.#gauge.exact(cx, cy, cz);
        if (gap === 0) return [cx, cy, cz];
        if (gap < this.#gap) this.#gap = gap;
      }
    }
    return undefined;
  }
}
