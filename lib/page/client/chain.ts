/**
 * The path of the tip as a chain of points to draw: the end of every block, or fewer, where equal
 * neighbouring blocks are drawn as one while the view moves on a device that draws slowly.
 */
import { TraceKind } from '../../verify/trace.js';
import type { PageModel } from './model.js';

export interface BeadChain {
  /** Places, part frame, mm: the start and the end of each link. */
  readonly points: Float32Array;
  /** Last block of each link, rising. */
  readonly block: Uint32Array;
  /** Width and height of the bead in steps of STORED_STEP, code of the head's direction, kind; four a link. */
  readonly size: Uint16Array;
}

/** Widths and heights are stored in steps of this, mm. */
export const STORED_STEP = 0.02;
/** How far a link may leave the way in the coarse chain, mm: a quarter of a usual bead's width. */
const COARSE_TOLERANCE = 0.1;

/** One link per block. */
export function fineChain(model: PageModel): BeadChain {
  const block = Uint32Array.from({ length: model.count }, (_, b) => b);
  return { points: model.tips, block, size: sizesOf(model, block) };
}

/** About a quarter of the links, on parts with round walls. */
export function coarseChain(model: PageModel): BeadChain {
  const { tips, count, kind, run, layerOf } = model;
  const ends: number[] = [];
  let start = 0;
  let way = 0;
  for (let b = 0; b < count; b++) {
    const step = between(tips, b, b + 1);
    const b0 = b - 1;
    const same =
      b > start && kind[b] === kind[b0] && run[b] === run[b0] && layerOf[b] === layerOf[b0];
    if (b > start && (!same || sag(way + step, between(tips, start, b + 1)) > COARSE_TOLERANCE)) {
      ends.push(b0);
      start = b;
      way = 0;
    }
    way += step;
  }
  if (count > 0) ends.push(count - 1);
  const block = Uint32Array.from(ends);
  const points = new Float32Array(3 * (block.length + 1));
  points.set(tips.subarray(0, 3));
  block.forEach((b, i) => points.set(tips.subarray(3 * b + 3, 3 * b + 6), 3 * i + 3));
  return { points, block, size: sizesOf(model, block) };
}

/** Height of the arc of this length over its chord; for flat arcs 8 h^2 = 3 L (L - c). */
const sag = (long: number, chord: number): number =>
  Math.sqrt(Math.max(0, (3 / 8) * long * (long - chord)));

function between(tips: Float32Array, a: number, b: number): number {
  const x = tips[3 * b]! - tips[3 * a]!;
  const y = tips[3 * b + 1]! - tips[3 * a + 1]!;
  const z = tips[3 * b + 2]! - tips[3 * a + 2]!;
  return Math.sqrt(x * x + y * y + z * z);
}

function sizesOf(model: PageModel, block: Uint32Array): Uint16Array {
  const { kind, beadHeight, directions } = model;
  const out = new Uint16Array(4 * block.length);
  block.forEach((b, i) => {
    const high = beadHeight[b]!;
    out[4 * i] = Math.round(widthOf(model, b, high) / STORED_STEP);
    out[4 * i + 1] = Math.round(high / STORED_STEP);
    out[4 * i + 2] = directionCode(directions, 3 * b + 3);
    out[4 * i + 3] = kind[b]!;
  });
  return out;
}

/** Steps of a coordinate of the octahedron either way. */
export const OCTAHEDRON_STEPS = 127;

/**
 * A unit direction in 16 bits, to within 0.9 deg and the axes exactly: projected onto an octahedron whose lower half
 * is folded out over the upper one's corners (Meyer et al., On floating-point normal vectors, EGSR 2010, from memory).
 */
export function directionCode(directions: ArrayLike<number>, at: number): number {
  const [x, y, z] = [directions[at]!, directions[at + 1]!, directions[at + 2]!];
  const size = Math.abs(x) + Math.abs(y) + Math.abs(z);
  let [u, v] = [x / size, y / size];
  if (z < 0) [u, v] = [(1 - Math.abs(v)) * sign(u), (1 - Math.abs(u)) * sign(v)];
  const step = (c: number): number => Math.round((c + 1) * OCTAHEDRON_STEPS);
  return 256 * step(u) + step(v);
}

const sign = (x: number): number => (x < 0 ? -1 : 1);

/** Widest bead that is drawn, mm: beyond, a block says something else than what it lays. */
const WIDEST_DRAWN = 3;

/** Of a bead with flat top and bottom and round flanks: area = (w - h) h + pi h^2 / 4. */
function widthOf({ kind, tips, volume }: PageModel, b: number, high: number): number {
  const long = between(tips, b, b + 1);
  if (kind[b] !== TraceKind.deposit || !(high > 0) || !(long > 0)) return 0;
  return Math.min(WIDEST_DRAWN, volume[b]! / long / high + high * (1 - Math.PI / 4));
}
