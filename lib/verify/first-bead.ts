/**
 * What the first beads of a run lie on. A first bead holds only where it is pressed on: a gap of half a
 * layer under it, or a nozzle that ploughs through what is there, spoils all that stands on it. So before
 * each of them is laid, marks along it, at its middle and to both sides, look down the head's axis for the
 * table or for what is printed, from above the tip downwards, so that a bead sunk into its base is found
 * too.
 *
 * A base that was cut at a slant is a staircase of the layers under it: single marks are off by half a step
 * of it either way, but the trimmed mean (a tenth left out at either end) is not. Marks along the middle
 * alone lie on few rows of the staircase, and their median jumped by 0.1 mm when the grid was 2 % finer. A
 * plane laid through the marks by least squares distinguishes a run that is turned from one that is
 * shifted.
 */
import { type Vec3, cross, dot, square } from '../base/vector.js';
import type { Machine } from '../machine/machine.js';
import type { LaidMaterial } from './grids.js';
import type { Heights, LaidLayer } from './layers.js';
import { solve3, type Mat3 } from './solve.js';
import { type Trace, TraceKind } from './trace.js';

/** Spacing of the marks along a bead, mm, and their places across it in usual widths: well inside the bead. */
const MARK_SPACING = 0.5;
const MARKS_ACROSS: readonly number[] = [-0.3, 0, 0.3];
/** They look from this many heights of a bead above the tip down to so many below it. */
const LOOK_FROM = 1.5;
const LOOK_TO = 4;

/** The first layer of a run, or one that begins anew under the level before, and what it lies on. */
export interface Start {
  /** Number among the layers. */
  readonly layer: number;
  readonly marks: number;
  /** Marks that found something, and how many of these the table. */
  readonly found: number;
  readonly onTable: number;
  /** Trimmed mean of the distance from the tip down to what it lies on, mm; NaN if nothing was found. */
  readonly under: number;
  /**
   * Length of bead with nothing under it within a layer more than its height, at none of its marks across, mm: along
   * a rim that leans outwards one side of a sound bead has nothing under it.
   */
  readonly hollow: number;
  /** By how much that distance changes from one side of the base to the other, mm. */
  readonly slant: number;
}

export class FirstBeads {
  readonly #trace: Trace;
  readonly #grid: LaidMaterial;
  readonly #machine: Machine;
  readonly #height: Float64Array;
  readonly #width: number;
  readonly #layers: readonly LaidLayer[];
  /** Layers that begin anew, and the one that comes next. */
  readonly #starts: readonly number[];
  #next = 0;
  /** Of each start its marks: place in the plane, distance down (NaN: nothing), 1 if it is the table. */
  readonly #marks: number[][];

  constructor(trace: Trace, heights: Heights, machine: Machine, grid: LaidMaterial) {
    this.#trace = trace;
    this.#grid = grid;
    this.#machine = machine;
    this.#height = heights.height;
    this.#width = heights.width;
    this.#layers = heights.layers;
    this.#starts = heights.layers.flatMap(({ step }, k) => (step > 0 ? [] : [k]));
    this.#marks = this.#starts.map(() => []);
  }

