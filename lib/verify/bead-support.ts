/**
 * What lies under a bead: whether it rests on something, and how much of its width lies farther out than
 * the self-supporting angle reaches.
 *
 * A place on a bead's underside is held where material of the layer below lies within h tan(theta) of it,
 * measured in the layer's plane (h the bead's height, theta the steepest self-supporting angle from the
 * build direction): the rule of overhangs, applied place by place. The distance to what was laid in the
 * same direction is exact, to the flanks of the beads one level lower, for a strip that hangs is often
 * narrower than a cube of the grid: counted in cubes, a ball's share of hanging area came out a quarter too
 * small. What was laid in other directions (a leaning base) is searched on circles about the place, in the
 * beads as they lie: asked in the cubes of the grid, the rim of a base came out half a cube short, and 3.2
 * mm2 that hang there as 6.7.
 *
 * Cost: a query looks into a few cells of each level near it (laid-levels.ts).
 */
import type { Vec3 } from '../base/vector.js';
import type { Machine } from '../machine/machine.js';
import { CarriedStrips } from './carried-strips.js';
import { type Direction, LaidLevels, type LaidLevel } from './laid-levels.js';
import { hangingWidth } from './hanging-width.js';
import type { Heights } from './layers.js';
import { NearDirections, bitOf } from './near-directions.js';
import type { Trace } from './trace.js';

/** Steepest self-supporting angle from the build direction, rad (common practice, no source). */
export const SELF_SUPPORTING = Math.PI / 4;
/** What is below is searched between these shares of the height under the tip. */
const BELOW_FROM = 0.75;
const BELOW_TO = 1.75;
/** What was laid in other directions is searched at these shares of it. */
const BENEATH = [1.25, 1.5, 1.75] as const;
/** Beads that lie side by side touch but for rounding, mm: no slit between them is a gap. */
const SLIT = 0.01;
/** Places on a circle. */
const CIRCLE_PLACES = 12;
const ANGLES = Array.from({ length: CIRCLE_PLACES }, (_, i) => (2 * Math.PI * i) / CIRCLE_PLACES);
const COSINES = ANGLES.map(Math.cos);
const SINES = ANGLES.map(Math.sin);
/** Beads of one layer that lie against each other overlap, or are no farther apart than this, mm. */
const BEADS_TOUCH = 0.05;

/** The part that is to be made, as far as it is known. */
export interface KnownPart {
  readonly inside: (p: Vec3) => boolean;
  /** Steepest self-supporting angle, rad. */
  readonly theta: number;
}

/** A bead's piece: middle of its upper side, across and up, half its width and its height, mm. */
export interface PiecePlace {
  readonly block: number;
  readonly p: Float64Array;
  readonly u: Float64Array;
  readonly d: Float64Array;
  readonly halfWidth: number;
  readonly height: number;
}

/** What lies under the beads, asked piece by piece in the order in which they are laid. */
export interface Support {
  /** The bead of a block comes next. */
  aim(block: number, height: number): void;
  /** Whether something lies under a place of a bead, straight below. */
  rests(place: PiecePlace, off: number): boolean;
  /** A piece of a length that is carried from below; `t` is its way. */
  isCarried(place: PiecePlace, t: Float64Array, length: number): void;
  /** Whether a piece lies against a bead of its level that is carried just there. */
  isBeside(place: PiecePlace): boolean;
  beyond(place: PiecePlace): number;
}

/** Whether a place lies on the table face. */
export const onFaceOf = ({ face }: Pick<Machine, 'face'>): ((x: number, y: number) => boolean) =>
  face.shape === 'disc'
    ? (x, y) => x * x + y * y <= face.radius * face.radius
    : (x, y) => Math.abs(x) <= face.size[0] / 2 && Math.abs(y) <= face.size[1] / 2;

export class BeadSupport implements Support {
  readonly #heights: Heights;
  readonly #near: NearDirections;
  readonly #tallest: number;
  readonly #onFace: (x: number, y: number) => boolean;
  readonly #part: KnownPart | undefined;
  readonly #laid: LaidLevels;
  readonly #trace: Trace;
  #block = 0;
  /** Index of the layer in work. */
  #group = -1;
  #here: Direction | undefined;
  #below: LaidLevel[] = [];
  /** Levels over a place, from query to query. */
  readonly #over: LaidLevel[] = [];
  /** Pieces of the current level that are carried from below. */
  #carried = new CarriedStrips();

  constructor(
    trace: Trace,
    heights: Heights,
    machine: Pick<Machine, 'face'>,
    part: KnownPart | undefined,
  ) {
    this.#trace = trace;
    this.#heights = heights;
    this.#part = part;
    this.#laid = new LaidLevels(trace, heights);
    this.#near = new NearDirections(trace, this.#laid.ofRun);
    this.#tallest = heights.height.reduce((most, h) => Math.max(most, h), 0);
    this.#onFace = onFaceOf(machine);
  }

  /** Blocks come in order: finds the current level, and those that lie under it. */
  aim(block: number, height: number): void {
    const { layerStart } = this.#heights;
    this.#block = block;
    let level: LaidLevel | undefined;
    while (this.#group + 1 < layerStart.length && layerStart[this.#group + 1]! <= block) {
      level = this.#laid.enter(++this.#group);
    }
    if (!level) return;
    const { at } = level;
    const here = this.#laid.of(block);
    this.#carried = new CarriedStrips();
    this.#here = here;
    const [low, high] = [at - BELOW_TO * height, at - BELOW_FROM * height];
    this.#below = this.#laid.between(here, low, high, []);
  }

