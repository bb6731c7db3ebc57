/**
 * The beads of one layer seen along the head, and how far apart they lie. A program states neither widths
 * nor spacings, but it states where the tip goes: beads that are to touch lie as far apart as each of them
 * is to be wide, whatever is metered. So the paths say what room a bead has, and the filament says what is
 * put there.
 *
 * Segments are entered in cells of a plane grid, and marks at even distances along the beads look square to
 * their path to both sides for the next bead that runs alongside. Cost: linear in the length laid.
 */
import { type Vec3, square, cross } from '../base/vector.js';
import type { LaidLayer } from './layers.js';
import { type Trace, TraceKind } from './trace.js';

/** Marks along the beads are this far apart, mm. */
export const WAY_MARK_SPACING = 1.5;
/** Edge of a cell, mm, and how many cells a layer may have before they grow. */
const PLANE_CELL = 1;
const MOST_CELLS = 1 << 20;
/** Beads whose directions differ by less run alongside. */
const ALONGSIDE = Math.cos((15 * Math.PI) / 180);
/** Blocks this near in order belong to one bend of one bead. */
const NEXT = 1;

/** Marks of one layer; one entry each. Valid until the next layer is looked at. */
export interface BeadMarks {
  count: number;
  readonly block: Int32Array;
  /** Metered section of the bead, mm2. */
  readonly section: Float64Array;
  /** Distance to the next bead alongside, left and right in turn, mm; Infinity where there is none near. */
  readonly gap: Float64Array;
  /** Metered section of that bead, mm2. */
  readonly beside: Float64Array;
  /** Block of another bead on the very same path, -1 if there is none. */
  readonly over: Int32Array;
}

export class BeadSpacing {
  readonly #trace: Trace;
  /**
   * Farthest that a neighbour is searched, and nearest that it counts as one and not as the same path, mm.
   */
  readonly #reach: number;
  readonly #same: number;
  #marks: BeadMarks = marksFor(1024);
  /** Ends of the segments in the plane, 4 each, and their blocks. */
  #ends = new Float64Array(4096);
  #blocks = new Int32Array(1024);
  #count = 0;
  /** Entries of the cells: a chain of segments each. */
  #head = new Int32Array(1024);
  #next = new Int32Array(4096);
  #segment = new Int32Array(4096);
  #entries = 0;
  #cell = PLANE_CELL;
  #x0 = 0;
  #y0 = 0;
  #nx = 0;
  #ny = 0;

  /**
   * @param width of a usual bead, mm
   * @param bore of the nozzle, mm: beads of too little filament lie no nearer than others
   */
  constructor(trace: Trace, width: number, bore: number) {
    this.#trace = trace;
    this.#reach = 1.5 * Math.max(width, bore);
    this.#same = 0.25 * width;
  }

