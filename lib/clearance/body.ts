/**
 * A rigid body as convex pieces in its own frame. Pieces that lie close together form a group with a common
 * hull; pieces and groups each have a hierarchy of boxes, and a cheap lower bound of their distance from a
 * box. What is round about the body's own Z axis (the head's stack, patches of a turned mesh) is bounded by
 * its profile, everything else by its box. Closed meshes enter as `meshPieces`, which know their inside.
 */
import type { Frame } from '../base/frame.js';
import type { Mesh } from '../base/mesh.js';
import type { Vec3 } from '../base/vector.js';
import type { Frustum } from '../machine/head.js';
import { type MeshPieces, meshPieces } from './mesh-body.js';
import { nearestOnSection, roundGap, turned } from './convex/frusta.js';
import { type Scratch, type ConvexShape, boxInto, hull } from './convex/support-shape.js';
import { PrefixTree } from './convex/prefix-tree.js';

/** Things to which a distance can be measured: convex shapes in the order of a tree. */
export interface Things {
  readonly tree: PrefixTree;
  /** Centre xyz and half extent xyz of each thing, mm. */
  readonly boxes: Float64Array;
  /** Thing i carried by the frame and moved by -(x, y, z). */
  take(i: number, out: Scratch, f: Frame, x: number, y: number, z: number): void;
  /** True if a point of the own frame lies inside; only meshes have an inside beyond their pieces. */
  holds?(p: Vec3): boolean;
  /** A point of every connected part; left out where any point of any thing will do. */
  readonly seeds?: readonly Vec3[];
}

export interface ConvexPiece {
  readonly shape: ConvexShape;
  readonly round?: Frustum;
}

/** Pieces from .. to (exclusive) in a hull that holds them all. */
export interface PieceGroup {
  readonly hull: ConvexShape;
  /** The hull turned about the body's own axis, if that may bound it more closely than its box. */
  readonly rounds: readonly Frustum[];
  readonly from: number;
  readonly to: number;
}

type CentredBox = readonly [number, number, number, number, number, number];

export class RigidBody implements Things {
  readonly pieces: readonly ConvexPiece[];
  readonly boxes: Float64Array;
  readonly tree: PrefixTree;
  readonly groups: readonly PieceGroup[];
  readonly #groupBoxes: Float64Array;
  readonly #groupTree: PrefixTree;
  readonly seeds: readonly Vec3[];
  readonly holds?: (p: Vec3) => boolean;

  /** @param meshes closed meshes (`meshPieces`) that belong to it beside the pieces */
  constructor(pieces: readonly ConvexPiece[], meshes: readonly MeshPieces[] = []) {
    const grouped = meshes.flatMap((m) => m.groups);
    this.pieces = [...pieces, ...grouped.flatMap((g) => g.map((shape) => ({ shape })))];
    this.boxes = boxesOf(this.pieces.map((p) => p.shape));
    this.tree = new PrefixTree(this.boxes);
    this.groups = [
      ...pieces.map(({ shape, round }, i) => ({
        hull: shape,
        rounds: round ? [round] : [],
        from: i,
        to: i + 1,
      })),
      ...groupsOf(grouped, pieces.length),
    ];
    this.#groupBoxes = boxesOf(this.groups.map((g) => g.hull));
    this.#groupTree = new PrefixTree(this.#groupBoxes);
    const insides = meshes.flatMap((m) => m.holds ?? []);
    if (insides.length > 0) this.holds = (p) => insides.some((holds) => holds(p));
    this.seeds = [...pieces.map((p) => pointOf(p.shape)), ...meshes.flatMap((m) => m.seeds)];
  }

  /** Indices of the groups that may be nearer than `enough` to a box, into the list. */
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
    this.#nearUnder(this.#groupTree.top, 0, [cx, cy, cz, hx, hy, hz], enough, out);
  }

  #nearUnder(level: number, node: number, box: CentredBox, enough: number, out: number[]): void {
    const tree = this.#groupTree;
    const [from, to] = level === 0 ? tree.things(node) : tree.children(level, node);
    const boxes = level === 0 ? this.#groupBoxes : tree.levels[level - 1]!;
    for (let n = from; n < to; n++) {
      if (apart(boxes, 6 * n, ...box) >= enough) continue;
      if (level === 0) out.push(n);
      else this.#nearUnder(level - 1, n, box, enough, out);
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
    return this.#under(this.#groupTree.top, 0, cx, cy, cz, hx, hy, hz, enough);
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
    const tree = this.#groupTree;
    const [from, to] = level === 0 ? tree.things(node) : tree.children(level, node);
    const boxes = level === 0 ? this.#groupBoxes : tree.levels[level - 1]!;
    let least = enough;
    for (let n = from; n < to; n++) {
      const box = apart(boxes, 6 * n, cx, cy, cz, hx, hy, hz);
      if (box >= least) continue;
      const d =
        level === 0
          ? Math.max(box, roundGap(this.groups[n]!.rounds, cx, cy, cz, hx, hy, hz))
          : this.#under(level - 1, n, cx, cy, cz, hx, hy, hz, least);
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
    return Math.max(box, roundGap([round], cx, cy, cz, hx, hy, hz));
  }

  /** Vector from a point to about the nearest one of a group's hull, written into `out`. */
  toGroup(g: number, x: number, y: number, z: number, out: Float64Array): void {
    toBox(this.#groupBoxes, g, x, y, z, out);
  }

  /** The same for a piece. */
  toPiece(i: number, x: number, y: number, z: number, out: Float64Array): void {
    const { round } = this.pieces[i]!;
    if (!round) {
      toBox(this.boxes, i, x, y, z, out);
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

function toBox(
  boxes: Float64Array,
  i: number,
  x: number,
  y: number,
  z: number,
  out: Float64Array,
): void {
  [x, y, z].forEach((v, c) => {
    const [middle, half] = [boxes[6 * i + c]!, boxes[6 * i + 3 + c]!];
    out[c] = Math.min(middle + half, Math.max(middle - half, v)) - v;
  });
}

const boxesOf = (shapes: readonly ConvexShape[]): Float64Array => {
  const boxes = new Float64Array(6 * shapes.length);
  shapes.forEach((shape, i) => boxInto(shape, boxes, 6 * i));
  return boxes;
};

/** @param first number of the first piece */
function groupsOf(groups: readonly (readonly ConvexShape[])[], first: number): PieceGroup[] {
  let to = first;
  return groups.map((shapes) => {
    const from = to;
    to += shapes.length;
    const hull = hullOf(shapes);
    return { hull, rounds: turned(hull.points), from, to };
  });
}

/** Of shapes that are hulls of points themselves. */
function hullOf(shapes: readonly ConvexShape[]): ConvexShape {
  const points = new Map<string, Vec3>();
  for (const { points: p } of shapes) {
    for (let i = 0; i < p.length; i += 3) {
      const at: Vec3 = [p[i]!, p[i + 1]!, p[i + 2]!];
      points.set(at.join(' '), at);
    }
  }
  return hull([...points.values()]);
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

/** Some point of a shape. */
export function pointOf({ points, rings }: ConvexShape): Vec3 {
  const from = points.length > 0 ? points : rings;
  return [from[0]!, from[1]!, from[2]!];
}

/** The body of a closed mesh. */
export const meshBody = (mesh: Mesh): RigidBody => new RigidBody([], [meshPieces(mesh)()]);
