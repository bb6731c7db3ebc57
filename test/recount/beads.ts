/**
 * What a program lays, as beads in the part's frame: for each block that moves and feeds, the way of the
 * tip over the table in pieces so short that each is straight and keeps its axis, by forward kinematics at
 * both ends and halfway, the joints moving evenly. A piece has its own axis at both ends, so nothing here
 * asks whether the head turns.
 *
 * A bead's height is not in the text (heights.ts). Its section is the metered volume over the length; its
 * width is section over height where areas are counted. Millimetres, part's frame.
 */
import type { File, Vec } from './chain.js';
import { type Moves, Tip } from './program.js';

/** Pieces of beads in the order in which they are laid. */
export interface Beads {
  readonly count: number;
  /** Where the tip is at the two ends of each piece, packed; and unit directions up the head there. */
  readonly tip: Float64Array;
  readonly up: Float64Array;
  readonly length: Float64Array;
  /** Metered, mm3. */
  readonly volume: Float64Array;
  readonly block: Uint32Array;
  /** Filled in by heights.ts, mm. */
  readonly height: Float64Array;
  /** Greatest distance of the tip's way from the straight line between the ends of its block. */
  readonly bow: number;
}

/** A piece leaves the way of the tip by no more than this, mm, and its axis by no more than this, rad. */
const CHORD = 0.002;
const AXIS = 0.005;
/** Shorter blocks lay no bead, mm. */
const STANDS = 1e-6;

interface Stand {
  readonly tip: Vec;
  readonly up: Vec;
}

export function beadsOf(file: File, moves: Moves): Beads {
  const { jointCount: n, joints, from, filament, line } = moves;
  const tip = new Tip(file);
  const wire = (Math.PI / 4) * file.filament.diameter ** 2;
  const out = { tip: [] as number[], up: [] as number[], length: [] as number[] };
  const [volume, block] = [[] as number[], [] as number[]];
  let bow = 0;
  for (let b = 0; b < line.length; b++) {
    if (!(filament[b]! > 0)) continue;
    const before = b ? joints.subarray(n * b - n, n * b) : from;
    const to = joints.subarray(n * b, n * b + n);
    const at = (t: number): Stand => tip.over(to.map((v, j) => before[j]! + t * (v - before[j]!)));
    const stands = piecesOf(at);
    const [first, last] = [stands[0]!, stands.at(-1)!];
    const lengths = stands.slice(1).map((s, k) => distance(s.tip, stands[k]!.tip));
    const size = lengths.reduce((sum, x) => sum + x, 0);
    if (size < STANDS) continue;
    bow = Math.max(bow, ...stands.map((s) => offLine(s.tip, first.tip, last.tip)));
    lengths.forEach((length, k) => {
      if (length < STANDS) return;
      out.tip.push(...stands[k]!.tip, ...stands[k + 1]!.tip);
      out.up.push(...stands[k]!.up, ...stands[k + 1]!.up);
      out.length.push(length);
      volume.push((filament[b]! * wire * length) / size);
      block.push(b);
    });
  }
  return {
    count: block.length,
    tip: Float64Array.from(out.tip),
    up: Float64Array.from(out.up),
    length: Float64Array.from(out.length),
    volume: Float64Array.from(volume),
    block: Uint32Array.from(block),
    height: new Float64Array(block.length),
    bow,
  };
}

/** Stands along a block, halved until the way between two of them is straight. */
function piecesOf(at: (t: number) => Stand): Stand[] {
  const out = [at(0)];
  const down = (from: number, a: Stand, to: number, b: Stand, deep: number): void => {
    const middle = at((from + to) / 2);
    const off = offLine(middle.tip, a.tip, b.tip);
    // Half of the turn from one end to the other is left on either side of the middle.
    const turned = distance(a.up, b.up) / 2;
    if (deep > 12 || (off < CHORD && turned < AXIS)) {
      out.push(b);
      return;
    }
    down(from, a, (from + to) / 2, middle, deep + 1);
    down((from + to) / 2, middle, to, b, deep + 1);
  };
  down(0, out[0]!, 1, at(1), 0);
  return out;
}

/** Distance of a place from the straight line between two others, ends included. */
export function offLine(p: Vec, a: Vec, b: Vec): number {
  const [d, e] = [minus(b, a), minus(p, a)];
  const size = dot(d, d);
  const t = size > 0 ? Math.min(1, Math.max(0, dot(e, d) / size)) : 0;
  return Math.hypot(e[0] - t * d[0], e[1] - t * d[1], e[2] - t * d[2]);
}

export interface Frame {
  readonly along: Vec;
  readonly across: Vec;
  readonly up: Vec;
}

/** Unit vectors of piece i halfway: along it, to its left seen from above, up the head square to both. */
export function frameOf({ tip, up, length }: Beads, i: number): Frame {
  const at = 6 * i;
  const along = [0, 1, 2].map(
    (c) => (tip[at + 3 + c]! - tip[at + c]!) / length[i]!,
  ) as never as Vec;
  const mean = unit([0, 1, 2].map((c) => up[at + c]! + up[at + 3 + c]!) as never as Vec);
  const across = unit(cross(mean, along));
  return { along, across, up: mean };
}

export const middleOf = ({ tip }: Beads, i: number): Vec =>
  [0, 1, 2].map((c) => (tip[6 * i + c]! + tip[6 * i + 3 + c]!) / 2) as never as Vec;

export const minus = (a: Vec, b: Vec): Vec => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
export const dot = (a: Vec, b: Vec): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
export const cross = (a: Vec, b: Vec): Vec => [
  a[1] * b[2] - a[2] * b[1],
  a[2] * b[0] - a[0] * b[2],
  a[0] * b[1] - a[1] * b[0],
];
export const distance = (a: Vec, b: Vec): number => Math.hypot(...minus(a, b));
export function unit(a: Vec): Vec {
  const size = Math.hypot(...a);
  return [a[0] / size, a[1] / size, a[2] / size];
}
/** p + x a + y b + z c. */
export const shifted = (p: Vec, x: number, a: Vec, y: number, b: Vec, z: number, c: Vec): Vec => [
  p[0] + x * a[0] + y * b[0] + z * c[0],
  p[1] + x * a[1] + y * b[1] + z * c[1],
  p[2] + x * a[2] + y * b[2] + z * c[2],
];
