/**
 * A rigid body as convex pieces in its own frame, with a hierarchy over them and a cheap lower bound
 * of its distance from a box. A piece that is round about the body's own Z axis (the head's stack)
 * is bounded by its profile, everything else by its box. Closed meshes come as `meshPieces`, which know
 * their inside.
 */
import type { Frame } from '../base/frame.js';
import type { Mesh } from '../base/mesh.js';
import type { Vec3 } from '../base/vector.js';
import type { Round } from '../machine/head.js';
import { type MeshPieces, meshPieces } from './mesh-body.js';
import { type Scratch, type Shape, boxInto } from './shape.js';
import { Tree } from './tree.js';

/** What can be met: convex things in the order of a tree. */
export interface Things {
  readonly tree: Tree;
  /** Centre xyz and half extent xyz of each thing, mm. */
  readonly boxes: Float64Array;
  /** Thing i carried by the frame and moved by -(x, y, z). */
  take(i: number, out: Scratch, f: Frame, x: number, y: number, z: number): void;
  /** True if a point of the own frame lies inside; only meshes have an inside beyond their pieces. */
  holds?(p: Vec3): boolean;
  /** A point of everything that hangs together; left out where any point of any thing will do. */
  readonly seeds?: readonly Vec3[];
}

export interface Piece {
  readonly shape: Shape;
  readonly round?: Round;
}

type Box = readonly [number, number, number, number, number, number];

export class Body implements Things {
  readonly pieces: readonly Piece[];
  readonly boxes: Float64Array;
  readonly tree: Tree;
  readonly seeds: readonly Vec3[];
  readonly holds?: (p: Vec3) => boolean;

  /** @param meshes closed meshes (`meshPieces`) that belong to it beside the pieces */
  constructor(pieces: readonly Piece[], meshes: readonly MeshPieces[] = []) {
    this.pieces = [...pieces, ...meshes.flatMap((m) => m.pieces.map((shape) => ({ shape })))];
    this.boxes = new Float64Array(6 * this.pieces.length);
    this.pieces.forEach((p, i) => boxInto(p.shape, this.boxes, 6 * i));
    this.tree = new Tree(this.boxes);
    const insides = meshes.flatMap((m) => m.holds ?? []);
    if (insides.length > 0) this.holds = (p) => insides.some((holds) => holds(p));
    this.seeds = [...pieces.map((p) => pointOf(p.shape)), ...meshes.flatMap((m) => m.seeds)];
  }

  /** Numbers of the pieces that may be nearer than `enough` to a box, into the list. */
  near(
    cx: number,
    cy: number,
    cz: number,
    hx: number,
    hy: number,
    hz: number,
    enough: number,
    out: number[],
  ): void {
    out.length = 0;
    this.#nearUnder(this.tree.top, 0, [cx, cy, cz, hx, hy, hz], enough, out);
  }

  #nearUnder(level: number, node: number, box: Box, enough: number, out: number[]): void {
    const { tree } = this;
    const [from, to] = level === 0 ? tree.things(node) : tree.children(level, node);
    for (let n = from; n < to; n++) {
      if (level === 0) out.push(n);
      else if (apart(tree.levels[level - 1]!, 6 * n, ...box) < enough) {
        this.#nearUnder(level - 1, n, box, enough, out);
      }
    }
  }

  take(i: number, out: Scratch, f: Frame, x: number, y: number, z: number): void {
    out.take(this.pieces[i]!.shape, f, x, y, z);
  }

  /**
   * Lower bound of the distance from the box with centre c and half extent h to the body; may be
   * any value that is at least `enough` where it is more than that.
   */
  bound(
    cx: number,
    cy: number,
    cz: number,
    hx: number,
    hy: number,
    hz: number,
    enough: number,
  ): number {
    return this.#under(this.tree.top, 0, cx, cy, cz, hx, hy, hz, enough);
  }

  #under(
    level: number,
    node: number,
    cx: number,
    cy: number,
    cz: number,
    hx: number,
    hy: number,
    hz: number,
    enough: number,
  ): number {
    const { tree } = this;
    let least = enough;
    if (level === 0) {
      const [from, to] = tree.things(node);
      for (let i = from; i < to; i++) {
        const d = this.pieceBound(i, cx, cy, cz, hx, hy, hz, least);
        if (d < least) least = d;
      }
      return least;
    }
    const [from, to] = tree.children(level, node);
    const boxes = tree.levels[level - 1]!;
    for (let n = from; n < to; n++) {
      if (apart(boxes, 6 * n, cx, cy, cz, hx, hy, hz) >= least) continue;
      const d = this.#under(level - 1, n, cx, cy, cz, hx, hy, hz, least);
      if (d < least) least = d;
    }
    return least;
  }

  /** The same for one piece. */
  pieceBound(
    i: number,
    cx: number,
    cy: number,
    cz: number,
    hx: number,
    hy: number,
    hz: number,
    enough: number,
  ): number {
    const box = apart(this.boxes, 6 * i, cx, cy, cz, hx, hy, hz);
    const { round } = this.pieces[i]!;
    if (!round || box >= enough) return box;
    const x = Math.max(0, Math.abs(cx) - hx);
    const y = Math.max(0, Math.abs(cy) - hy);
    return Math.max(box, profileGap(round, cz - hz, cz + hz, Math.sqrt(x * x + y * y)));
  }

  /** From a point to about the nearest one of a piece, written into `out`. */
  toPiece(i: number, x: number, y: number, z: number, out: Float64Array): void {
    const { round } = this.pieces[i]!;
    if (!round) {
      [x, y, z].forEach((v, c) => {
        const [middle, half] = [this.boxes[6 * i + c]!, this.boxes[6 * i + 3 + c]!];
        out[c] = Math.min(middle + half, Math.max(middle - half, v)) - v;
      });
      return;
    }
    const r = Math.sqrt(x * x + y * y);
    nearestOnSection(round, r, z, out);
    const k = r > 0 ? (out[0]! - r) / r : 0;
    out[2] = out[1]! - z;
    out[0] = k * x;
    out[1] = k * y;
  }
}

