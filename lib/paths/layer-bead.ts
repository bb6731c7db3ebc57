/**
 * One bead while a layer is being planned: flat points of the layer plane, before the beads are
 * ordered.
 */
import type { Polygons } from '../polygon/polygons.js';
import { beadArea } from './bead.js';
import type { PathKind } from './paths.js';

export interface Bead {
  readonly kind: PathKind;
  /** Packed x, y, mm. A closed bead does not repeat its first point. */
  readonly xy: Float64Array;
  readonly closed: boolean;
  /** Bead width, mm: one for all, or for the stretch that ends at each point. */
  readonly width: number | Float64Array;
  readonly flow: number;
  /** Beads of one connected piece of the layer are laid together. */
  readonly piece: number;
  /** Inside a piece lower ranks are laid first. */
  readonly rank: number;
  /** Beads of one group (0 or more) are laid one after the other as they stand in the list. */
  readonly group: number;
}

/** A bead's line, before it is known what it is for and where it belongs. */
export type BeadLine = Pick<Bead, 'xy' | 'closed' | 'width' | 'flow'>;

/** In no group. */
export const NO_GROUP = -1;

export const widthAt = (b: Bead, i: number): number =>
  typeof b.width === 'number' ? b.width : b.width[i]!;

/** The same closed bead from another of its points on. */
export function startingAt(b: Bead, first: number): Bead {
  if (first === 0) return b;
  const { width } = b;
  const turn = (values: Float64Array, by: number): Float64Array => {
    const out = new Float64Array(values.length);
    out.set(values.subarray(by));
    out.set(values.subarray(0, by), values.length - by);
    return out;
  };
  return {
    ...b,
    xy: turn(b.xy, 2 * first),
    width: typeof width === 'number' ? width : turn(width, first),
  };
}

/** The same open bead from its other end. */
export function reversed(b: Bead): Bead {
  const n = b.xy.length / 2;
  const xy = new Float64Array(2 * n);
  for (let i = 0; i < n; i++) {
    xy[2 * i] = b.xy[2 * (n - 1 - i)]!;
    xy[2 * i + 1] = b.xy[2 * (n - 1 - i) + 1]!;
  }
  if (typeof b.width === 'number') return { ...b, xy };
  // The stretch that ended at point i ends at the point before it now.
  const width = new Float64Array(n);
  for (let i = 1; i < n; i++) width[i] = b.width[n - i]!;
  width[0] = width[1] ?? b.width[0]!;
  return { ...b, xy, width };
}

/** A loop as a closed bead line. */
export function closedBead(p: Polygons, loop: number, width: number): BeadLine {
  const xy = p.points.slice(2 * p.start[loop]!, 2 * p.start[loop + 1]!);
  return { xy, closed: true, width, flow: 1 };
}

/** Every loop as one. */
export const closedBeads = (p: Polygons, width: number): BeadLine[] =>
  Array.from({ length: p.start.length - 1 }, (_, i) => closedBead(p, i, width));

/** Sum of length x bead section x flow, mm3. */
export function volumeOf(beads: readonly Bead[], height: number): number {
  let sum = 0;
  for (const b of beads) {
    const n = b.xy.length / 2;
    let volume = 0;
    for (let j = b.closed ? 0 : 1; j < n; j++) {
      const i = j > 0 ? j - 1 : n - 1;
      const length = Math.hypot(b.xy[2 * j]! - b.xy[2 * i]!, b.xy[2 * j + 1]! - b.xy[2 * i + 1]!);
      volume += length * beadArea(widthAt(b, j), height);
    }
    sum += volume * b.flow;
  }
  return sum;
}
