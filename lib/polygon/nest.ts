/**
 * Nesting of loops that do not cross: outer loops at even depth, holes at odd depth, islands in holes
 * at even depth again.
 *
 * Each loop looks left from its leftmost point. The nearest edge there belongs to the loop that holds
 * it or to a neighbour in the same surroundings, and the edge's direction tells which. Loops are taken
 * by their leftmost points, so that neighbour is already placed. Linear in loops times the depth of the
 * index's tree.
 */
import { type Polygons, loopArea } from './polygons.js';
import { ChainIndex } from './chains.js';

export interface Nest {
  /** For each loop the number of the loop around it, counted in `p`, or -1. */
  readonly parent: Int32Array;
  /** 0 for outermost loops. */
  readonly depth: Uint32Array;
}

/**
 * The nest of loops `from .. to` (exclusive) of p; row i of the result is loop from + i. Loops may
 * run either way round; they may touch but not cross.
 */
export function nest(p: Polygons, from = 0, to = p.start.length - 1): Nest {
  return nestOn(new ChainIndex(p, from, to), p, from, to);
}

/** As `nest`, on an index that is there already. */
export function nestOn(index: ChainIndex, p: Polygons, from: number, to: number): Nest {
  const parent = new Int32Array(to - from).fill(-1);
  const depth = new Uint32Array(to - from);
  if (to - from < 2) return { parent, depth };
  const left = Array.from({ length: to - from }, (_, i) => leftmost(p, from + i));
  const order = left
    .map((_, i) => i)
    .sort((a, b) => p.points[2 * left[a]!]! - p.points[2 * left[b]!]! || a - b);
  for (const i of order) {
    const at = 2 * left[i]!;
    const hit = index.leftOf(p.points[at]!, p.points[at + 1]!, from + i);
    if (!hit) continue;
    // To the right of an edge that runs down lies the inside of a counter-clockwise loop.
    const inside = loopArea(p, hit.loop) > 0 !== hit.up;
    parent[i] = inside ? hit.loop : parent[hit.loop - from]!;
    depth[i] = parent[i]! < 0 ? 0 : depth[parent[i]! - from]! + 1;
  }
  return { parent, depth };
}

function leftmost(p: Polygons, loop: number): number {
  let best = p.start[loop]!;
  for (let i = best + 1; i < p.start[loop + 1]!; i++) {
    if (p.points[2 * i]! < p.points[2 * best]!) best = i;
  }
  return best;
}
