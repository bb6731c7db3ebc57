/**
 * Where a body comes nearest to things while it translates along a path. Branch and bound over two
 * hierarchies of boxes: both are descended together, nearest pairs of nodes first, and what cannot be
 * nearer than the nearest pair found so far is left out. The remaining pairs of stretch and thing are
 * measured as swept shapes, so the answer holds for the whole of every stretch and nothing is sampled.
 */
import { type Frame, applyPoint, identity, inverse } from '../base/frame.js';
import { type Vec3, add, sub } from '../base/vector.js';
import { type RigidBody, type Things, pointOf } from './body.js';
import { ConvexDistance, NO_SLIDES } from './convex/convex-distance.js';
import type { Path } from './body-path.js';
import { Scratch, type ConvexShape } from './convex/support-shape.js';
import { extent } from './convex/prefix-tree.js';

export interface NearestPair {
  /** Signed distance, mm. */
  readonly gap: number;
  /** Indices of the stretch and of the thing. */
  readonly stretch: number;
  readonly thing: number;
  /** Point of the thing, in the frame of the things, mm. */
  readonly at: Vec3;
}

export interface PathQuery {
  readonly body: RigidBody;
  readonly path: Path;
  readonly things: Things;
  /** Body's axes (before it is displaced) from the frame of the things. */
  readonly frame: Frame;
  /** Things from this index on are not there yet. */
  readonly until?: number;
  /** Distances from this on are not searched, mm. */
  readonly within: number;
  /**
   * Share by which the least distance may be smaller than the one found; 1 asks only whether there is one.
   */
  readonly accuracy?: number;
}

/** Branch and bound with its scratch memory; one serves any number of queries, one after the other. */
export class DistanceSearch {
  /** Exact measurements so far, for benchmarks. */
  measured = 0;
  readonly #prober = new ConvexDistance();
  readonly #shape = new Scratch();
  readonly #slide = new Float64Array(3);
  readonly #near: number[] = [];
  readonly #guess = new Float64Array(3);
  #ask!: PathQuery;
  #until = 0;
  #share = 1;
  #gap = 0;
  #stretch = -1;
  #thing = -1;
  readonly #at = new Float64Array(3);

  /** The least gap under `within`; undefined if there is none. */
  least(ask: PathQuery): NearestPair | undefined {
    const { things, path } = ask;
    this.#begin(ask);
    if (this.#until === 0 || path.tree.count === 0) return undefined;
    this.#pair(path.tree.top, 0, things.tree.top, 0);
    this.#inside();
    return this.#found();
  }

  /** Lower bound of the distance of a box of the things from the body; any value that is at least `within`, beyond it. */
  boundAt(ask: PathQuery, boxes: Float64Array, at: number): number {
    this.#begin(ask);
    return this.#bound(ask.path.boxes, 0, boxes, at);
  }

  /**
   * The least gap under `within` of the things under some nodes of their tree; undefined if there is none.
   * @param nodes pairs of level and number, level -1 for things; begin with a near one, it spares the others
   */
  leastUnder(ask: PathQuery, nodes: Int32Array): NearestPair | undefined {
    this.#begin(ask);
    const { tree } = ask.path;
    for (let k = 0; k < nodes.length; k += 2) this.#pair(tree.top, 0, nodes[k]!, nodes[k + 1]!);
    return this.#found();
  }

  #begin(ask: PathQuery): void {
    this.#ask = ask;
    this.#until = ask.until ?? ask.things.tree.count;
    this.#share = 1 - (ask.accuracy ?? 0);
    this.#gap = ask.within;
    this.#stretch = -1;
  }

