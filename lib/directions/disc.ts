/**
 * The sphere of build directions as a disc of pixels: Lambert's azimuthal equal-area projection about the
 * table normal (J. H. Lambert, 1772), so that equal solid angles are equal areas. The middle is tilt 0, the
 * rim tilt 180; part +X points to the right, +Y up.
 */
import type { Vec3 } from '../base/vector.js';
import type { DirectionMap } from './direction-map.js';
import { viridis } from '../draw/viridis.js';

/** Place of a unit direction in the disc of radius 1. A direction straight down is put at the top. */
export function onDisc([x, y, z]: Vec3): readonly [number, number] {
  const k = z > -1 + 1e-12 ? 1 / Math.sqrt(2 * (1 + z)) : 0;
  return k > 0 ? [x * k, y * k] : [0, 1];
}

/** Radius in the unit disc of a tilt, rad. */
export const discRadius = (tilt: number): number => Math.sin(tilt / 2);

/** The direction at a place of the unit disc; undefined outside. */
export function fromDisc(u: number, v: number): Vec3 | undefined {
  const r2 = u * u + v * v;
  if (r2 > 1) return undefined;
  const k = 2 * Math.sqrt(1 - r2);
  return [u * k, v * k, 1 - 2 * r2];
}

/** Opacity of unreachable directions, so that they are pale on any background. */
const PALE = 70;

export interface DiscLook {
  /** Side of the square, pixels. */
  readonly size: number;
  /** Area that has the last colour, mm2. */
  readonly most: number;
}

/**
 * RGBA pixels of the map, transparent outside of the disc. Each pixel has the colour of the nearest
 * direction of the map: what is shown is what was measured. The edge of the reach is a black line with
 * a white one around it.
 */
export function drawDisc(
  map: DirectionMap,
  canReach: (d: Vec3) => boolean,
  { size, most }: DiscLook,
): Uint8Array {
  const reach = reachOf(canReach, size);
  const out = new Uint8Array(4 * size * size);
  const nearest = nearestIn(map.directions);
  for (let j = 0; j < size; j++) {
    for (let i = 0; i < size; i++) {
      const at = j * size + i;
      const d = pixel(i, j, size);
      if (!d) continue;
      const colour = viridis(map.areas[nearest(d)]! / most);
      out.set([...colour, reach[at] ? 255 : PALE], 4 * at);
    }
  }
  drawEdge(out, reach, size);
  return out;
}

const pixel = (i: number, j: number, size: number): Vec3 | undefined =>
  fromDisc((2 * i + 1) / size - 1, 1 - (2 * j + 1) / size);

/** Side of the blocks whose corners are evaluated first, pixels. */
const PIXEL_BLOCK = 4;

/**
 * For each pixel 1 in reach, 0 out of it, -1 outside of the disc. The inverse is solved at each pixel of
 * a block only where its corners differ, which makes a page 8 times faster.
 */
function reachOf(canReach: (d: Vec3) => boolean, size: number): Int8Array {
  const reach = new Int8Array(size * size).fill(-2);
  const ask = (i: number, j: number): number => {
    const at = j * size + i;
    if (reach[at]! > -2) return reach[at]!;
    const d = pixel(i, j, size);
    return (reach[at] = d ? (canReach(d) ? 1 : 0) : -1);
  };
  for (let y = 0; y < size; y += PIXEL_BLOCK) {
    for (let x = 0; x < size; x += PIXEL_BLOCK) {
      const [right, low] = [
        Math.min(size - 1, x + PIXEL_BLOCK),
        Math.min(size - 1, y + PIXEL_BLOCK),
      ];
      const corner = ask(x, y);
      const even = [ask(right, y), ask(x, low), ask(right, low)].every((c) => c === corner);
      for (let j = y; j <= low; j++) {
        for (let i = x; i <= right; i++) {
          if (even && corner >= 0) reach[j * size + i] = corner;
          else ask(i, j);
        }
      }
    }
  }
  return reach;
}

/** Half width of the line along the edge of the reach, and of its white rim, pixels. */
const EDGE_LINE = 1.5;
const EDGE_RIM = 3;

function drawEdge(out: Uint8Array, reach: Int8Array, size: number): void {
  const edges: number[] = [];
  for (let at = 0; at < reach.length; at++) {
    if (reach[at] !== 1) continue;
    if ([at - 1, at + 1, at - size, at + size].some((n) => reach[n] === 0)) edges.push(at);
  }
  for (const [width, value] of [
    [EDGE_RIM, 255],
    [EDGE_LINE, 0],
  ] as const) {
    for (const at of edges) spot(out, size, at % size, Math.floor(at / size), width, value);
  }
}

/** A filled circle of grey on RGBA pixels, opaque. */
export function spot(
  out: Uint8Array,
  size: number,
  x: number,
  y: number,
  radius: number,
  value: number,
): void {
  const r = Math.ceil(radius);
  for (let j = Math.max(0, Math.floor(y) - r); j <= Math.min(size - 1, y + r); j++) {
    for (let i = Math.max(0, Math.floor(x) - r); i <= Math.min(size - 1, x + r); i++) {
      if (Math.hypot(i - x, j - y) > radius) continue;
      out.set([value, value, value, 255], 4 * (j * size + i));
    }
  }
}

/**
 * Index of the nearest direction. Even directions come sorted by height, so only those whose height
 * is near enough can be nearer than the best so far, which is at first the answer for the pixel before.
 */
function nearestIn(directions: readonly Vec3[]): (d: Vec3) => number {
  const count = directions.length;
  let best = 0;
  return (d) => {
    const middle = Math.max(0, Math.min(count - 1, Math.floor(((1 - d[2]) * count) / 2)));
    let most = along(d, directions[best]!);
    for (const by of [-1, 1]) {
      for (let i = by < 0 ? middle : middle + 1; i >= 0 && i < count; i += by) {
        const e = directions[i]!;
        // Two directions whose heights differ by h are at least a chord of h apart.
        const h = (d[2] - e[2]) * by;
        if (h > 0 && h * h > 2 - 2 * most) break;
        const here = along(d, e);
        if (here > most) [best, most] = [i, here];
      }
    }
    return best;
  };
}

const along = (a: Vec3, b: Vec3): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
