/**
 * The beads beside a place of one that was laid while the head turned: square to its way and a width or so off, by how
 * much lower they lie along the head's own axis.
 */
import { type Vec3, add, cross, dot, pointAt, scale, sub, unit } from '../base/vector.js';
import type { LaidPieces } from './laid-pieces.js';
import type { Trace } from './trace.js';

/** A bead beside is so many widths off, and so square to the way: cosine. */
const BESIDE_FROM = 0.55;
const BESIDE_TO = 1.8;
const BESIDE_SQUARE = 0.75;

/** A bead beside another one. */
export interface BesideBead {
  readonly block: number;
  /** How much lower its tip stood, along the head's axis, mm. */
  readonly depth: number;
  /** How far to the left of the way it lies, mm. */
  readonly aside: number;
}

/** How the head stands in the middle of a block. */
export interface BeadPose {
  readonly tip: Vec3;
  readonly head: Vec3;
  /** Unit way of the tip. */
  readonly way: Vec3;
}

export function poseOf({ tip, direction }: Trace, block: number): BeadPose {
  const [from, to] = [pointAt(tip, block - 1), pointAt(tip, block)];
  return {
    tip: scale(add(from, to), 0.5),
    head: unit(add(pointAt(direction, block - 1), pointAt(direction, block))),
    way: unit(sub(to, from)),
  };
}

/**
 * The latest bead on either side of the middle of a block, as far as there are any: those of the own layer come after all
 * others.
 * @param counts whether a bead comes into question
 */
export function besideOf(
  pieces: LaidPieces,
  block: number,
  { tip, head, way }: BeadPose,
  counts: (other: number) => boolean,
): BesideBead[] {
  const left = unit(cross(head, way));
  const width = 2 * pieces.halfWidth(block);
  const sides: (BesideBead | undefined)[] = [undefined, undefined];
  for (const other of pieces.near(tip, BESIDE_TO * width, block)) {
    if (!counts(other)) continue;
    const v = sub(pieces.nearest(other, tip), tip);
    const depth = -dot(v, head);
    const off = Math.sqrt(Math.max(0, dot(v, v) - depth * depth));
    if (off < BESIDE_FROM * width || off > BESIDE_TO * width) continue;
    const aside = dot(v, left);
    if (Math.abs(aside) < BESIDE_SQUARE * off) continue;
    const side = aside > 0 ? 0 : 1;
    if (other < (sides[side]?.block ?? -1)) continue;
    sides[side] = { block: other, depth, aside };
  }
  return sides.filter((s) => s !== undefined);
}