  #found(): NearestPair | undefined {
    if (this.#stretch < 0) return undefined;
    return {
      gap: this.#gap,
      stretch: this.#stretch,
      thing: this.#thing,
      at: applyPoint(inverse(this.#ask.frame), this.#at as unknown as Vec3),
    };
  }

  /** Only what is nearer than this is wanted. */
  get #wanted(): number {
    return this.#gap > 0 && this.#stretch >= 0 ? this.#gap * this.#share : this.#gap;
  }

  #bound(a: Float64Array, i: number, b: Float64Array, j: number): number {
    const { frame: f, body } = this.#ask;
    const [x, y, z] = [b[j]!, b[j + 1]!, b[j + 2]!];
    const [u, v, w] = [b[j + 3]!, b[j + 4]!, b[j + 5]!];
    return body.bound(
      f[0]! * x + f[4]! * y + f[8]! * z + f[12]! - a[i]!,
      f[1]! * x + f[5]! * y + f[9]! * z + f[13]! - a[i + 1]!,
      f[2]! * x + f[6]! * y + f[10]! * z + f[14]! - a[i + 2]!,
      Math.abs(f[0]!) * u + Math.abs(f[4]!) * v + Math.abs(f[8]!) * w + a[i + 3]!,
      Math.abs(f[1]!) * u + Math.abs(f[5]!) * v + Math.abs(f[9]!) * w + a[i + 4]!,
      Math.abs(f[2]!) * u + Math.abs(f[6]!) * v + Math.abs(f[10]!) * w + a[i + 5]!,
      this.#wanted,
    );
  }

