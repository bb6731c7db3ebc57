/**
 * What is laid, by build direction and level: the exact distance of a place from the flank of the nearest
 * bead of a level. A level's beads lie in cells of an even grid of its plane, made when it is first asked
 * for, so a query looks into the few cells near it.
 */
import { type Vec3, cross, dot } from '../base/vector.js';
import type { Heights } from './layers.js';
import { SAME_BUILD_DIRECTION, type Trace, TraceKind } from './trace.js';

/** Levels are found by steps of this, mm. */
const LEVEL_STEP = 0.05;
/** Edge of a cell, in widths of a bead; at least 1 mm. */
const CELL_WIDTHS = 5;
/** No bead is wider than twice this, mm: what a stray block meters is no support. */
const MOST_HALF = 2;

/** A build direction `d`, and axes square to it. */
export interface Direction {
  readonly index: number;
  readonly u: Vec3;
  readonly v: Vec3;
  readonly d: Vec3;
  readonly levels: Map<number, LaidLevel[]>;
}

/** Blocks `first .. end` that lay at one level in one direction. */
export interface LaidLevel {
  readonly first: number;
  readonly end: number;
  readonly at: number;
  /** Made when they are first asked for. */
  cells?: LevelCells;
}

/** The beads of a level, where they lie by cell, and half the widest of them, mm. */
interface LevelCells {
  /** Of each bead: its beginning along u and v, its way along them, its length and half its width, mm. */
  readonly beads: Float64Array;
  /** Places in `beads`. */
  readonly cells: Map<number, number[]>;
  readonly widest: number;
}

/** Numbers of a bead. */
const NUMBERS_EACH = 6;

export class LaidLevels {
  readonly directions: Direction[] = [];
  /** Index of the direction of each run. */
  readonly ofRun: Uint16Array;
  readonly #trace: Trace;
  readonly #heights: Heights;
  readonly #cell: number;

