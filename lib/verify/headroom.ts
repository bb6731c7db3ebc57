/**
 * The head against table and deposit while it keeps its direction, block by block with what was laid
 * before; where the head runs into something, the first place found of each block is reported. Material
 * that stands over the tip by no more than RUBBED_HEIGHTS heights of a bead is what a nozzle rubs over and
 * no touch.
 *
 * A height map says which places are in question: it takes the head wider by all that its cells and the
 * looks along the path leave open, so it misses none that touches. Those, the deepest first, are held cube
 * by cube against the head as it is drawn, and how far the head is clear there answers for the places about
 * it.
 */
import { BOUNDS } from '../base/bounds.js';
import { type Frame, applyPoint, compose, inverse } from '../base/frame.js';
import { type Vec3, along, cross, dot, square } from '../base/vector.js';
import { machineFromHead, machineFromPart } from '../machine/joint-chain.js';
import { headPoints, headRadius } from '../machine/head.js';
import type { Machine } from '../machine/machine.js';
import { headDistance, meshPoints } from '../machine/solid-distance.js';
import { HeadContact, type ContactLook, type HeadTouch } from './contact.js';
import type { Grids } from './grids.js';
import type { Heights } from './layers.js';
import { type Axes, TipHeightMap, type Ring } from './tip-height-map.js';
import { SAME_BUILD_DIRECTION, type Trace, TraceKind } from './trace.js';
import { TurningHeadroom } from './turning-headroom.js';

/** The nozzle is looked at in fine cells, what is wider in coarse ones, mm. */
const NOZZLE = 4;
const FINE_CELL = 0.25;
const COARSE_CELL = 1;
/** Looks along the path are this far apart, mm. */
const LOOK_SPACING = 0.5;
/** Points of a bead are no farther than this from one that goes into the map, mm. */
const BEAD = FINE_CELL * Math.SQRT1_2;
/** What stands over the tip counts from this many heights of a bead on. */
const RUBBED_HEIGHTS = 1.5;
/** Heights at which the outline is taken, mm. */
const HEAD_OUTLINE_STEP = 0.05;
/** Tips lower than others by less are level with them, mm. */
const LEVEL_TIPS = 1e-6;
/** Edge of the cells whose last clear place is remembered, mm. */
const CLEAR_CELL = 0.25;
/** Rotary joints that move by less stand still, rad. */
const STANDING_TURN = 1e-6;

/** A piece of a block's path, as shares of it, and how deep the head is in the map there, mm. */
interface Doubt {
  readonly from: number;
  readonly to: number;
  readonly depth: number;
}

/** Where the head was clear, and by how much, mm; blocks laid before. */
interface Clear {
  readonly at: Vec3;
  readonly gap: number;
  readonly laid: number;
}

export class Headroom {
  readonly touches: HeadTouch[] = [];
  readonly #trace: Trace;
  readonly #machine: Machine;
  readonly #grids: Grids;
  readonly #height: Float64Array;
  readonly #room: number;
  readonly #widest: number;
  readonly #outline: (radius: number) => number;
  readonly #rings: readonly Ring[];
  readonly #contact: HeadContact;
  readonly #rotary: readonly number[];
  readonly #joints: Float64Array;
  /** Where the head turns while it lays. */
  readonly #turning: TurningHeadroom | undefined;
  #maps: TipHeightMap[] = [];
  #axes: Axes | undefined;
  /** The last clear place of each cell of the map, the level of the highest bead, and blocks laid so far. */
  readonly #clear = new Map<number, Clear>();
  #top = -Infinity;
  #laid = 0;