  /** A node of the path's tree against one of the things' tree. */
  #pair(levelA: number, a: number, levelB: number, b: number): void {
    const { path, things } = this.#ask;
    if (levelA < 0 && levelB < 0) {
      this.#measure(a, b);
      return;
    }
    const boxesA = levelA < 0 ? path.boxes : path.tree.levels[levelA]!;
    const boxesB = levelB < 0 ? things.boxes : things.tree.levels[levelB]!;
    const splitA = levelB < 0 || (levelA >= 0 && extent(boxesA, 6 * a) > extent(boxesB, 6 * b));
    const tree = splitA ? path.tree : things.tree;
    const level = splitA ? levelA : levelB;
    const [from, to] =
      level === 0 ? tree.things(splitA ? a : b) : tree.children(level, splitA ? a : b);
    const next = splitA
      ? level === 0
        ? path.boxes
        : tree.levels[level - 1]!
      : level === 0
        ? things.boxes
        : tree.levels[level - 1]!;
    // At most four children, nearest first; kept in plain variables, for this is the hot loop.
    const bounds = [0, 0, 0, 0];
    const order = [0, 0, 0, 0];
    let count = 0;
    for (let n = from; n < to; n++) {
      if (!splitA && tree.first(level - 1, n) >= this.#until) {
        if (tree.rises) break;
        continue;
      }
      const bound = splitA
        ? this.#bound(next, 6 * n, boxesB, 6 * b)
        : this.#bound(boxesA, 6 * a, next, 6 * n);
      if (bound >= this.#wanted) continue;
      let k = count++;
      while (k > 0 && bounds[k - 1]! > bound) {
        bounds[k] = bounds[k - 1]!;
        order[k] = order[k - 1]!;
        k--;
      }
      bounds[k] = bound;
      order[k] = n;
    }
    for (let k = 0; k < count; k++) {
      if (bounds[k]! >= this.#wanted) return;
      if (splitA) this.#pair(levelA - 1, order[k]!, levelB, b);
      else this.#pair(levelA, a, levelB - 1, order[k]!);
    }
  }

  /** Every piece of the body against one thing along one stretch. */
  #measure(stretch: number, thing: number): void {
    const { body, path, things, frame: f } = this.#ask;
    const p = path.points;
    const at = 3 * path.step * stretch;
    const [x, y, z] = [p[at]!, p[at + 1]!, p[at + 2]!];
    const s = this.#slide;
    s[0] = p[at + 3]! - x;
    s[1] = p[at + 4]! - y;
    s[2] = p[at + 5]! - z;
    const moves = s[0] !== 0 || s[1] !== 0 || s[2] !== 0;
    const b = things.boxes;
    const t = 6 * thing;
    const [u, v, w] = [b[t]!, b[t + 1]!, b[t + 2]!];
    const [hu, hv, hw] = [b[t + 3]!, b[t + 4]!, b[t + 5]!];
    const cx = f[0]! * u + f[4]! * v + f[8]! * w + f[12]! - x - s[0] / 2;
    const cy = f[1]! * u + f[5]! * v + f[9]! * w + f[13]! - y - s[1] / 2;
    const cz = f[2]! * u + f[6]! * v + f[10]! * w + f[14]! - z - s[2] / 2;
    const hx =
      Math.abs(f[0]!) * hu + Math.abs(f[4]!) * hv + Math.abs(f[8]!) * hw + Math.abs(s[0]) / 2;
    const hy =
      Math.abs(f[1]!) * hu + Math.abs(f[5]!) * hv + Math.abs(f[9]!) * hw + Math.abs(s[1]) / 2;
    const hz =
      Math.abs(f[2]!) * hu + Math.abs(f[6]!) * hv + Math.abs(f[10]!) * hw + Math.abs(s[2]) / 2;
    const slides = moves ? s : NO_SLIDES;
    let taken = false;
    const take = (): void => {
      if (!taken) things.take(thing, this.#shape, f, x, y, z);
      taken = true;
    };
    const near = this.#near;
    body.near(cx, cy, cz, hx, hy, hz, this.#wanted, near);
    for (let n = 0; n < near.length; n++) {
      const { hull, from, to } = body.groups[near[n]!]!;
      if (to - from > 1) {
        take();
        body.toGroup(near[n]!, cx, cy, cz, this.#guess);
        const wanted = this.#wanted;
        if (this.#gapTo(hull, slides, wanted) >= wanted) continue;
      }
      for (let i = from; i < to; i++) {
        const wanted = this.#wanted;
        if (body.pieceBound(i, cx, cy, cz, hx, hy, hz, wanted) >= wanted) continue;
        take();
        body.toPiece(i, cx, cy, cz, this.#guess);
        const gap = this.#gapTo(body.pieces[i]!.shape, slides, wanted);
        // More than what was wanted is only a lower bound.
        if (gap >= wanted) continue;
        this.#gap = gap;
        this.#stretch = stretch;
        this.#thing = thing;
        this.#at[0] = this.#prober.at[0]! + x;
        this.#at[1] = this.#prober.at[1]! + y;
        this.#at[2] = this.#prober.at[2]! + z;
      }
    }
  }

  #gapTo(shape: ConvexShape, slides: Float64Array, wanted: number): number {
    this.measured++;
    return this.#prober.distance(shape, undefined, this.#shape, slides, wanted, this.#guess);
  }

  /**
   * A mesh is known by its surface: where nothing crosses the surface and still one is wholly inside the
   * other, a point of each connected part shows it, and the depth is at least the distance from the surface.
   */
  #inside(): void {
    if (this.#gap <= 0) return;
    const within = this.begunInside(this.#ask);
    if (!within) return;
    this.#gap = Math.min(-Number.MIN_VALUE, this.#stretch < 0 ? -this.#ask.within : -this.#gap);
    this.#stretch = 0;
    this.#thing = 0;
    this.#at.set(within);
  }

  /**
   * A point of the one that is inside the other where the path begins, in the body's axes before it is
   * displaced; undefined if there is none, or if neither has an inside beyond its pieces.
   */
  begunInside({
    body,
    path,
    things,
    frame,
  }: Pick<PathQuery, 'body' | 'path' | 'things' | 'frame'>): Vec3 | undefined {
    if (!body.holds && !things.holds) return undefined;
    const start: Vec3 = [path.points[0]!, path.points[1]!, path.points[2]!];
    const there = (things.seeds ?? [this.#firstOf(things)]).map((p) => applyPoint(frame, p));
    return (
      there.find((p) => body.holds?.(sub(p, start))) ??
      body.seeds
        .map((p) => add(p, start))
        .find((p) => things.holds?.(applyPoint(inverse(frame), p)))
    );
  }

  /** A point of the first thing, in the frame of the things. */
  #firstOf(things: Things): Vec3 {
    things.take(0, this.#shape, identity(), 0, 0, 0);
    return pointOf(this.#shape);
  }
}