  constructor(trace: Trace, heights: Heights) {
    this.#trace = trace;
    this.#heights = heights;
    this.#cell = Math.max(1, CELL_WIDTHS * heights.width);
    this.ofRun = Uint16Array.from(trace.runStart, (b) => this.#directionOf(b));
  }

  /** The direction in which a block lays. */
  of(block: number): Direction {
    return this.directions[this.ofRun[this.#trace.run[block]!]!]!;
  }

  /** Enters a layer, which is then found by its level. @param group its index in the layers */
  enter(group: number): LaidLevel {
    const { layerStart } = this.#heights;
    const [first, end] = [layerStart[group]!, layerStart[group + 1] ?? this.#trace.kind.length];
    const here = this.of(first);
    const level: LaidLevel = { first, end, at: this.#levelOf(first, here) };
    const list = here.levels.get(Math.floor(level.at / LEVEL_STEP));
    if (list) list.push(level);
    else here.levels.set(Math.floor(level.at / LEVEL_STEP), [level]);
    return level;
  }

  /** Levels of a direction that were entered and lie between two heights along it, mm; into a list that it empties. */
  between({ levels }: Direction, low: number, high: number, out: LaidLevel[]): LaidLevel[] {
    out.length = 0;
    const last = Math.floor(high / LEVEL_STEP);
    for (let step = Math.floor(low / LEVEL_STEP); step <= last; step++) {
      const here = levels.get(step);
      if (!here) continue;
      for (const level of here) if (level.at >= low && level.at <= high) out.push(level);
    }
    return out;
  }

  /** From a place (a, b) along u and v to the nearest flank, mm; `far` where nothing is nearer. */
  distance(
    level: LaidLevel,
    direction: Direction,
    a: number,
    b: number,
    far: number,
    enough: number,
  ): number {
    const { beads, cells, widest } = (level.cells ??= this.#cellsOf(level, direction));
    const room = far + this.#cell / 4 + widest;
    const [i1, j1] = [this.#cellOf(a + room), this.#cellOf(b + room)];
    const j0 = this.#cellOf(b - room);
    let least = far;
    for (let i = this.#cellOf(a - room); i <= i1; i++) {
      for (let j = j0; j <= j1; j++) {
        const here = cells.get(keyOf(i, j));
        if (!here) continue;
        for (const k of here) {
          const off = toBead(beads, k, a, b);
          if (off < least) least = off;
          if (least <= enough) return least;
        }
      }
    }
    return least;
  }

  #cellOf(x: number): number {
    return Math.floor(x / this.#cell);
  }

  /** Both ends of a block's way along u and v. */
  #ends(block: number, { u, v }: Direction): [number, number, number, number] {
    const { tip } = this.#trace;
    const k = 3 * block - 3;
    return [
      u[0] * tip[k]! + u[1] * tip[k + 1]! + u[2] * tip[k + 2]!,
      v[0] * tip[k]! + v[1] * tip[k + 1]! + v[2] * tip[k + 2]!,
      u[0] * tip[k + 3]! + u[1] * tip[k + 4]! + u[2] * tip[k + 5]!,
      v[0] * tip[k + 3]! + v[1] * tip[k + 4]! + v[2] * tip[k + 5]!,
    ];
  }

  /** Half the width of a bead of a length, mm. */
  #half(block: number, size: number): number {
    const section = this.#trace.volume[block]! / size;
    return Math.min(MOST_HALF, section / this.#heights.height[block]! / 2);
  }

  #cellsOf({ first, end }: LaidLevel, direction: Direction): LevelCells {
    const { kind, volume, run, turning } = this.#trace;
    const cells = new Map<number, number[]>();
    const beads = new Float64Array(NUMBERS_EACH * (end - first));
    let widest = 0;
    for (let block = first; block < end; block++) {
      if (kind[block] !== TraceKind.deposit || !(volume[block]! > 0)) continue;
      if (turning[run[block]!] === 1) continue;
      const [a0, b0, a1, b1] = this.#ends(block, direction);
      const [x, y] = [a1 - a0, b1 - b0];
      const size = Math.sqrt(x * x + y * y);
      if (!(size > 0)) continue;
      const half = this.#half(block, size);
      widest = Math.max(widest, half);
      const k = NUMBERS_EACH * (block - first);
      beads.set([a0, b0, x, y, size, half], k);
      const steps = Math.ceil(size / (this.#cell / 2));
      let before = NaN;
      for (let n = 0; n <= steps; n++) {
        const t = n / steps;
        const cell = keyOf(this.#cellOf(a0 + t * x), this.#cellOf(b0 + t * y));
        if (cell === before) continue;
        before = cell;
        const list = cells.get(cell);
        if (list) list.push(k);
        else cells.set(cell, [k]);
      }
    }
    return { beads, cells, widest };
  }

  #levelOf(block: number, { d }: Direction): number {
    const { tip } = this.#trace;
    const [k, i] = [3 * block - 3, 3 * block];
    const at = (c: number): number => (tip[k + c]! + tip[i + c]!) / 2;
    return d[0] * at(0) + d[1] * at(1) + d[2] * at(2);
  }

  #directionOf(block: number): number {
    const d = [0, 1, 2].map((c) => this.#trace.direction[3 * block + c]!) as unknown as Vec3;
    const known = this.directions.findIndex((one) => dot(one.d, d) > SAME_BUILD_DIRECTION);
    if (known >= 0) return known;
    const least = Math.abs(d[0]) < 0.6 ? 0 : 1;
    const across: Vec3 = least === 0 ? [0, -d[2], d[1]] : [d[2], 0, -d[0]];
    const size = Math.hypot(...across);
    const u = across.map((x) => x / size) as unknown as Vec3;
    const index = this.directions.length;
    this.directions.push({ index, u, v: cross(d, u), d, levels: new Map() });
    return index;
  }
}

const keyOf = (i: number, j: number): number => (i + 32768) * 65536 + (j + 32768);

/** From a point of the plane to the flank of a bead, mm; negative inside. Math.hypot takes several times as long. */
function toBead(beads: Float64Array, k: number, a: number, b: number): number {
  const [x, y, size] = [beads[k + 2]!, beads[k + 3]!, beads[k + 4]!];
  const [da, db] = [a - beads[k]!, b - beads[k + 1]!];
  const share = (da * x + db * y) / (size * size);
  const t = share > 0 ? (share < 1 ? share : 1) : 0;
  const [u, v] = [da - t * x, db - t * y];
  return Math.sqrt(u * u + v * v) - beads[k + 5]!;
}
