/**
 * Joins the segments of a scan into long lines that run to and fro: neighbouring segments are connected
 * along the stretch of boundary between them, so that a solid area is laid in few paths.
 *
 * Between two neighbouring crossings along a loop the boundary stays between two neighbouring lines, so
 * the stretch itself is the turn; no search is needed. A stretch much longer than the pitch (the
 * boundary runs nearly along the lines) is no turn: it would lie on the line beside it. Nor is one that
 * goes down a step of the boundary along the lines: a step lies anywhere between two lines, so it would
 * lie on one of them. Such turns laid 6 mm twice in a layer of caps whose sides are stepped.
 *
 * On average half of the boundary is laid as turns, at bead spacing s: that fills a strip of width s /
 * 2 along all of it. So lines that end s / 2 inside an area fill it exactly to first order.
 */
import type { Polygons } from '../../polygon/polygons.js';
import { float64List } from '../../base/ragged.js';
import { type Scan, pointOf } from './scan-lines.js';

/** Greatest length of a turn, in pitches. */
const LONGEST_TURN = 6;
/** Greatest length of a turn along the lines, in pitches, and the greatest slope of a side along them. */
const LONGEST_STEP = 1.5;
const SIDE_SLOPE = 0.02;

export function joinedLines(p: Polygons, s: Scan): Float64Array[] {
  const loopOf = new Uint32Array(s.line.length);
  for (let loop = 0; loop + 1 < s.loopStart.length; loop++) {
    loopOf.fill(loop, s.loopStart[loop]!, s.loopStart[loop + 1]!);
  }
  const partner = new Uint32Array(s.line.length);
  for (let i = 0; i + 1 < s.ends.length; i += 2) {
    partner[s.ends[i]!] = s.ends[i + 1]!;
    partner[s.ends[i + 1]!] = s.ends[i]!;
  }
  const used = new Uint8Array(s.line.length);
  const out: Float64Array[] = [];
  for (let i = 0; i + 1 < s.ends.length; i += 2) {
    if (used[s.ends[i]!]) continue;
    out.push(walk(p, s, s.ends[i]!, loopOf, partner, used));
  }
  return out;
}

function walk(
  p: Polygons,
  s: Scan,
  first: number,
  loopOf: Uint32Array,
  partner: Uint32Array,
  used: Uint8Array,
): Float64Array {
  const xy = float64List();
  const point = new Float64Array(2);
  const put = (crossing: number): void => {
    pointOf(s, crossing, point, 0);
    xy.append(point);
  };
  for (let from = first; from >= 0;) {
    const to = partner[from]!;
    used[from] = 1;
    used[to] = 1;
    put(from);
    put(to);
    from = turn(p, s, to, loopOf[to]!, used, xy);
  }
  return xy.take();
}

/** Goes along the boundary to a free crossing of the next line up; gives it, or -1. */
function turn(
  p: Polygons,
  s: Scan,
  from: number,
  loop: number,
  used: Uint8Array,
  xy: ReturnType<typeof float64List>,
): number {
  const a = s.loopStart[loop]!;
  const b = s.loopStart[loop + 1]!;
  for (const way of [1, -1]) {
    const to = way > 0 ? (from + 1 < b ? from + 1 : a) : from > a ? from - 1 : b - 1;
    if (used[to] || s.line[to] !== s.line[from]! + 1) continue;
    const between = stretch(p, s, loop, from, to, way);
    if (between) {
      xy.append(between);
      return to;
    }
  }
  return -1;
}

/** Boundary points between two neighbouring crossings, undefined if the way is too long. */
function stretch(
  p: Polygons,
  s: Scan,
  loop: number,
  from: number,
  to: number,
  way: number,
): Float64Array | undefined {
  const a = p.start[loop]!;
  const n = p.start[loop + 1]! - a;
  // Forwards the points after the edge of `from` up to the first of the edge of `to`.
  const first = way > 0 ? s.after[from]! - a + 1 : s.after[from]! - a;
  const last = way > 0 ? s.after[to]! - a : s.after[to]! - a + 1;
  const count = s.after[from] === s.after[to] ? 0 : ((((way * (last - first)) % n) + n) % n) + 1;
  const out = new Float64Array(2 * count);
  for (let i = 0; i < count; i++) {
    const q = 2 * (a + ((((first + way * i) % n) + n) % n));
    out[2 * i] = p.points[q]!;
    out[2 * i + 1] = p.points[q + 1]!;
  }
  const ends = new Float64Array(4);
  pointOf(s, from, ends, 0);
  pointOf(s, to, ends, 2);
  let [length, step] = [0, 0];
  for (let i = 0, x = ends[0]!, y = ends[1]!; i <= count; i++) {
    const nx = i < count ? out[2 * i]! : ends[2]!;
    const ny = i < count ? out[2 * i + 1]! : ends[3]!;
    const along = Math.abs((nx - x) * s.cos + (ny - y) * s.sin);
    const across = Math.abs((ny - y) * s.cos - (nx - x) * s.sin);
    length += Math.hypot(nx - x, ny - y);
    if (across <= SIDE_SLOPE * along) step += along;
    x = nx;
    y = ny;
  }
  return length > LONGEST_TURN * s.pitch || step > LONGEST_STEP * s.pitch ? undefined : out;
}
