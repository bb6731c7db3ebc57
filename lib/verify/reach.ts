/**
 * What lies under a bead: whether it rests on something, and how much of its width lies farther out than the
 * self-supporting angle reaches.
 *
 * A place on a bead's underside is held where material of the layer below lies within h tan(theta) of
 * it, measured in the layer's plane (h the bead's height, theta the steepest self-supporting angle from
 * the build direction): the rule of overhangs, asked place by place. The distance to what was laid in
 * the same direction is exact, to the flanks of the beads one level lower, for a strip that hangs is
 * often narrower than a cube of the grid: counted in cubes, a ball's share of hanging area came out a
 * quarter too small. What was laid in other directions (a leaning base) is looked for on circles about the
 * place, in the beads as they lie: asked in the cubes of the grid, the rim of a base came out half a cube
 * short, and 3.2 mm2 that hang there as 6.7.
 *
 * Across the bead the distance changes by no more than the way itself, so it is taken at SAMPLES places
 * and goes evenly between them. Cost: beads of one level lie in cells of an even plane grid, made once a
 * level; a question looks into the few cells near it.
 */
import type { Vec3 } from '../base/vector.js';
import type { Machine } from '../machine/machine.js';
import { Carried } from './beside.js';
import { NearDirections, bitOf } from './near-directions.js';
import type { Heights } from './layers.js';
import { type Trace, TraceKind } from './trace.js';

/** Steepest angle from the build direction that carries itself, rad (common practice, no source). */
export const SELF_SUPPORTING = Math.PI / 4;
/** Places across a bead, as shares of half its width. */
const SAMPLES = [-1, -0.6, -0.2, 0.2, 0.6, 1] as const;
/** Directions nearer than this are one. */
const SAME = Math.cos(0.0009);
/** Levels are found by steps of this, mm. */
const LEVEL = 0.05;
/** What is below is looked for between these shares of the height under the tip. */
const FROM = 0.75;
const TO = 1.75;
/** What was laid in other directions is looked for at these shares of it. */
const BENEATH = [1.25, 1.5, 1.75] as const;
/** Edge of a cell, in widths of a bead; at least 1 mm. */
const CELL = 5;
/** Strips narrower than this are rounding of the program and of simplified outlines, mm. */
const NARROW = 0.012;
/** Beads that lie side by side touch but for rounding, mm: no slit between them is a gap. */
const SLIT = 0.01;
/** Places on a circle. */
const AROUND = 12;
/** Beads of one layer that lie against each other overlap, or are no farther apart than this, mm. */
const TOUCH = 0.05;

interface Direction {
  readonly u: Vec3;
  readonly v: Vec3;
  readonly d: Vec3;
  readonly levels: Map<number, Level[]>;
}

/** Blocks `first .. end` that lay at one level in one direction. */
interface Level {
  readonly first: number;
  readonly end: number;
  readonly at: number;
  /** Blocks by cell, and half the widest bead, mm; made when they are first asked for. */
  cells?: Cells;
}

interface Cells {
  readonly blocks: Map<number, number[]>;
  readonly widest: number;
}

/** The part that is to be made, as far as it is known. */
export interface Part {
  readonly inside: (p: Vec3) => boolean;
  /** Steepest self-supporting angle, rad. */
  readonly theta: number;
}

/** A bead's piece: middle of its upper side, across and up, half its width and its height, mm. */
export interface Place {
  readonly block: number;
  readonly p: Float64Array;
  readonly u: Float64Array;
  readonly d: Float64Array;
  readonly halfWidth: number;
  readonly height: number;
}

export class Reach {
  readonly #trace: Trace;
  readonly #heights: Heights;
  readonly #near: NearDirections;
  readonly #tallest: number;
  readonly #onFace: (x: number, y: number) => boolean;
  readonly #part: Part | undefined;
  readonly #cell: number;
  readonly #directions: Direction[] = [];
  /** Number of the direction a run, and the number of the level group in work. */
  readonly #ofRun: Uint16Array;
  #group = -1;
  #here: Direction | undefined;
  #below: Level[] = [];
  /** What of the level in work is carried from below. */
  #carried = new Carried();

