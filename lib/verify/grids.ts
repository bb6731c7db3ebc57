/**
 * What is laid, in grids: one for each build direction, whose cells are as wide as the beads ask and as high as half a
 * layer, and one of cubes of half a layer in the part frame for beads that are laid while the head turns. So cells lie
 * along the layers, and their number follows the length of the beads: with cubes throughout it grew with the third
 * power of the number of layers (a check of a cuboid of 20 mm with 400 layers took 28 s of the processor, and takes 7).
 * Side faces of such fine layers are so known to 0.04 mm, as those of layers of 0.2 mm are, and no longer to 0.004 mm.
 */
import { BOUNDS } from '../base/bounds.js';
import { type Vec3, cross, dot, square } from '../base/vector.js';
import { Grid, type GridAxes } from './grid.js';
import type { Heights } from './layers.js';
import { NearDirections } from './near-directions.js';
import { SAME_BUILD_DIRECTION, type Trace, TraceKind } from './trace.js';

/** A cell is as high as half a layer, and as wide; but no wider nor higher than a quarter of a bead's width... */
const HALF_LAYER = 0.5;
const QUARTER_BEAD = 0.25;
/** ...and no narrower than a fifth of it, or a quarter of the bore: a finer one costs the square of what it says more. */
const FIFTH_BEAD = 0.2;
const QUARTER_BORE = 0.25;
/** Directions that have a grid of their own; what is laid in others goes into the grid of cubes. */
const MOST_GRIDS = 29;
/** Number of the grid of cubes. */
const CUBES = 0;

/** Where there is material, part frame, mm. */
export interface LaidMaterial {
  /** Edge of the widest cell across the layers' direction, mm. */
  readonly edge: number;
  at(x: number, y: number, z: number): boolean;
  /** Share of material about a place, 0 to 1. */
  share(x: number, y: number, z: number): number;
  /** The block that laid material first and last about a place; -1 where there is none. */
  blocksAt(x: number, y: number, z: number): { readonly first: number; readonly last: number };
}

export class Grids implements LaidMaterial {
  readonly list: readonly Grid[];
  readonly edge: number;
  /** Part frame: below all that is laid, along each axis, mm. */
  readonly corner: Vec3;
  /** Of each run the place of its grid in the list. */
  readonly #ofRun: Uint8Array;
  /** Which grids may have material near a place; with one alone nothing is asked. */
  readonly #near: NearDirections | undefined;

  private constructor(
    list: readonly Grid[],
    corner: Vec3,
    ofRun: Uint8Array,
    near: NearDirections | undefined,
  ) {
    this.list = list;
    this.corner = corner;
    this.#ofRun = ofRun;
    this.#near = list.length > 1 ? near : undefined;
    this.edge = Math.max(...list.map((grid) => grid.edge));
  }

  /** A grid along the axes of the part by itself, for all runs. */
  static of(grid: Grid): Grids {
    return new Grids([grid], grid.origin, new Uint8Array(0), undefined);
  }

  /** Empty grids for all that a trace lays. @param bore of the nozzle, mm */
  static for(trace: Trace, heights: Pick<Heights, 'usual' | 'width'>, bore: number): Grids {
    const cube = Math.min(HALF_LAYER * heights.usual, QUARTER_BEAD * heights.width);
    const low = Math.max(BOUNDS.finestMm, cube);
    const wide = Math.max(low, Math.min(FIFTH_BEAD * heights.width, QUARTER_BORE * bore));
    const { ofRun, directions } = directionsOf(trace);
    const numbers = [...new Set(ofRun)].sort((a, b) => a - b);
    const places = ofRun.map((n) => numbers.indexOf(n));
    const list = numbers.map((n, place) => {
      const axes = n === CUBES ? undefined : axesFor(directions[n - 1]!);
      const { least, most } = extent(trace, (run) => places[run] === place, bore, axes);
      return Grid.between(n === CUBES ? low : [wide, wide, low], least, most, axes);
    });
    const { least } = extent(trace, () => true, bore);
    const corner: Vec3 = [least[0] - 8 * wide, least[1] - 8 * wide, least[2] - 8 * wide];
    return new Grids(list, corner, places, new NearDirections(trace, Uint16Array.from(places)));
  }

  /** As many grids with the same cells, empty. */
  empty(): Grids {
    return new Grids(
      this.list.map((grid) => grid.empty()),
      this.corner,
      this.#ofRun,
      this.#near,
    );
  }