  /** Looks under the bead of block b before it is laid; blocks come in order. */
  before(b: number): void {
    const starts = this.#starts;
    while (this.#next < starts.length && this.#layers[starts[this.#next]!]!.last < b) this.#next++;
    if (this.#next === starts.length) return;
    const { first } = this.#layers[starts[this.#next]!]!;
    if (b < first || this.#trace.kind[b] !== TraceKind.deposit) return;
    this.#look(b, this.#marks[this.#next]!);
  }

  #look(b: number, marks: number[]): void {
    const { tip, direction, length } = this.#trace;
    const count =
      Math.round(length[b]! / MARK_SPACING) || (length[b]! > 0.2 * MARK_SPACING ? 1 : 0);
    const i = 3 * b;
    const d: Vec3 = [direction[i]!, direction[i + 1]!, direction[i + 2]!];
    const u = square(d);
    const v = cross(d, u);
    const way = [0, 1, 2].map((c) => tip[i + c]! - tip[i - 3 + c]!) as unknown as Vec3;
    const side = cross(d, way);
    for (let n = 0; n < count; n++) {
      const t = (n + 0.5) / count;
      for (const share of MARKS_ACROSS) {
        const off = (share * this.#width) / length[b]!;
        const p = [0, 1, 2].map(
          (c) => tip[i - 3 + c]! + t * way[c]! + off * side[c]!,
        ) as unknown as Vec3;
        const [down, table] = this.#down(p, d, this.#height[b]!);
        marks.push(dot(u, p), dot(v, p), down, table ? 1 : 0);
      }
    }
  }

  /** Distance from a place of the tip down to what is there, mm, and whether it is the table. */
  #down(p: Vec3, d: Vec3, height: number): [number, boolean] {
    const pace = this.#grid.edge / 2;
    let before = 0;
    for (let s = -LOOK_FROM * height; s <= LOOK_TO * height; s += pace) {
      const [x, y, z] = [p[0] - s * d[0], p[1] - s * d[1], p[2] - s * d[2]];
      const share = this.#grid.share(x, y, z);
      if (share >= 0.5) return [s - (pace * (share - 0.5)) / (share - before), false];
      before = share;
      if (z <= 0 && this.#onFace(x, y)) return [p[2] / d[2], true];
    }
    return [NaN, false];
  }

  #onFace(x: number, y: number): boolean {
    const { face } = this.#machine;
    if (face.shape === 'disc') return x * x + y * y <= face.radius * face.radius;
    return Math.abs(x) <= face.size[0] / 2 && Math.abs(y) <= face.size[1] / 2;
  }

  take(): Start[] {
    return this.#starts.map((layer, i) => {
      const height = this.#height[this.#layers[layer]!.first]!;
      return startOf(layer, this.#marks[i]!, height);
    });
  }
}

function startOf(layer: number, marks: readonly number[], height: number): Start {
  const downs: number[] = [];
  let onTable = 0;
  let hollow = 0;
  let across = 0;
  for (let i = 0; i < marks.length; i += 4) {
    if ((i / 4) % MARKS_ACROSS.length === 0) across = 0;
    if (!(marks[i + 2]! <= 2 * height)) across++;
    if (across === MARKS_ACROSS.length) hollow += MARK_SPACING;
    if (Number.isNaN(marks[i + 2]!)) continue;
    downs.push(marks[i + 2]!);
    onTable += marks[i + 3]!;
  }
  downs.sort((a, b) => a - b);
  const found = downs.length;
  const under = trimmedMean(downs);
  return {
    layer,
    marks: marks.length / 4,
    found,
    onTable,
    under,
    hollow,
    slant: slantOf(marks, under),
  };
}

/** Mean of sorted values without a tenth of them at either end; NaN for none. */
function trimmedMean(sorted: readonly number[]): number {
  const tenth = Math.floor(sorted.length / 10);
  const most = sorted.slice(tenth, sorted.length - tenth);
  return most.reduce((sum, v) => sum + v, 0) / most.length;
}

/** Marks farther than this from the middle are holes and edges, not a slant, mm. */
const NO_SLANT = 1;
/** Least number of marks for a plane. */
const PLANE = 180;

/** Rise of the plane through the marks over the width of their place along it, mm. */
function slantOf(marks: readonly number[], under: number): number {
  const at: number[] = [];
  for (let i = 0; i < marks.length; i += 4) {
    if (Math.abs(marks[i + 2]! - under) < NO_SLANT) at.push(i);
  }
  if (at.length < PLANE) return 0;
  const mean = (c: number): number => at.reduce((sum, i) => sum + marks[i + c]!, 0) / at.length;
  const [mx, my, ms] = [mean(0), mean(1), mean(2)];
  let [xx, xy, yy, xs, ys] = [0, 0, 0, 0, 0];
  for (const i of at) {
    const [x, y, s] = [marks[i]! - mx, marks[i + 1]! - my, marks[i + 2]! - ms];
    xx += x * x;
    xy += x * y;
    yy += y * y;
    xs += x * s;
    ys += y * s;
  }
  if (!(xx * yy - xy * xy > 1e-3 * (xx + yy) ** 2)) return 0;
  const matrix: Mat3 = [xx, xy, 0, xy, yy, 0, 0, 0, 1];
  const [a, b] = solve3(matrix, [xs, ys, 0]);
  // Evenly spread marks have a deviation of their width over the root of 12.
  const spread = (a * a * xx + 2 * a * b * xy + b * b * yy) / at.length;
  return Math.sqrt(12 * Math.max(0, spread));
}