  constructor(trace: Trace, machine: Machine, grids: Grids, heights: Heights) {
    this.#trace = trace;
    this.#machine = machine;
    this.#grids = grids;
    this.#height = heights.height;
    this.#room = RUBBED_HEIGHTS * heights.usual;
    this.#widest = BOUNDS.beadBores * machine.nozzle.diameter;
    this.#outline = outlineOf(machine);
    this.#rings = ringsOf(machine, this.#outline);
    this.#contact = new HeadContact(machine, grids, this.#room);
    this.#rotary = machine.joints.flatMap((j, i) => (j.kind === 'rotary' ? [i] : []));
    this.#joints = new Float64Array(machine.joints.length);
    this.#turning = trace.turning.includes(1)
      ? new TurningHeadroom(trace, machine, grids, this.#room, this.#outline)
      : undefined;
  }

  /** Forgets what was seen, where no map of heights goes on: in a run in which the head turns, or between directions. */
  forget(): void {
    this.#axes = undefined;
    this.#clear.clear();
    this.#turning?.forget();
  }

  /** Judges the path of block b, before its bead is laid. @returns false if the head turns on a way that it leaves open */
  before(b: number): boolean {
    const { tip, direction, length } = this.#trace;
    if (b === 0 || Number.isNaN(tip[3 * b]! + tip[3 * b - 3]!)) return true;
    if (this.#turning && this.#inTurningRun(b)) {
      this.#axes = undefined;
      this.#turning.before(b);
      this.touches.push(...this.#turning.touches.splice(0));
      return true;
    }
    if (!sameDirection(direction, b - 1, b)) {
      this.#axes = undefined;
      return false;
    }
    if (this.#turns(b)) {
      this.#clear.clear();
      return false;
    }
    if (!(length[b]! > 0)) return true;
    this.#axes ??= this.#begin(b);
    const doubts = this.#doubts(b);
    if (doubts.length > 0) this.#settle(b, doubts);
    return true;
  }

  /** The bead of block b stands from now on. */
  after(b: number): void {
    if (!this.#axes || this.#trace.kind[b] !== TraceKind.deposit) return;
    const [from, to] = [this.#place(b - 1), this.#place(b)];
    const [du, dv] = [to[0] - from[0], to[1] - from[1]];
    const way = this.#trace.length[b]!;
    const width = Math.min(this.#widest, this.#trace.volume[b]! / way / this.#height[b]!);
    const pieces = Math.max(1, Math.ceil(way / FINE_CELL));
    const across = Math.max(1, Math.ceil(width / FINE_CELL));
    for (let n = 0; n <= pieces; n++) {
      const t = n / pieces;
      const s = from[2] + t * (to[2] - from[2]);
      for (let k = 0; k <= across; k++) {
        const aside = ((k / across - 0.5) * width) / way;
        const u = from[0] + t * du - aside * dv;
        const v = from[1] + t * dv + aside * du;
        for (const map of this.#maps) map.raise(u, v, s);
      }
    }
    this.#top = Math.max(this.#top, from[2], to[2]);
    this.#laid++;
  }

  /** Transfers lead to a run and are not of it. */
  #inTurningRun(b: number): boolean {
    const { run, turning, kind, runStart } = this.#trace;
    const r = run[b]!;
    return turning[r] === 1 && kind[b] !== TraceKind.transfer && b >= runStart[r]!;
  }

  /** Whether the head turns about its own direction relative to the part: its map stays, its boxes swing. */
  #turns(b: number): boolean {
    const { joints, jointCount: n } = this.#trace;
    return this.#rotary.some(
      (j) => Math.abs(joints[b * n + j]! - joints[b * n - n + j]!) > STANDING_TURN,
    );
  }

  /** Pieces of the path of block b over which the head may touch by the map, the deepest first. */
  #doubts(b: number): Doubt[] {
    const [from, to] = [this.#place(b - 1), this.#place(b)];
    const low = Math.min(from[2], to[2]);
    for (const map of this.#maps) if (map.top > low + this.#room) map.settle();
    const pieces = Math.max(1, Math.ceil(this.#trace.length[b]! / LOOK_SPACING));
    const doubts: Doubt[] = [];
    for (let n = 0; n < pieces; n++) {
      const t = (n + 0.5) / pieces;
      const u = from[0] + t * (to[0] - from[0]);
      const v = from[1] + t * (to[1] - from[1]);
      const s = from[2] + t * (to[2] - from[2]) - Math.abs(to[2] - from[2]) / pieces / 2;
      let depth = this.#room;
      for (const map of this.#maps) depth = Math.max(depth, map.least(u, v) - s);
      if (depth > this.#room) doubts.push({ from: n / pieces, to: (n + 1) / pieces, depth });
    }
    return deepestFirst(doubts);
  }

  /** Goes through pieces in steps of a cube, as far as it is not known that the head is clear there. */
  #settle(b: number, doubts: readonly Doubt[]): void {
    const [from, to] = [this.#place(b - 1), this.#place(b)];
    const way = this.#trace.length[b]!;
    for (const { from: begin, to: end } of doubts) {
      const steps = Math.max(1, Math.ceil(((end - begin) * way) / this.#grids.edge));
      for (let n = 0; n <= steps; n++) {
        const t = begin + ((end - begin) * n) / steps;
        const at = along(from, [to[0] - from[0], to[1] - from[1], to[2] - from[2]], t);
        if (this.#isClear(at)) continue;
        const { gap, touch } = this.#lookAt(b, t);
        this.#clear.set(cellOf(at), { at, gap, laid: this.#laid });
        if (!touch) continue;
        this.touches.push(this.#touchAt(b, at, touch));
        return;
      }
    }
  }

  /** What lies lower than the tip was then, and beads laid since, do not count while it is no lower. */
  #isClear(place: Vec3): boolean {
    const clear = this.#clear.get(cellOf(place));
    if (!clear || (this.#top > place[2] + this.#room && clear.laid < this.#laid)) return false;
    const { at, gap } = clear;
    if (place[2] < at[2] - LEVEL_TIPS) return false;
    return Math.hypot(place[0] - at[0], place[1] - at[1], place[2] - at[2]) < gap;
  }

  #lookAt(b: number, t: number): ContactLook {
    const { joints, jointCount: n } = this.#trace;
    for (let j = 0; j < n; j++) {
      const before = joints[b * n - n + j]!;
      this.#joints[j] = before + t * (joints[b * n + j]! - before);
    }
    return this.#contact.look(this.#joints);
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
    this.#clear.clear();
    this.#top = -Infinity;
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
    this.#maps = this.#rings.map((ring) => new TipHeightMap(ring, box));
    this.#raiseDeposit(axes, low);
    this.#raiseTable(axes, low, box);
    for (const map of this.#maps) map.settle();
    return axes;
  }

  /** All cells that are set and stand higher than the lowest place of the tip. */
  #raiseDeposit({ u, v, d }: Axes, low: number): void {
    for (const grid of this.#grids.list) {
      const half = grid.halfAlong(d, 8);
      const top = grid.halfAlong(d, 1);
      for (let brick = 0; brick < grid.bricks; brick++) {
        const middle = grid.brickMiddle(brick);
        if (dot(middle, d) + half <= low) continue;
        for (let w = 0; w < 16; w++) {
          let bits = grid.wordOf(brick, w);
          while (bits !== 0) {
            const bit = 31 - Math.clz32(bits & -bits);
            bits &= bits - 1;
            const y = 4 * (w & 1) + (bit >> 3);
            const p = grid.off(middle, (w >> 1) - 3.5, y - 3.5, (bit & 7) - 3.5);
            const s = dot(p, d) + top;
            if (s <= low) continue;
            for (const map of this.#maps) map.raise(dot(p, u), dot(p, v), s);
          }
        }
      }
    }
  }

  /** The table's face, or its mesh, as points as close as the cells that they fall into. */
  #raiseTable({ u, v, d }: Axes, low: number, box: readonly number[]): void {
    const { face, tableMesh } = this.#machine;
    if (tableMesh) {
      this.#rings.forEach((ring, r) => {
        for (const p of meshPoints(tableMesh, ring.cell * 0.7)) {
          if (dot(p, d) > low) this.#maps[r]!.raise(dot(p, u), dot(p, v), dot(p, d));
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
          this.#maps[r]!.raise(a, c, x * d[0] + y * d[1]);
        }
      }
    });
  }

  /** The touch on block b as far as the map knows how deep it is, else as it was found. */
  #touchAt(b: number, at: Vec3, { point, what }: NonNullable<ContactLook['touch']>): HeadTouch {
    const { u, v, d } = this.#axes!;
    const frame = headFrame(this.#machine, this.#joints);
    const inHead = (p: Vec3): Vec3 => applyPoint(frame, along(p, d, -this.#room));
    const first = dot(point, d);
    const depth = (q: Vec3): number => q[2] + this.#room - this.#outline(Math.hypot(q[0], q[1]));
    let touch: HeadTouch = {
      block: b,
      depth: Math.max(0, depth(inHead(point))),
      point,
      above: first - at[2],
      what,
    };
    for (const map of this.#maps) {
      map.above(at[0], at[1], at[2] + this.#room, (pu, pv, height) => {
        const place = along(along(along([0, 0, 0], u, pu), v, pv), d, height);
        const q = inHead(place);
        if (headDistance(this.#machine, q) > 0 || depth(q) <= touch.depth) return;
        const on = Math.abs(place[2]) < COARSE_CELL ? 'the table' : 'what is printed';
        touch = { block: b, depth: depth(q), point: place, above: height - at[2], what: on };
      });
    }
    return touch;
  }
}

const cellOf = ([u, v]: Vec3): number =>
  Math.floor(u / CLEAR_CELL) * 65536 + Math.floor(v / CLEAR_CELL);

/** The map is wide: of the pieces that are as deep as any, the middle one is likeliest to be the deepest. */
function deepestFirst(doubts: readonly Doubt[]): Doubt[] {
  const sorted = doubts.slice().sort((a, b) => b.depth - a.depth || a.from - b.from);
  const as = sorted.findIndex((d) => d.depth < sorted[0]!.depth - HEAD_OUTLINE_STEP);
  const middle = (as < 0 ? sorted.length : as) >> 1;
  return sorted.length < 2 ? sorted : [sorted[middle]!, ...sorted];
}

const headFrame = (machine: Machine, joints: ArrayLike<number>): Frame =>
  compose(inverse(machineFromHead(machine, joints)), machineFromPart(machine, joints));

export function sameDirection(direction: Float64Array, a: number, b: number): boolean {
  const [i, k] = [3 * a, 3 * b];
  const cosine =
    direction[i]! * direction[k]! +
    direction[i + 1]! * direction[k + 1]! +
    direction[i + 2]! * direction[k + 2]!;
  return cosine >= SAME_BUILD_DIRECTION;
}

/** Least height over the tip at which the head is at least as wide as a radius, mm. */
function outlineOf(machine: Machine): (radius: number) => number {
  const wide = Math.max(...headPoints(machine).map((p) => p.radius));
  const high = Math.max(...headPoints(machine).map((p) => p.above));
  const heights = new Float64Array(Math.ceil(wide / HEAD_OUTLINE_STEP) + 2).fill(Infinity);
  for (let s = 0; s <= high; s += HEAD_OUTLINE_STEP) {
    const r = Math.floor(headRadius(machine, s) / HEAD_OUTLINE_STEP);
    for (let i = r; i >= 0 && heights[i] === Infinity; i--) heights[i] = s;
  }
  return (radius) => heights[Math.floor(radius / HEAD_OUTLINE_STEP)] ?? Infinity;
}

/**
 * The nozzle in fine cells and the rest of the head in coarse ones, wider by what stays open: tip and
 * material lie anywhere in their cells, material within BEAD of a point in the map, the tip within
 * half a LOOK_SPACING of a look.
 */
function ringsOf(machine: Machine, outline: (radius: number) => number): Ring[] {
  const wide = Math.max(...headPoints(machine).map((p) => p.radius));
  const near = Math.min(NOZZLE, wide);
  const ring = (cell: number, from: number, to: number): Ring => {
    const more = cell * Math.SQRT2 + BEAD + LOOK_SPACING / 2;
    return {
      cell,
      from: Math.max(0, from - more),
      to: to + more,
      above: (radius) => outline(Math.min(to, Math.max(from, radius - more))),
    };
  };
  return [ring(FINE_CELL, 0, near), ...(wide > near ? [ring(COARSE_CELL, near, wide)] : [])];
}
