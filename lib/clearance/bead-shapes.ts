/**
 * The beads of a region as convex shapes for distance queries: one shape for every stretch that is laid, in
 * printing order, in the frame of its paths. The cross-section of a bead is a stadium: a flat of width - height,
 * rounded by half the height on either side, its top at the nozzle tip. Ends are square flats of the same
 * width, which contain the round end that is laid and at most a fifth of the width more at two corners. Flats lie
 * square to Z, or, in curved layers, to the growth halfway along their stretch.
 */
import type { Frame } from '../base/frame.js';
import type { Plane } from '../base/mesh.js';
import { float64List, uint32List } from '../base/ragged.js';
import { type Vec3, add, dot, length, pointAt, square, sub, unit } from '../base/vector.js';
import type { Paths } from '../paths/paths.js';
import type { Things } from './body.js';
import { type Bars, type HeightMap, heightMapOf } from './height-map.js';
import type { Scratch } from './convex/support-shape.js';
import { simplifiedChain } from './convex/simplify-chain.js';
import { PrefixTree } from './convex/prefix-tree.js';
import { spatialOrder } from './convex/spatial-order.js';

/** Numbers per bead: middle line from xyz to xyz, half the flat, half the height. */
const BEAD_NUMBERS = 8;

/** The data of beads: the record that crosses a thread. */
export interface BeadData {
  readonly data: Float64Array;
  /** Path of each bead. */
  readonly path: Uint32Array;
  /** Unit normal of each bead's flat, packed xyz; left out: Z. */
  readonly normals?: Float64Array;
  readonly boxes: Float64Array;
  readonly tree: Pick<PrefixTree, 'levels'>;
}

export class BeadShapes implements Things, BeadData {
  readonly tree: PrefixTree;
  readonly boxes: Float64Array;
  readonly path: Uint32Array;
  readonly data: Float64Array;
  readonly normals?: Float64Array;

  constructor({
    data,
    path,
    normals,
    boxes,
    tree,
  }: Pick<BeadData, 'data' | 'path'> & Partial<BeadData>) {
    this.data = data;
    this.path = path;
    if (normals) this.normals = normals;
    this.boxes = boxes ?? boxesOf(data, normals ? 3 : 2);
    this.tree = tree instanceof PrefixTree ? tree : new PrefixTree(this.boxes, tree?.levels);
  }

  /** The first beads in the order of space, of which each knows when it is laid. */
  inSpace(count: number): BeadShapes {
    const order = spatialOrder(this.boxes, count);
    const picked = (from: Float64Array, size: number): Float64Array => {
      const out = new Float64Array(size * count);
      order.forEach((i, k) => out.set(from.subarray(size * i, size * (i + 1)), size * k));
      return out;
    };
    const boxes = picked(this.boxes, 6);
    return new BeadShapes({
      data: picked(this.data, BEAD_NUMBERS),
      path: order.map((i) => this.path[i]!),
      ...(this.normals && { normals: picked(this.normals, 3) }),
      boxes,
      tree: new PrefixTree(boxes, undefined, order),
    });
  }

  get count(): number {
    return this.path.length;
  }

