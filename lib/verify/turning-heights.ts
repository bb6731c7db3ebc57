/**
 * How high each bead is that was laid while the head turned. There are no levels whose steps could be taken, so from
 * places on the bead's upper side the head's own axis is followed down to what was laid there before, or to the table.
 * Beads beside it in its own layer are met at once, near the tip, and do not count. Where nothing lies below, or the
 * metered material could not reach down to it, the strand hangs and is as high as the bead before.
 */
import { type Vec3, cross } from '../base/vector.js';
import { LaidPieces, lays } from './laid-pieces.js';
import type { Trace } from './trace.js';

/** What lies nearer under the tip, mm and as a share of the height of the bead before, is of the bead's own layer. */
const OWN_LAYER = 0.05;
const OWN_SHARE = 0.35;
/** What lies deeper is not under the bead, bores. */
const DEEPEST = 1.5;
/** Nor is that of the bead itself which was laid on the last of its way, mm: a block that dips would carry the next one. */
const OWN_WAY = 2;
/** Places across a bead, in bores, and how far apart they are along it, mm. */
const ACROSS = [-0.3, 0, 0.3] as const;
const ALONG = 1;
/** A place this far beside a strip still lies on it, mm. */
const ON_STRIP = 0.02;
/** A bead that is this much higher than the one before must have the material for it. */
const MUCH_HIGHER = 1.4;

/** What lies under the beads of turning runs. */
export interface TurningHeights {
  /** All that is laid, searchable. */
  readonly pieces: LaidPieces;
  /** Of each block the one that its bead lies over, or ON_TABLE, or NOTHING. */
  readonly under: Int32Array;
  /** Of each block how deep that is under its tip, mm; NaN for nothing. */
  readonly depth: Float64Array;
}

export const NOTHING = -1;
export const ON_TABLE = -2;

/**
 * Fills in the heights of turning runs.
 * @param height of each block; those of all other runs are known
 * @param usual the height of a bead of which nothing else is known, mm
 */
export function turningHeights(
  trace: Trace,
  height: Float64Array,
  usual: number,
  bore: number,
): TurningHeights {
  const pieces = new LaidPieces(trace, height);
  const under = new Int32Array(height.length).fill(NOTHING);
  const depth = new Float64Array(height.length).fill(NaN);
  let before = usual;
  for (let b = 1; b < trace.kind.length; b++) {
    if (!lays(trace, b)) continue;
    if (trace.turning[trace.run[b]!] === 1) {
      const own = Math.max(OWN_LAYER, OWN_SHARE * before);
      const [found, block] = heightUnder(trace, pieces, b, bore, own);
      under[b] = block;
      depth[b] = found;
      const section = trace.volume[b]! / trace.length[b]!;
      const reaches = found <= MUCH_HIGHER * before || section >= found * found;
      height[b] = found > 0 && reaches ? found : before;
      before = height[b]!;
    }
    pieces.add(b);
  }
  return { pieces, under, depth };
}

/** Median over places of a bead of the way down to what lies under them, mm, and what that is. */
function heightUnder(
  trace: Trace,
  pieces: LaidPieces,
  b: number,
  bore: number,
  own: number,
): readonly [number, number] {
  const { tip, direction, length } = trace;
  const before = begun(trace, b);
  const count = Math.max(1, Math.round(length[b]! / ALONG));
  const found: [number, number][] = [];
  for (let n = 0; n < count; n++) {
    const t = (n + 0.5) / count;
    const at = (of: Float64Array, c: number): number =>
      of[3 * b - 3 + c]! + t * (of[3 * b + c]! - of[3 * b - 3 + c]!);
    const p = [0, 1, 2].map((c) => at(tip, c)) as unknown as Vec3;
    const d = [0, 1, 2].map((c) => at(direction, c)) as unknown as Vec3;
    const along = [0, 1, 2].map((c) => tip[3 * b + c]! - tip[3 * b - 3 + c]!) as unknown as Vec3;
    const side = cross(d, along);
    const near = pieces.near(p, DEEPEST * bore, before);
    for (const share of ACROSS) {
      const off = (share * bore) / length[b]!;
      const q: Vec3 = [p[0] + off * side[0], p[1] + off * side[1], p[2] + off * side[2]];
      let least = d[2] > 0 ? q[2] / d[2] : Infinity;
      let which = ON_TABLE;
      for (const block of near) {
        const strip = pieces.below(block, q, d, [own, least]);
        if (!strip || strip.aside > ON_STRIP) continue;
        if (strip.depth > own && strip.depth < least) [least, which] = [strip.depth, block];
      }
      if (least <= DEEPEST * bore) found.push([least, which]);
    }
  }
  found.sort(([x], [y]) => x - y);
  return found[found.length >> 1] ?? [NaN, NOTHING];
}

/** The first block of the last of a bead's way up to a block. */
function begun(trace: Trace, b: number): number {
  let first = b;
  for (let way = 0; way < OWN_WAY && lays(trace, first - 1); first--)
    way += trace.length[first - 1]!;
  return first;
}