  /** Place in the list of the grid for what a run lays. */
  numberFor(run: number): number {
    return this.#ofRun[run] ?? 0;
  }

  at(x: number, y: number, z: number): boolean {
    if (!this.#near) return this.list[0]!.at(x, y, z);
    return this.#isIn(this.#near.at(x, y, z), x, y, z);
  }

  /** Whether another grid than that one has material at a place. */
  hasOther(number: number, x: number, y: number, z: number): boolean {
    if (!this.#near) return false;
    return this.#isIn(this.#near.othersAt(x, y, z, number), x, y, z);
  }

  /** Whether another grid than that one may have material near a place. */
  mayHaveOther(number: number, x: number, y: number, z: number): boolean {
    return !!this.#near && this.#near.othersAt(x, y, z, number) !== 0;
  }

  /** In the cells of the grid that has most of it; what others have counts where the middles of its cells lie. */
  share(x: number, y: number, z: number): number {
    if (!this.#near) return this.list[0]!.share(x, y, z);
    let bits = this.#near.at(x, y, z);
    let [most, which, having] = [0, -1, 0];
    for (let n = 0; bits !== 0; n++, bits >>>= 1) {
      const own = bits & 1 ? this.list[n]!.share(x, y, z) : 0;
      if (own > 0) having++;
      if (own > most) [most, which] = [own, n];
    }
    if (having < 2) return most;
    return this.list[which]!.share(x, y, z, (p) => this.hasOther(which, ...p));
  }

  blocksAt(x: number, y: number, z: number): { readonly first: number; readonly last: number } {
    let [first, last] = [-1, -1];
    for (const grid of this.list) {
      const here = grid.blocksAt(x, y, z);
      if (here.first >= 0 && (first < 0 || here.first < first)) first = here.first;
      last = Math.max(last, here.last);
    }
    return { first, last };
  }

  #isIn(among: number, x: number, y: number, z: number): boolean {
    for (let n = 0, bits = among; bits !== 0; n++, bits >>>= 1) {
      if (bits & 1 && this.list[n]!.at(x, y, z)) return true;
    }
    return false;
  }
}

/** Of each run the number of its direction, counted from one; CUBES for those in which the head turns. */
function directionsOf({ runStart, turning, direction }: Trace): {
  ofRun: Uint8Array;
  directions: Vec3[];
} {
  const directions: Vec3[] = [];
  const ofRun = Uint8Array.from(runStart, (b, run) => {
    if (turning[run] === 1) return CUBES;
    const d: Vec3 = [direction[3 * b]!, direction[3 * b + 1]!, direction[3 * b + 2]!];
    const known = directions.findIndex((one) => dot(one, d) > SAME_BUILD_DIRECTION);
    if (known >= 0) return known + 1;
    return directions.length < MOST_GRIDS ? directions.push(d) : CUBES;
  });
  return { ofRun, directions };
}

/** Axes with the third along a direction; those of the part frame where it is the table's normal. */
function axesFor(d: Vec3): GridAxes | undefined {
  if (d[2] > SAME_BUILD_DIRECTION) return undefined;
  const u = square(d);
  return [u, cross(d, u), d];
}

/** Corners, along the axes of a grid or the part, of all that some runs lay, with room for the beads' sections. */
function extent(
  { kind, tip, run }: Trace,
  isOf: (run: number) => boolean,
  bore: number,
  axes?: GridAxes,
): { least: Vec3; most: Vec3 } {
  const least: [number, number, number] = [Infinity, Infinity, Infinity];
  const most: [number, number, number] = [-Infinity, -Infinity, -Infinity];
  for (let b = 1; b < kind.length; b++) {
    if (kind[b] !== TraceKind.deposit || !isOf(run[b]!)) continue;
    for (let i = 3 * b - 3; i <= 3 * b; i += 3) {
      const p: Vec3 = [tip[i]!, tip[i + 1]!, tip[i + 2]!];
      const q = axes ? axes.map((axis) => dot(axis, p)) : p;
      for (let c = 0; c < 3; c++) {
        if (q[c]! < least[c]!) least[c] = q[c]!;
        if (q[c]! > most[c]!) most[c] = q[c]!;
      }
    }
  }
  // The round corner of the widest bead (5 bores either way) and its height, whichever way they lie.
  const room = 8 * bore;
  const by = (v: number, way: number): number => (Number.isFinite(v) ? v : 0) + way * room;
  return {
    least: least.map((v) => by(v, -1)) as unknown as Vec3,
    most: most.map((v) => by(v, 1)) as unknown as Vec3,
  };
}
