/**
 * Two points of a layer and the region in which the nozzle may go without material; the way from one
 * to the other inside it comes out: straight where that stays inside, otherwise along the loops that
 * are in the way, each the shorter way round, pulled tight; or none if the way is too long.
 */
import type { List } from '../base/ragged.js';
import { float64List } from '../base/ragged.js';
import { type EdgeGrid, contains, crosses, hitsOf } from './grid.js';

/**
 * @param limit longest way, mm
 * @returns way points between the two, packed x, y; undefined if there is no way inside
 */
export function linkInside(
  g: EdgeGrid,
  ax: number,
  ay: number,
  bx: number,
  by: number,
  limit: number,
): Float64Array | undefined {
  if (Math.hypot(bx - ax, by - ay) > limit) return undefined;
  if (!crosses(g, ax, ay, bx, by)) {
    // What crosses nothing is inside as a whole or outside as a whole.
    return contains(g, (ax + bx) / 2, (ay + by) / 2) ? new Float64Array(0) : undefined;
  }
  const way = aroundLoops(g, ax, ay, bx, by, limit);
  if (!way) return undefined;
  const tight = pulled(g, way);
  if (lengthOf(tight) > limit) return undefined;
  return tight.slice(2, tight.length - 2);
}

/** The straight way with each loop in between walked around, or undefined if that is too long. */
function aroundLoops(
  g: EdgeGrid,
  ax: number,
  ay: number,
  bx: number,
  by: number,
  limit: number,
): Float64Array | undefined {
  const hits = hitsOf(g, ax, ay, bx, by);
  const way = float64List();
  way.push2(ax, ay);
  let length = 0;
  for (let i = 0; i < hits.length;) {
    const loop = g.loopOf[hits[i]!.edge]!;
    let last = hits.length - 1;
    while (g.loopOf[hits[last]!.edge] !== loop) last--;
    // A loop that is met only once has an end of the way on its other side: no way inside.
    if (last === i) return undefined;
    const from = hits[i]!;
    const to = hits[last]!;
    way.push2(ax + from.t * (bx - ax), ay + from.t * (by - ay));
    length += walkLoop(g, loop, from.edge, to.edge, way);
    if (length > limit * 2) return undefined;
    way.push2(ax + to.t * (bx - ax), ay + to.t * (by - ay));
    i = last + 1;
  }
  way.push2(bx, by);
  return way.take();
}

/** Adds the points of a loop between two of its edges, the shorter way; gives its length. */
function walkLoop(
  g: EdgeGrid,
  loop: number,
  from: number,
  to: number,
  way: List<Float64Array>,
): number {
  const a = g.p.start[loop]!;
  const n = g.p.start[loop + 1]! - a;
  const ahead = (((to - from) % n) + n) % n;
  const at = (i: number): number => a + ((((i - a) % n) + n) % n);
  const length = (first: number, count: number, step: number): number => {
    let sum = 0;
    for (let i = 0; i + 1 < count; i++) {
      const p = 2 * at(first + step * i);
      const q = 2 * at(first + step * (i + 1));
      sum += Math.hypot(g.p.points[q]! - g.p.points[p]!, g.p.points[q + 1]! - g.p.points[p + 1]!);
    }
    return sum;
  };
  const forward = length(from + 1, ahead, 1);
  const backward = length(from, n - ahead, -1);
  const [first, count, step] = forward <= backward ? [from + 1, ahead, 1] : [from, n - ahead, -1];
  for (let i = 0; i < count; i++) {
    const p = 2 * at(first + step * i);
    way.push2(g.p.points[p]!, g.p.points[p + 1]!);
  }
  return Math.min(forward, backward);
}

/** How far a tightened way stays from the loops, as a share of each step towards the next point. */
const KEEP = 1e-3;

/**
 * Leaves out way points wherever the straight way between two others stays inside. Looks ahead by
 * doubling steps, so a way of n points takes about n log n looks.
 */
function pulled(g: EdgeGrid, way: Float64Array): Float64Array {
  const n = way.length / 2;
  const out = float64List(way.length);
  out.push2(way[0]!, way[1]!);
  for (let i = 0; i < n - 1;) {
    let next = i + 1;
    for (let step = 2; i + step < n + step / 2; step *= 2) {
      const j = Math.min(n - 1, i + step);
      if (j <= next || !clear(g, way, i, j)) break;
      next = j;
    }
    out.push2(way[2 * next]!, way[2 * next + 1]!);
    i = next;
  }
  return out.take();
}

/**
 * Ends of the way may lie on a loop, so the look is taken a little inside the step; and a chord
 * between two points of a hole crosses nothing yet lies outside, so its middle is asked too.
 */
function clear(g: EdgeGrid, way: Float64Array, i: number, j: number): boolean {
  const ax = way[2 * i]!;
  const ay = way[2 * i + 1]!;
  const bx = way[2 * j]!;
  const by = way[2 * j + 1]!;
  const dx = KEEP * (bx - ax);
  const dy = KEEP * (by - ay);
  return (
    contains(g, (ax + bx) / 2, (ay + by) / 2) && !crosses(g, ax + dx, ay + dy, bx - dx, by - dy)
  );
}

function lengthOf(way: Float64Array): number {
  let sum = 0;
  for (let i = 2; i < way.length; i += 2) {
    sum += Math.hypot(way[i]! - way[i - 2]!, way[i + 1]! - way[i - 1]!);
  }
  return sum;
}