  /** Looks at every mark of a layer. */
  look(layer: LaidLayer): BeadMarks {
    this.#project(layer);
    this.#sort();
    const { length, volume } = this.#trace;
    const room = Math.ceil(layer.length / WAY_MARK_SPACING) + 2;
    if (room > this.#marks.block.length) this.#marks = marksFor(2 * room);
    const marks = this.#marks;
    marks.count = 0;
    let due = WAY_MARK_SPACING / 2;
    for (let s = 0; s < this.#count; s++) {
      const b = this.#blocks[s]!;
      const size = length[b]!;
      for (; due < size; due += WAY_MARK_SPACING) {
        const i = marks.count++;
        marks.block[i] = b;
        marks.section[i] = volume[b]! / size;
        this.#ask(marks, i, s, due / size);
      }
      due -= size;
    }
    return marks;
  }

  #project({ first, last }: LaidLayer): void {
    const { kind, tip, direction, length } = this.#trace;
    const d: Vec3 = [direction[3 * first]!, direction[3 * first + 1]!, direction[3 * first + 2]!];
    const u = square(d);
    const v = cross(d, u);
    const most = last - first + 1;
    if (most > this.#blocks.length) {
      this.#blocks = new Int32Array(2 * most);
      this.#ends = new Float64Array(8 * most);
    }
    let n = 0;
    let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
    for (let b = first; b <= last; b++) {
      if (kind[b] !== TraceKind.deposit || !(length[b]! > 1e-6)) continue;
      this.#blocks[n] = b;
      for (let end = 0; end < 2; end++) {
        const i = 3 * (b - 1 + end);
        const x = tip[i]! * u[0] + tip[i + 1]! * u[1] + tip[i + 2]! * u[2];
        const y = tip[i]! * v[0] + tip[i + 1]! * v[1] + tip[i + 2]! * v[2];
        this.#ends[4 * n + 2 * end] = x;
        this.#ends[4 * n + 2 * end + 1] = y;
        if (x < x0) x0 = x;
        if (x > x1) x1 = x;
        if (y < y0) y0 = y;
        if (y > y1) y1 = y;
      }
      n++;
    }
    this.#count = n;
    [this.#x0, this.#y0] = [x0, y0];
    this.#cell = PLANE_CELL;
    const cells = (): number =>
      (Math.floor((x1 - x0) / this.#cell) + 1) * (Math.floor((y1 - y0) / this.#cell) + 1);
    if (n > 0) while (cells() > MOST_CELLS) this.#cell *= 2;
    this.#nx = n > 0 ? Math.floor((x1 - x0) / this.#cell) + 1 : 0;
    this.#ny = n > 0 ? Math.floor((y1 - y0) / this.#cell) + 1 : 0;
  }

  /** Enters every segment into the cells that it passes. */
  #sort(): void {
    const cells = this.#nx * this.#ny;
    if (cells > this.#head.length) this.#head = new Int32Array(2 * cells);
    this.#head.fill(-1, 0, cells);
    this.#entries = 0;
    const e = this.#ends;
    for (let s = 0; s < this.#count; s++) {
      this.#each(e[4 * s]!, e[4 * s + 1]!, e[4 * s + 2]!, e[4 * s + 3]!, (cell) =>
        this.#enter(cell, s),
      );
    }
  }

  #enter(cell: number, s: number): void {
    if (this.#entries === this.#next.length) {
      this.#next = grown(this.#next);
      this.#segment = grown(this.#segment);
    }
    this.#segment[this.#entries] = s;
    this.#next[this.#entries] = this.#head[cell]!;
    this.#head[cell] = this.#entries++;
  }

  /** Visits the cells along a straight line, each once in a row; sampled every half cell. */
  #each(ax: number, ay: number, bx: number, by: number, visit: (cell: number) => void): void {
    const steps = Math.ceil((2 * Math.hypot(bx - ax, by - ay)) / this.#cell);
    let before = -1;
    for (let k = 0; k <= steps; k++) {
      const t = steps > 0 ? k / steps : 0;
      const i = Math.floor((ax + t * (bx - ax) - this.#x0) / this.#cell);
      const j = Math.floor((ay + t * (by - ay) - this.#y0) / this.#cell);
      if (i < 0 || j < 0 || i >= this.#nx || j >= this.#ny) continue;
      const cell = i * this.#ny + j;
      if (cell !== before) visit(cell);
      before = cell;
    }
  }

  /** Mark i lies at share t of segment s: what runs alongside there. */
  #ask(marks: BeadMarks, i: number, s: number, t: number): void {
    const e = this.#ends;
    const [ax, ay] = [e[4 * s]!, e[4 * s + 1]!];
    const [wx, wy] = [e[4 * s + 2]! - ax, e[4 * s + 3]! - ay];
    const size = Math.hypot(wx, wy);
    const [tx, ty] = [wx / size, wy / size];
    const [px, py] = [ax + t * wx, ay + t * wy];
    const reach = this.#reach;
    // Of each side: nearest crossing of any bead, and the segment.
    const near = [Infinity, Infinity];
    const which = [-1, -1];
    let over = -1;
    const meet = (o: number): void => {
      const between = Math.abs(this.#blocks[o]! - this.#blocks[s]!);
      if (between <= NEXT) return;
      const [cx, cy] = [e[4 * o]! - px, e[4 * o + 1]! - py];
      const [vx, vy] = [e[4 * o + 2]! - e[4 * o]!, e[4 * o + 3]! - e[4 * o + 1]!];
      // Where the line through the mark, square to the path, meets segment o.
      const across = vx * tx + vy * ty;
      const start = cx * tx + cy * ty;
      if (Math.abs(across) < 1e-9) return;
      const q = -start / across;
      if (q < 0 || q > 1) return;
      const far = -(cx + q * vx) * ty + (cy + q * vy) * tx;
      const alongside = Math.abs(across) >= ALONGSIDE * Math.hypot(vx, vy);
      if (Math.abs(far) < this.#same) {
        if (alongside) over = o;
        return;
      }
      const side = far > 0 ? 0 : 1;
      if (Math.abs(far) > reach || Math.abs(far) >= near[side]!) return;
      near[side] = Math.abs(far);
      which[side] = alongside ? o : -1;
    };
    this.#each(px + reach * ty, py - reach * tx, px - reach * ty, py + reach * tx, (cell) => {
      for (let n = this.#head[cell]!; n >= 0; n = this.#next[n]!) {
        if (this.#segment[n] !== s) meet(this.#segment[n]!);
      }
    });
    const { volume, length } = this.#trace;
    for (let side = 0; side < 2; side++) {
      const o = which[side]!;
      const b = o >= 0 ? this.#blocks[o]! : -1;
      marks.gap[2 * i + side] = b >= 0 ? near[side]! : Infinity;
      marks.beside[2 * i + side] = b >= 0 ? volume[b]! / length[b]! : 0;
    }
    marks.over[i] = over >= 0 ? this.#blocks[over]! : -1;
  }
}

const marksFor = (n: number): BeadMarks => ({
  count: 0,
  block: new Int32Array(n),
  section: new Float64Array(n),
  gap: new Float64Array(2 * n),
  beside: new Float64Array(2 * n),
  over: new Int32Array(n),
});

function grown(values: Int32Array): Int32Array<ArrayBuffer> {
  const next = new Int32Array(2 * values.length);
  next.set(values);
  return next;
}