  rests({ p, u, d, height }: PiecePlace, off: number): boolean {
    const [x, y, z] = [p[0]! + off * u[0]!, p[1]! + off * u[1]!, p[2]! + off * u[2]!];
    return this.#toOwn(x, y, z, 2 * SLIT, SLIT) <= SLIT || this.#onOthers(x, y, z, d, height, 0);
  }

  isCarried({ p, halfWidth }: PiecePlace, t: Float64Array, length: number): void {
    const { u, v } = this.#here!;
    const [x, y, z] = [p[0]!, p[1]!, p[2]!];
    const [a, b] = [dot(u, x, y, z), dot(v, x, y, z)];
    const [da, db] = [u, v].map((axis) => (dot(axis, t[0]!, t[1]!, t[2]!) * length) / 2);
    this.#carried.add(a - da!, b - db!, a + da!, b + db!, halfWidth);
  }

  isBeside({ p, u: across, halfWidth }: PiecePlace): boolean {
    const { u, v } = this.#here!;
    return [halfWidth + BEADS_TOUCH, -halfWidth - BEADS_TOUCH].some((off) => {
      const [x, y, z] = [0, 1, 2].map((c) => p[c]! + off * across[c]!) as unknown as Vec3;
      return this.#carried.holds(dot(u, x, y, z), dot(v, x, y, z));
    });
  }

  beyond(place: PiecePlace): number {
    if (!this.#part) return 0;
    const { halfWidth, height } = place;
    const reach = height * Math.tan(this.#part.theta);
    return hangingWidth(
      halfWidth,
      reach,
      (off) => this.#distance(place, off, reach),
      (off) => this.#isOpen(place, off),
    );
  }

  #isOpen(place: PiecePlace, off: number): boolean {
    const { p, u, d, height } = place;
    const s = 1.5 * height;
    return !this.#part!.inside(
      [0, 1, 2].map((c) => p[c]! + off * u[c]! - s * d[c]!) as unknown as Vec3,
    );
  }

  /** From a place on the underside to what lies under it, mm; a width and more where nothing does. */
  #distance({ p, u, d, halfWidth, height }: PiecePlace, off: number, reach: number): number {
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
      least = Math.min(least, this.#laid.distance(level, here, a, b, far, enough));
      if (least <= enough) return least;
    }
    return least;
  }

  /** Whether the table or what was laid in another direction lies under a place, within reach of it. */
  #onOthers(x: number, y: number, z: number, d: Float64Array, h: number, reach: number): boolean {
    const { u, v, index } = this.#here!;
    const others = this.#near.othersAt(x, y, z, index);
    if (this.#onTurned(x, y, z, d, h, reach)) return true;
    for (const share of BENEATH) {
      const px = x - share * h * d[0]!;
      const py = y - share * h * d[1]!;
      const pz = z - share * h * d[2]!;
      if (pz <= 0 && pz > -h && this.#onFace(px, py)) return true;
      if (others === 0) continue;
      if (this.#isOther(px, py, pz, others)) return true;
      if (!(reach > 0)) continue;
      for (let i = 0; i < CIRCLE_PLACES; i++) {
        const [c, e] = [reach * COSINES[i]!, reach * SINES[i]!];
        const qx = px + c * u[0] + e * v[0];
        const qy = py + c * u[1] + e * v[1];
        const qz = pz + c * u[2] + e * v[2];
        if (this.#isOther(qx, qy, qz, others)) return true;
      }
    }
    return false;
  }

  /** Whether a bead that was laid while the head turned lies under a place, within reach of it. */
  #onTurned(x: number, y: number, z: number, d: Float64Array, h: number, reach: number): boolean {
    const pieces = this.#heights.turned?.pieces;
    if (!pieces) return false;
    const axis: Vec3 = [d[0]!, d[1]!, d[2]!];
    const { turning, run } = this.#trace;
    return pieces.near([x, y, z], reach + BELOW_TO * h, this.#block).some((block) => {
      if (turning[run[block]!] !== 1) return false;
      const strip = pieces.below(block, [x, y, z], axis, [BELOW_FROM * h, BELOW_TO * h]);
      return !!strip && strip.aside <= Math.max(SLIT, reach);
    });
  }

  /** Whether a bead that was laid in another direction holds a place. */
  #isOther(x: number, y: number, z: number, others: number): boolean {
    const { height } = this.#heights;
    for (const other of this.#laid.directions) {
      if (!(others & bitOf(other.index)) || other === this.#here) continue;
      const up = dot(other.d, x, y, z);
      const levels = this.#laid.between(other, up, up + this.#tallest, this.#over);
      if (levels.length === 0) continue;
      const [a, b] = [dot(other.u, x, y, z), dot(other.v, x, y, z)];
      for (const level of levels) {
        if (!(up > level.at - height[level.first]!)) continue;
        if (this.#laid.distance(level, other, a, b, 2 * SLIT, SLIT) <= SLIT) return true;
      }
    }
    return false;
  }
}

const dot = (a: Vec3, x: number, y: number, z: number): number => a[0] * x + a[1] * y + a[2] * z;
