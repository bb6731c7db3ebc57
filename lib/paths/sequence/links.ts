/**
 * A short way between two points of a layer inside the area where the nozzle may go without
 * material: straight where that stays inside, otherwise along the loops in between, each the shorter
 * way round, pulled tight; none if that is too long.
 */
import type { List } from '../../base/ragged.js';
import { float64List } from '../../base/ragged.js';
import { type EdgeGrid, contains, crosses, hitsOf } from '../../polygon/edge-grid.js';
import { lineLength } from '../../polygon/loops.js';

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
  const straight = Math.hypot(bx - ax, by - ay);
  let best: Float64Array | undefined;
  let least = limit;
  // The way that is shorter along the edge is not always the shorter one once pulled tight.
  for (const side of [SHORTER, LONGER]) {
    const way = aroundLoops(g, ax, ay, bx, by, side, 4 * limit);
    if (!way) continue;
    const tight = pulled(g, way);
    const length = lineLength(tight);
    if (length <= least) {
      least = length;
      best = tight.slice(2, tight.length - 2);
    }
    if (length < NEARLY * straight) break;
  }
  return best;
}

const SHORTER = 0;
const LONGER = 1;
/** A way around that is longer than straight by no more than this factor is not improved. */
const NEARLY = 1.3;

/**
 * The straight way with each loop in between walked around, or undefined if that is longer than the
 * limit, mm (pulling tight shortens a way, but hardly to a quarter).
 */
function aroundLoops(
  g: EdgeGrid,
  ax: number,
  ay: number,
  bx: number,
  by: number,
  side: number,
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
    const enter: LinkPoint = [ax + from.t * (bx - ax), ay + from.t * (by - ay)];
    const leave: LinkPoint = [ax + to.t * (bx - ax), ay + to.t * (by - ay)];
    way.push2(...enter);
    length += walkLoop(g, loop, from.edge, to.edge, enter, leave, side, way);
    if (length > limit) return undefined;
    way.push2(...leave);
    i = last + 1;
  }
  way.push2(bx, by);
  return way.take();
}

type LinkPoint = [number, number];

/** Adds the points of a loop between two points on its edges, on the side asked for; gives the length. */
function walkLoop(
  g: EdgeGrid,
  loop: number,
  from: number,
  to: number,
  enter: LinkPoint,
  leave: LinkPoint,
  side: number,
  way: List<Float64Array>,
): number {
  const a = g.p.start[loop]!;
  const n = g.p.start[loop + 1]! - a;
  const ahead = (((to - from) % n) + n) % n;
  const points = (first: number, count: number, step: number): Float64Array => {
    const xy = new Float64Array(2 * count + 4);
    xy.set(enter);
    for (let i = 0; i < count; i++) {
      const p = a + ((((first + step * i - a) % n) + n) % n);
      xy[2 * i + 2] = g.p.points[2 * p]!;
      xy[2 * i + 3] = g.p.points[2 * p + 1]!;
    }
    xy.set(leave, 2 * count + 2);
    return xy;
  };
  const ways = [points(from + 1, ahead, 1), points(from, n - ahead, -1)] as const;
  const lengths = [lineLength(ways[0]), lineLength(ways[1])] as const;
  const taken = lengths[0] <= lengths[1] === (side === SHORTER) ? 0 : 1;
  way.append(ways[taken].subarray(2, ways[taken].length - 2));
  return lengths[taken];
}

/** How far a tightened way stays from the loops, as a share of each step towards the next point. */
const KEEP = 1e-3;

/**
 * Leaves out every way point whose two neighbours see each other, until none is left. A point is put
 * on the stack once and taken off at most once, so a pass is linear; a second pass finds little.
 */
function pulled(g: EdgeGrid, way: Float64Array): Float64Array {
  let from = way;
  for (let pass = 0; pass < PASSES; pass++) {
    const kept: number[] = [];
    for (let i = 0; i < from.length / 2; i++) {
      while (kept.length > 1 && clear(g, from, kept[kept.length - 2]!, i)) kept.pop();
      kept.push(i);
    }
    if (2 * kept.length === from.length) break;
    const before = from;
    from = Float64Array.from(kept.flatMap((i) => [before[2 * i]!, before[2 * i + 1]!]));
  }
  return from;
}

const PASSES = 3;

/**
 * Ends of the way may lie on a loop, so the look is taken a little inside the step; and a chord
 * between two points of a hole crosses nothing yet lies outside, so its middle is tested too.
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
