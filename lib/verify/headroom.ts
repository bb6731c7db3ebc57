/**
 * The head against table and deposit while it keeps its direction: block after block comes in, with
 * what was laid before; where the head runs into something, it is told. Material that stands over the
 * tip by no more than ROOM heights of a bead is what a nozzle rubs over and no touch.
 */
import { type Frame, applyPoint, compose, inverse } from '../base/frame.js';
import { type Vec3, add, along, cross, dot, square, sub } from '../base/vector.js';
import { machineFromHead, machineFromPart } from '../machine/chain.js';
import { headPoints, headRadius } from '../machine/head.js';
import type { Machine } from '../machine/machine.js';
import { headDistance, meshPoints } from '../machine/solids.js';
import type { Grid } from './grid.js';
import { type Axes, Relief, type Ring } from './relief.js';
import { type Trace, TraceKind } from './trace.js';

/** A touch: how deep, mm, where on the part, and how high over the tip. */
export interface Touch {
  readonly block: number;
  readonly depth: number;
  readonly point: Vec3;
  readonly above: number;
  readonly what: 'the table' | 'what is printed';
}

/** Directions nearer than this are one. */
const SAME = Math.cos((0.05 * Math.PI) / 180);
/** The nozzle is looked at in fine cells, what is wider in coarse ones, mm. */
const NOZZLE = 4;
const FINE = 0.25;
const COARSE = 1;
/** Looks down a column that stands in doubt are this far apart, mm. */
const DOWN = 0.5;
/** Looks along the way are this far apart, mm. */
const PACE = 0.5;
/** What stands over the tip counts from this many heights of a bead on. */
const ROOM = 1.5;
/** Heights at which the outline is taken, mm. */
const OUTLINE = 0.05;

export class Headroom {
  /** Least room over the map so far, mm; negative inside the room for rubbing. */
  readonly touches: Touch[] = [];
  readonly #trace: Trace;
  readonly #machine: Machine;
  readonly #grid: Grid;
  readonly #room: number;
  readonly #rings: readonly Ring[];
  #reliefs: Relief[] = [];
  #axes: Axes | undefined;

  constructor(trace: Trace, machine: Machine, grid: Grid, height: number) {
    this.#trace = trace;
    this.#machine = machine;
    this.#grid = grid;
    this.#room = ROOM * height;
    this.#rings = ringsOf(machine);
  }