/** Of the section of a round piece the point nearest to radius r, height s: radius and height into `out`. */
function nearestOnSection(p: Round, r: number, s: number, out: Float64Array): void {
  const { low, lowRadius, high, highRadius } = p;
  const [ds, dr] = [high - low, highRadius - lowRadius];
  const along = ((s - low) * ds + (r - lowRadius) * dr) / (ds * ds + dr * dr);
  const k = Math.min(1, Math.max(0, along));
  let least = Infinity;
  const take = (u: number, v: number): void => {
    const far = (u - r) ** 2 + (v - s) ** 2;
    if (far >= least) return;
    least = far;
    out[0] = u;
    out[1] = v;
  };
  take(lowRadius + k * dr, low + k * ds);
  take(Math.min(r, lowRadius), low);
  take(Math.min(r, highRadius), high);
}

/** Distance between the box at `boxes[at ..]` and another one. */
export function apart(
  boxes: Float64Array,
  at: number,
  cx: number,
  cy: number,
  cz: number,
  hx: number,
  hy: number,
  hz: number,
): number {
  const x = Math.max(0, Math.abs(boxes[at]! - cx) - boxes[at + 3]! - hx);
  const y = Math.max(0, Math.abs(boxes[at + 1]! - cy) - boxes[at + 4]! - hy);
  const z = Math.max(0, Math.abs(boxes[at + 2]! - cz) - boxes[at + 5]! - hz);
  return Math.sqrt(x * x + y * y + z * z);
}

/** Distance from the heights from .. to at radius r to a round piece, in the plane of its profile. */
function profileGap(p: Round, from: number, to: number, r: number): number {
  const { low, lowRadius, high, highRadius } = p;
  const most = Math.max(lowRadius, highRadius);
  // Heights at which the piece is nearest to radius r: where it is as wide, else where it is widest.
  let a = low;
  let b = high;
  if (lowRadius !== highRadius) {
    const at = low + ((Math.min(r, most) - lowRadius) / (highRadius - lowRadius)) * (high - low);
    if (highRadius > lowRadius) a = Math.max(low, at);
    else b = Math.min(high, at);
  }
  const s = from > b ? from : to < a ? to : Math.max(a, from);
  const radius = lowRadius + ((s - low) / (high - low)) * (highRadius - lowRadius);
  if (s >= low && s <= high && r <= radius) return 0;
  const ends = s < low ? endGap(low - s, r - lowRadius) : endGap(s - high, r - highRadius);
  const [ds, dr] = [high - low, highRadius - lowRadius];
  const t = ((s - low) * ds + (r - lowRadius) * dr) / (ds * ds + dr * dr);
  const k = Math.min(1, Math.max(0, t));
  const [es, er] = [s - low - k * ds, r - lowRadius - k * dr];
  const flank = Math.sqrt(es * es + er * er);
  return s >= low && s <= high ? flank : Math.min(flank, ends);
}

/** Distance from a flat end of a piece: `over` beyond it, `out` beyond its rim. */
function endGap(over: number, out: number): number {
  const aside = Math.max(0, out);
  return Math.sqrt(over * over + aside * aside);
}

/** Some point of a shape. */
export function pointOf({ points, rings }: Shape): Vec3 {
  const from = points.length > 0 ? points : rings;
  return [from[0]!, from[1]!, from[2]!];
}

/** The body of a closed mesh. */
export const meshBody = (mesh: Mesh): Body => new Body([], [meshPieces(mesh)]);