  /**
   * Beads under a plane of layer space, and beads beside it: a bead that ends on the plane, its
   * middle no more than half its height over it, lies under it.
   */
  parted({ point, normal }: Plane): { readonly under: BeadShapes; readonly beside: BeadShapes } {
    const d = this.data;
    const offset = dot(point, normal);
    const over = (at: number): number =>
      d[at]! * normal[0] + d[at + 1]! * normal[1] + d[at + 2]! * normal[2] - offset;
    const under = Uint8Array.from(this.path, (_, i) => {
      const at = BEAD_NUMBERS * i;
      return Math.max(over(at), over(at + 3)) <= d[at + 7]! ? 1 : 0;
    });
    if (!under.includes(0)) return { under: this, beside: this.#those(under, 0) };
    if (!under.includes(1)) return { under: this.#those(under, 1), beside: this };
    return { under: this.#those(under, 1), beside: this.#those(under, 0) };
  }

  /** The beads with a given flag. */
  #those(flags: Uint8Array, flag: 0 | 1): BeadShapes {
    const data = float64List(1024);
    const path = uint32List(256);
    const normals = this.normals && float64List(256);
    flags.forEach((f, i) => {
      if (f !== flag) return;
      for (let c = 0; c < BEAD_NUMBERS; c++) data.push(this.data[BEAD_NUMBERS * i + c]!);
      path.push(this.path[i]!);
      normals?.push3(...pointAt(this.normals!, i));
    });
    return new BeadShapes({
      data: data.take(),
      path: path.take(),
      ...(normals && { normals: normals.take() }),
    });
  }

  /** The first beads, up to number `until`, as they stand in other axes. */
  heightMap(f: Frame, until: number): HeightMap {
    const d = this.data;
    const top = this.tree.levels.at(-1)!;
    const box = [0, 1, 2].map((c) => {
      const along = (k: number, v: number): number => f[4 * k + c]! * v;
      const middle = along(0, top[0]!) + along(1, top[1]!) + along(2, top[2]!) + f[12 + c]!;
      const half = [0, 1, 2].reduce((sum, k) => sum + Math.abs(along(k, top[3 + k]!)), 0);
      return [middle - half, middle + half] as const;
    });
    // How far a flat reaches along each axis of the body, whichever way it lies in its layer.
    const lying = [0, 1, 2].map(
      (c) => Math.SQRT2 * (this.normals ? 1 : Math.hypot(f[c]!, f[4 + c]!)),
    );
    const bar = new Float64Array(9);
    const bars: Bars = (each) => {
      for (let at = 0; at < BEAD_NUMBERS * until; at += BEAD_NUMBERS) {
        for (let c = 0; c < 3; c++) {
          for (const k of [0, 3]) {
            const [x, y, z] = [d[at + k]!, d[at + k + 1]!, d[at + k + 2]!];
            bar[k + c] = f[c]! * x + f[4 + c]! * y + f[8 + c]! * z + f[12 + c]!;
          }
          bar[6 + c] = d[at + 7]! + d[at + 6]! * lying[c]!;
        }
        each(bar);
      }
    };
    return heightMapOf(bars, [...box.map(([low]) => low), ...box.map(([, high]) => high)]);
  }

  take(i: number, out: Scratch, f: Frame, x: number, y: number, z: number): void {
    const d = this.data;
    const at = BEAD_NUMBERS * i;
    const [x0, y0, z0] = [d[at]!, d[at + 1]!, d[at + 2]!];
    const [x1, y1, z1] = [d[at + 3]!, d[at + 4]!, d[at + 5]!];
    const flat = d[at + 6]!;
    const p = out.room(12);
    out.rings = NO_RINGS;
    out.margin = d[at + 7]!;
    if (this.normals) {
      const [nx, ny, nz] = [
        this.normals[3 * i]!,
        this.normals[3 * i + 1]!,
        this.normals[3 * i + 2]!,
      ];
      let [tx, ty, tz] = [x1 - x0, y1 - y0, z1 - z0];
      let far = Math.sqrt(tx * tx + ty * ty + tz * tz);
      // A bead of no length lies any way in its flat.
      if (!(far > 0)) [tx, ty, tz, far] = [...square([nx, ny, nz]), 1];
      const k = flat / far;
      const [ux, uy, uz] = [k * tx, k * ty, k * tz];
      const [vx, vy, vz] = [ny * uz - nz * uy, nz * ux - nx * uz, nx * uy - ny * ux];
      set(f, p, 0, x0 - ux - vx, y0 - uy - vy, z0 - uz - vz, x, y, z);
      set(f, p, 3, x0 - ux + vx, y0 - uy + vy, z0 - uz + vz, x, y, z);
      set(f, p, 6, x1 + ux + vx, y1 + uy + vy, z1 + uz + vz, x, y, z);
      set(f, p, 9, x1 + ux - vx, y1 + uy - vy, z1 + uz - vz, x, y, z);
      return;
    }
    const far = Math.sqrt((x1 - x0) ** 2 + (y1 - y0) ** 2);
    const k = far > 0 ? flat / far : 0;
    const [ux, uy] = k > 0 ? [k * (x1 - x0), k * (y1 - y0)] : [flat, 0];
    set(f, p, 0, x0 - ux - uy, y0 - uy + ux, z0, x, y, z);
    set(f, p, 3, x0 - ux + uy, y0 - uy - ux, z0, x, y, z);
    set(f, p, 6, x1 + ux - uy, y1 + uy + ux, z1, x, y, z);
    set(f, p, 9, x1 + ux + uy, y1 + uy - ux, z1, x, y, z);
  }
}

const NO_RINGS = new Float64Array(0);

/** @param lying axes along which flats reach out: x and y, or all three where they lie anyhow */
function boxesOf(data: Float64Array, lying: 2 | 3): Float64Array {
  const boxes = new Float64Array((data.length / BEAD_NUMBERS) * 6);
  for (let i = 0, at = 0; i < data.length; i += BEAD_NUMBERS, at += 6) {
    const round = data[i + 7]!;
    for (let c = 0; c < 3; c++) {
      const [a, b] = [data[i + c]!, data[i + 3 + c]!];
      // The square ends reach out by root 2 of the flat at most.
      const swell = c < lying ? round + data[i + 6]! * Math.SQRT2 : round;
      boxes[at + c] = (a + b) / 2;
      boxes[at + 3 + c] = Math.abs(a - b) / 2 + swell;
    }
  }
  return boxes;
}

function set(
  f: Frame,
  out: Float64Array,
  at: number,
  a: number,
  b: number,
  c: number,
  x: number,
  y: number,
  z: number,
): void {
  out[at] = f[0]! * a + f[4]! * b + f[8]! * c + f[12]! - x;
  out[at + 1] = f[1]! * a + f[5]! * b + f[9]! * c + f[13]! - y;
  out[at + 2] = f[2]! * a + f[6]! * b + f[10]! * c + f[14]! - z;
}

const UP: Vec3 = [0, 0, 1];
/** Share of the tolerance by which a flat may turn at its edge within one bead. */
const TURN_SHARE = 0.1;
/** Longer stretches are divided into several beads: the same body in smaller boxes, mm. */
const LONGEST_BEAD = 3;

/** Tolerance of the beads that a first, rough query asks, far less than any clearance, mm. */
export const ROUGH_BEADS = 0.02;

/**
 * One bead for every stretch of every path.
 * @param tolerance stretches that are straight to within this and alike in section to within as much
 *   are one bead that holds them all, up to the tolerance, mm
 */
export function beadsOf(paths: Paths, tolerance = 0): BeadShapes {
  const { points: p, width, height, start, directions } = paths;
  const count = Math.max(0, start.length - 1);
  const data = float64List(4096);
  const path = uint32List(1024);
  const normals = directions && float64List(1024);
  const upAt = (k: number): Vec3 => (directions ? pointAt(directions, k) : UP);
  for (let i = 0; i < count; i++) {
    const alike = (k: number): boolean =>
      Math.abs(width[k]! - width[k - 1]!) <= tolerance &&
      Math.abs(height[k]! - height[k - 1]!) <= tolerance &&
      (!directions || length(sub(upAt(k), upAt(k - 1))) * width[k]! <= TURN_SHARE * tolerance);
    const [from, to] = [start[i]!, start[i + 1]!];
    const kept =
      tolerance > 0
        ? simplifiedChain(p, from, to, tolerance, (k) => k - 1 === from || alike(k))
        : Array.from({ length: to - from }, (_, k) => from + k);
    for (let n = 1; n < kept.length; n++) {
      const [a, b] = [kept[n - 1]!, kept[n]!];
      let [w, h] = [0, 0];
      for (let k = a + 1; k <= b; k++) {
        w = Math.max(w, width[k]!);
        h = Math.max(h, height[k]!);
      }
      const round = Math.min(w, h) / 2;
      const up = directions ? unit(add(upAt(a), upAt(b))) : UP;
      const by = sub(pointAt(p, b), pointAt(p, a));
      const parts = Math.max(1, Math.ceil(length(by) / LONGEST_BEAD));
      const at = (c: 0 | 1 | 2, k: number): number =>
        p[3 * a + c]! + (by[c] * k) / parts - (up[c] * h) / 2;
      for (let k = 0; k < parts; k++) {
        data.push3(at(0, k), at(1, k), at(2, k));
        data.push3(at(0, k + 1), at(1, k + 1), at(2, k + 1));
        data.push2(Math.max(0, w / 2 - round), round);
        path.push(i);
        normals?.push3(...up);
      }
    }
  }
  return new BeadShapes({
    data: data.take(),
    path: path.take(),
    ...(normals && { normals: normals.take() }),
  });
}