  constructor(
    trace: Trace,
    heights: Heights,
    { face }: Pick<Machine, 'face'>,
    part: Part | undefined,
  ) {
    this.#trace = trace;
    this.#heights = heights;
    this.#part = part;
    this.#cell = Math.max(1, CELL * heights.width);
    this.#ofRun = Uint16Array.from(trace.runStart, (b) => this.#directionOf(b));
    this.#near = new NearDirections(trace, this.#ofRun);
    this.#tallest = heights.height.reduce((most, h) => Math.max(most, h), 0);
    this.#onFace =
      face.shape === 'disc'
        ? (x, y) => x * x + y * y <= face.radius * face.radius
        : (x, y) => Math.abs(x) <= face.size[0] / 2 && Math.abs(y) <= face.size[1] / 2;
  }

  /** Blocks come in order: the level in work, and those that lie under it. */
  aim(block: number, height: number): void {
    const { layerStart } = this.#heights;
    let moved = false;
    while (this.#group + 1 < layerStart.length && layerStart[this.#group + 1]! <= block) {
      this.#group++;
      this.#enter(this.#group);
      moved = true;
    }
    if (!moved) return;
    this.#carried = new Carried();
    const here = this.#directions[this.#ofRun[this.#trace.run[block]!]!]!;
    const level = this.#level(layerStart[this.#group]!, here);
    this.#here = here;
    this.#below = [];
    const [low, high] = [level - TO * height, level - FROM * height];
    for (let key = Math.floor(low / LEVEL); key <= Math.floor(high / LEVEL); key++) {
      for (const one of here.levels.get(key) ?? []) {
        if (one.at >= low && one.at <= high && one.first < layerStart[this.#group]!)
          this.#below.push(one);
      }
    }
  }

  /** Whether something lies under a place of a bead, straight below. */
  rests({ p, u, d, height }: Place, off: number): boolean {
    const [x, y, z] = [p[0]! + off * u[0]!, p[1]! + off * u[1]!, p[2]! + off * u[2]!];
    return this.#toOwn(x, y, z, 2 * SLIT, SLIT) <= SLIT || this.#onOthers(x, y, z, d, height, 0);
  }

  /** A piece of a length that is carried from below; `t` is its way. */
  isCarried({ p, halfWidth }: Place, t: Float64Array, length: number): void {
    const { u, v } = this.#here!;
    const [x, y, z] = [p[0]!, p[1]!, p[2]!];
    const [a, b] = [dot(u, x, y, z), dot(v, x, y, z)];
    const [da, db] = [u, v].map((axis) => (dot(axis, t[0]!, t[1]!, t[2]!) * length) / 2);
    this.#carried.add(a - da!, b - db!, a + da!, b + db!, halfWidth);
  }

  /** Whether a piece lies against a bead of its level that is carried just there. */
  isBeside({ p, u: across, halfWidth }: Place): boolean {
    const { u, v } = this.#here!;
    return [halfWidth + TOUCH, -halfWidth - TOUCH].some((off) => {
      const [x, y, z] = [0, 1, 2].map((c) => p[c]! + off * across[c]!) as unknown as Vec3;
      return this.#carried.holds(dot(u, x, y, z), dot(v, x, y, z));
    });
  }

  /** mm of the width of a piece that nothing holds and that is over air; none where no part is known. */
  beyond(place: Place): number {
    if (!this.#part) return 0;
    const { halfWidth, height } = place;
    const reach = height * Math.tan(this.#part.theta);
    const over = SAMPLES.map((share) => this.#distance(place, share * halfWidth, reach) - reach);
    const most = Math.max(...over);
    if (most <= NARROW) return 0;
    const open = (i: number): boolean =>
      over[i]! > 0 && this.#isOpen(place, SAMPLES[i]! * halfWidth);
    const last = SAMPLES.length - 1;
    // A strip on either side, each asked for once; what hangs as a whole by its middle.
    const whole = over.every((x) => x > 0);
    const left = whole ? open(last >> 1) : open(0);
    const right = whole ? left : open(last);
    if (!left && !right) return 0;
    let width = 0;
    for (let i = 0; i < last; i++) {
      const side = i < last / 2 ? left : right;
      const step = (SAMPLES[i + 1]! - SAMPLES[i]!) * halfWidth;
      if (side) width += step * positive(over[i]!, over[i + 1]!);
    }
    return width > NARROW ? width : 0;
  }

  #isOpen(place: Place, off: number): boolean {
    const { p, u, d, height } = place;
    const s = 1.5 * height;
    return !this.#part!.inside(
      [0, 1, 2].map((c) => p[c]! + off * u[c]! - s * d[c]!) as unknown as Vec3,
    );
  }

  /** From a place on the underside to what lies under it, mm; a width and more where nothing does. */
  #distance({ p, u, d, halfWidth, height }: Place, off: number, reach: number): number {
    const [x, y, z] = [p[0]! + off * u[0]!, p[1]! + off * u[1]!, p[2]! + off * u[2]!];
    const far = reach + 2 * halfWidth;
    const own = this.#toOwn(x, y, z, far, reach);
    return own > reach && this.#onOthers(x, y, z, d, height, reach) ? 0 : own;
  }

  #toOwn(x: number, y: number, z: number, far: number, enough: number): number {
    const here = this.#here!;
    const [a, b] = [dot(here.u, x, y, z), dot(here.v, x, y, z)];
    let least = far;
    for (const level of this.#below) {
      least = Math.min(least, this.#toLevel(level, here, a, b, far, enough));
      if (least <= enough) return least;
    }
    return least;
  }

  /** From a point of a level's plane to the nearest flank, mm; `far` where nothing is nearer. */
  #toLevel(
    level: Level,
    direction: Direction,
    a: number,
    b: number,
    far: number,
    enough: number,
  ): number {
    level.cells ??= this.#cellsOf(level, direction);
    const { blocks, widest } = level.cells;
    const room = far + this.#cell / 4 + widest;
    const [i1, j1] = [this.#cellOf(a + room), this.#cellOf(b + room)];
    let least = far;
    for (let i = this.#cellOf(a - room); i <= i1; i++) {
      for (let j = this.#cellOf(b - room); j <= j1; j++) {
        for (const block of blocks.get(key(i, j)) ?? []) {
          least = Math.min(least, this.#toBead(block, direction, a, b));
          if (least <= enough) return least;
        }
      }
    }
    return least;
  }

  #cellOf(x: number): number {
    return Math.floor(x / this.#cell);
  }

  /** From a point of the plane to the flank of a bead, mm; negative inside. */
  #toBead(block: number, { u, v }: Direction, a: number, b: number): number {
    const { tip } = this.#trace;
    const [k, i] = [3 * block - 3, 3 * block];
    const [a0, b0] = [
      dot(u, tip[k]!, tip[k + 1]!, tip[k + 2]!),
      dot(v, tip[k]!, tip[k + 1]!, tip[k + 2]!),
    ];
    const [a1, b1] = [
      dot(u, tip[i]!, tip[i + 1]!, tip[i + 2]!),
      dot(v, tip[i]!, tip[i + 1]!, tip[i + 2]!),
    ];
    const [x, y] = [a1 - a0, b1 - b0];
    const size = x * x + y * y;
    if (!(size > 0)) return Infinity;
    const t = Math.min(1, Math.max(0, ((a - a0) * x + (b - b0) * y) / size));
    return Math.hypot(a - a0 - t * x, b - b0 - t * y) - this.#half(block, Math.sqrt(size));
  }

  /** Whether the table or what was laid in another direction lies under a place, within reach of it. */
  #onOthers(x: number, y: number, z: number, d: Float64Array, h: number, reach: number): boolean {
    const { u, v } = this.#here!;
    const others = this.#near.othersAt(x, y, z, this.#directions.indexOf(this.#here!));
    for (const share of BENEATH) {
      const [px, py, pz] = [x - share * h * d[0]!, y - share * h * d[1]!, z - share * h * d[2]!];
      if (pz <= 0 && pz > -h && this.#onFace(px, py)) return true;
      if (others === 0) continue;
      if (this.#isOther(px, py, pz, others)) return true;
      for (let i = 0; i < (reach > 0 ? AROUND : 0); i++) {
        const angle = (2 * Math.PI * i) / AROUND;
        const [c, e] = [reach * Math.cos(angle), reach * Math.sin(angle)];
        const [ox, oy, oz] = [0, 1, 2].map((k) => c * u[k]! + e * v[k]!) as unknown as Vec3;
        if (this.#isOther(px + ox, py + oy, pz + oz, others)) return true;
      }
    }
    return false;
  }

  /** Whether a bead that was laid in another direction holds a place. */
  #isOther(x: number, y: number, z: number, others: number): boolean {
    return this.#directions.some((other, i) => {
      if (!(others & bitOf(i)) || other === this.#here) return false;
      const up = dot(other.d, x, y, z);
      const [a, b] = [dot(other.u, x, y, z), dot(other.v, x, y, z)];
      const highest = Math.floor((up + this.#tallest) / LEVEL);
      for (let key = Math.floor(up / LEVEL); key <= highest; key++) {
        for (const level of other.levels.get(key) ?? []) {
          if (up > level.at || up <= level.at - this.#heights.height[level.first]!) continue;
          if (this.#toLevel(level, other, a, b, 2 * SLIT, SLIT) <= SLIT) return true;
        }
      }
      return false;
    });
  }

  #directionOf(block: number): number {
    const d = [0, 1, 2].map((c) => this.#trace.direction[3 * block + c]!) as unknown as Vec3;
    const known = this.#directions.findIndex((one) => dot(one.d, ...d) > SAME);
    if (known >= 0) return known;
    const least = Math.abs(d[0]) < 0.6 ? 0 : 1;
    const across: Vec3 = least === 0 ? [0, -d[2], d[1]] : [d[2], 0, -d[0]];
    const size = Math.hypot(...across);
    const u = across.map((x) => x / size) as unknown as Vec3;
    const v: Vec3 = [
      d[1] * u[2] - d[2] * u[1],
      d[2] * u[0] - d[0] * u[2],
      d[0] * u[1] - d[1] * u[0],
    ];
    this.#directions.push({ u, v, d, levels: new Map() });
    return this.#directions.length - 1;
  }

  #level(block: number, { d }: Direction): number {
    const { tip } = this.#trace;
    const [k, i] = [3 * block - 3, 3 * block];
    const at = (c: number): number => (tip[k + c]! + tip[i + c]!) / 2;
    return dot(d, at(0), at(1), at(2));
  }

  #enter(group: number): void {
    const { layerStart } = this.#heights;
    const [first, end] = [layerStart[group]!, layerStart[group + 1] ?? this.#trace.kind.length];
    const here = this.#directions[this.#ofRun[this.#trace.run[first]!]!]!;
    const at = this.#level(first, here);
    const list = here.levels.get(Math.floor(at / LEVEL));
    if (list) list.push({ first, end, at });
    else here.levels.set(Math.floor(at / LEVEL), [{ first, end, at }]);
  }

  /** Half the width of a bead of a length, mm. */
  #half(block: number, size: number): number {
    return Math.min(
      MOST_HALF,
      this.#trace.volume[block]! / size / this.#heights.height[block]! / 2,
    );
  }

  #cellsOf({ first, end }: Level, { u, v }: Direction): Cells {
    const { kind, tip, volume } = this.#trace;
    const cells = new Map<number, number[]>();
    let widest = 0;
    for (let block = first; block < end; block++) {
      if (kind[block] !== TraceKind.deposit || !(volume[block]! > 0)) continue;
      const [k, i] = [3 * block - 3, 3 * block];
      const [a0, b0] = [
        dot(u, tip[k]!, tip[k + 1]!, tip[k + 2]!),
        dot(v, tip[k]!, tip[k + 1]!, tip[k + 2]!),
      ];
      const [a1, b1] = [
        dot(u, tip[i]!, tip[i + 1]!, tip[i + 2]!),
        dot(v, tip[i]!, tip[i + 1]!, tip[i + 2]!),
      ];
      const size = Math.hypot(a1 - a0, b1 - b0);
      if (!(size > 0)) continue;
      widest = Math.max(widest, this.#half(block, size));
      const steps = Math.ceil(size / (this.#cell / 2));
      let before = NaN;
      for (let n = 0; n <= steps; n++) {
        const t = n / steps;
        const at = key(this.#cellOf(a0 + t * (a1 - a0)), this.#cellOf(b0 + t * (b1 - b0)));
        if (at === before) continue;
        before = at;
        const list = cells.get(at);
        if (list) list.push(block);
        else cells.set(at, [block]);
      }
    }
    return { blocks: cells, widest };
  }
}

/** No bead is wider than twice this, mm: what a stray block meters is no support. */
const MOST_HALF = 2;

const key = (i: number, j: number): number => (i + 32768) * 65536 + (j + 32768);

const dot = (a: Vec3, x: number, y: number, z: number): number => a[0] * x + a[1] * y + a[2] * z;

/** Mean of the positive part of what goes evenly from a to b. */
function positive(a: number, b: number): number {
  if (a >= 0 && b >= 0) return 1;
  if (a <= 0 && b <= 0) return 0;
  const most = Math.max(a, b);
  return most / (most - Math.min(a, b));
}