  /** Judges the way of block b, before its bead is laid. @returns false if the head turns on it */
  before(b: number): boolean {
    const { tip, direction, length } = this.#trace;
    if (b === 0 || Number.isNaN(tip[3 * b]! + tip[3 * b - 3]!)) return true;
    if (!sameDirection(direction, b - 1, b)) {
      this.#axes = undefined;
      return false;
    }
    if (!(length[b]! > 0)) return true;
    this.#axes ??= this.#begin(b);
    const [from, to] = [this.#place(b - 1), this.#place(b)];
    const low = Math.min(from[2], to[2]);
    for (const relief of this.#reliefs) if (relief.top > low + this.#room) relief.settle();
    const pieces = Math.max(1, Math.ceil(length[b]! / PACE));
    const doubtful: { readonly depth: number; readonly where: Vec3 }[] = [];
    for (let n = 1; n <= pieces; n++) {
      const t = n / pieces;
      const u = from[0] + t * (to[0] - from[0]);
      const v = from[1] + t * (to[1] - from[1]);
      const s = from[2] + t * (to[2] - from[2]);
      let depth = this.#room;
      for (const relief of this.#reliefs) depth = Math.max(depth, relief.least(u, v) - s);
      if (depth > this.#room) doubtful.push({ depth, where: [u, v, s] });
    }
    // Where the round outline goes deepest the head itself, which need not be round, may be clear.
    doubtful.sort((x, y) => y.depth - x.depth).some(({ where }) => this.#confirm(b, where));
    return true;
  }

  /** The bead of block b stands from now on. */
  after(b: number): void {
    if (!this.#axes || this.#trace.kind[b] !== TraceKind.deposit) return;
    const [from, to] = [this.#place(b - 1), this.#place(b)];
    const pieces = Math.max(1, Math.ceil(this.#trace.length[b]! / FINE));
    for (let n = 0; n <= pieces; n++) {
      const t = n / pieces;
      const u = from[0] + t * (to[0] - from[0]);
      const v = from[1] + t * (to[1] - from[1]);
      const s = from[2] + t * (to[2] - from[2]);
      for (const relief of this.#reliefs) relief.raise(u, v, s);
    }
  }

  #place(b: number): Vec3 {
    const { u, v, d } = this.#axes!;
    const { tip } = this.#trace;
    const p: Vec3 = [tip[3 * b]!, tip[3 * b + 1]!, tip[3 * b + 2]!];
    return [dot(p, u), dot(p, v), dot(p, d)];
  }

  /** Maps for the blocks from b on that keep its direction. */
  #begin(b: number): Axes {
    const { direction, tip, kind } = this.#trace;
    const d: Vec3 = [direction[3 * b]!, direction[3 * b + 1]!, direction[3 * b + 2]!];
    const u = square(d);
    const axes: Axes = { u, v: cross(d, u), d };
    this.#axes = axes;
    const box: [number, number, number, number] = [Infinity, Infinity, -Infinity, -Infinity];
    let low = Infinity;
    for (let i = b; i < kind.length && sameDirection(direction, b, i); i++) {
      if (Number.isNaN(tip[3 * i]!)) break;
      for (const place of i === b ? [this.#place(i - 1), this.#place(i)] : [this.#place(i)]) {
        box[0] = Math.min(box[0], place[0]);
        box[1] = Math.min(box[1], place[1]);
        box[2] = Math.max(box[2], place[0]);
        box[3] = Math.max(box[3], place[1]);
        low = Math.min(low, place[2]);
      }
    }
    this.#reliefs = this.#rings.map((ring) => new Relief(ring, box));
    this.#raiseDeposit(axes, low);
    this.#raiseTable(axes, low, box);
    for (const relief of this.#reliefs) relief.settle();
    return axes;
  }

  /** All cubes that are set and stand higher than the lowest place of the tip. */
  #raiseDeposit({ u, v, d }: Axes, low: number): void {
    const { edge, origin } = this.#grid;
    const size = 8 * edge;
    const half = (size / 2) * (Math.abs(d[0]) + Math.abs(d[1]) + Math.abs(d[2]));
    const top = (edge / 2) * (Math.abs(d[0]) + Math.abs(d[1]) + Math.abs(d[2]));
    this.#grid.each((bx, by, bz, slot) => {
      const x = origin[0] + bx * size;
      const y = origin[1] + by * size;
      const z = origin[2] + bz * size;
      const middle: Vec3 = [x + size / 2, y + size / 2, z + size / 2];
      if (dot(middle, d) + half <= low) return;
      for (let w = 0; w < 16; w++) {
        let bits = this.#grid.wordOf(slot, w);
        while (bits !== 0) {
          const bit = 31 - Math.clz32(bits & -bits);
          bits &= bits - 1;
          const p: Vec3 = [
            x + ((w >> 1) + 0.5) * edge,
            y + (4 * (w & 1) + (bit >> 3) + 0.5) * edge,
            z + ((bit & 7) + 0.5) * edge,
          ];
          const s = dot(p, d) + top;
          if (s <= low) continue;
          for (const relief of this.#reliefs) relief.raise(dot(p, u), dot(p, v), s);
        }
      }
    });
  }

  /** The table's face, or its mesh, as points as close as the cells that they fall into. */
  #raiseTable({ u, v, d }: Axes, low: number, box: readonly number[]): void {
    const { face, tableMesh } = this.#machine;
    if (tableMesh) {
      this.#rings.forEach((ring, r) => {
        for (const p of meshPoints(tableMesh, ring.cell * 0.7)) {
          if (dot(p, d) > low) this.#reliefs[r]!.raise(dot(p, u), dot(p, v), dot(p, d));
        }
      });
      return;
    }
    const [rx, ry] =
      face.shape === 'disc' ? [face.radius, face.radius] : [face.size[0] / 2, face.size[1] / 2];
    this.#rings.forEach((ring, r) => {
      const pace = ring.cell * 0.7;
      const [nx, ny] = [Math.ceil(rx / pace), Math.ceil(ry / pace)];
      for (let i = -nx; i <= nx; i++) {
        for (let k = -ny; k <= ny; k++) {
          const [x, y] = [(i * rx) / nx, (k * ry) / ny];
          if (x * d[0] + y * d[1] <= low) continue;
          if (face.shape === 'disc' && x * x + y * y > rx * rx) continue;
          const a = x * u[0] + y * u[1];
          const c = x * v[0] + y * v[1];
          if (a < box[0]! - ring.to || a > box[2]! + ring.to) continue;
          if (c < box[1]! - ring.to || c > box[3]! + ring.to) continue;
          this.#reliefs[r]!.raise(a, c, x * d[0] + y * d[1]);
        }
      }
    });
  }

  /**
   * Holds what stands around a place in question against the head as it is drawn: tops of columns, and
   * what is in them down to the height at which the head begins there, for a fan may hang under a top.
   * @returns whether they touch
   */
  #confirm(b: number, [u, v, s]: Vec3): boolean {
    const axes = this.#axes!;
    const { tip } = this.#trace;
    const at = (pu: number, pv: number, height: number): Vec3 =>
      along(along(along([0, 0, 0], axes.u, pu), axes.v, pv), axes.d, height);
    // The head stands as at the block's end, moved back to the place in question and up by the room.
    const end: Vec3 = [tip[3 * b]!, tip[3 * b + 1]!, tip[3 * b + 2]!];
    const shift = along(sub(end, at(u, v, s)), axes.d, -this.#room);
    const headFromPart = headFrame(this.#machine, this.#trace, b);
    let deepest = 0;
    let touch: Touch | undefined;
    for (const relief of this.#reliefs) {
      relief.above(u, v, s + this.#room, (pu, pv, top) => {
        const rise = this.#riseAt(Math.hypot(pu - u, pv - v));
        for (let height = top; height - s - rise > deepest; height -= DOWN) {
          const point = at(pu, pv, height);
          if (height < top && !this.#grid.at(...point)) continue;
          if (headDistance(this.#machine, applyPoint(headFromPart, add(point, shift))) > 0)
            continue;
          deepest = height - s - rise;
          const what = Math.abs(point[2]) < COARSE ? 'the table' : 'what is printed';
          touch = { block: b, depth: deepest, point, above: height - s, what };
        }
      });
    }
    if (touch) this.touches.push(touch);
    return touch !== undefined;
  }

  #riseAt(radius: number): number {
    const ring = this.#rings.find((r) => radius >= r.from && radius <= r.to);
    return ring ? ring.above(radius) : 0;
  }
}

export const headFrame = (machine: Machine, { joints, jointCount: n }: Trace, b: number): Frame => {
  const values = joints.subarray(b * n, b * n + n);
  return compose(inverse(machineFromHead(machine, values)), machineFromPart(machine, values));
};

export function sameDirection(direction: Float64Array, a: number, b: number): boolean {
  const [i, k] = [3 * a, 3 * b];
  const cosine =
    direction[i]! * direction[k]! +
    direction[i + 1]! * direction[k + 1]! +
    direction[i + 2]! * direction[k + 2]!;
  return cosine >= SAME;
}

/** The nozzle in fine cells and the rest of the head in coarse ones. */
function ringsOf(machine: Machine): Ring[] {
  const wide = Math.max(...headPoints(machine).map((p) => p.radius));
  const high = Math.max(...headPoints(machine).map((p) => p.above));
  const heights = new Float64Array(Math.ceil(wide / OUTLINE) + 2).fill(Infinity);
  for (let s = 0; s <= high; s += OUTLINE) {
    const r = Math.floor(headRadius(machine, s) / OUTLINE);
    for (let i = r; i >= 0 && heights[i] === Infinity; i--) heights[i] = s;
  }
  const above = (radius: number): number => heights[Math.ceil(radius / OUTLINE)] ?? Infinity;
  const near = Math.min(NOZZLE, wide);
  return [
    { cell: FINE, from: 0, to: near, above },
    ...(wide > near ? [{ cell: COARSE, from: near, to: wide, above }] : []),
  ];
}
