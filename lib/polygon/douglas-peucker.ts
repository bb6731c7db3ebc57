/**
 * Polyline simplification of closed loops: every dropped point lies within the tolerance of the loop
 * that stays, and every kept point is an input point. Loops that collapse to fewer than three points
 * are left out.
 *
 * Douglas and Peucker (The Canadian Cartographer 10, 1973) with an explicit stack. The plain method
 * takes quadratic time on unlucky input; where splits are lopsided too often in a row the stretch is
 * cut in its middle instead, which only keeps one more point, so time stays within n log n.
 */
import type { Polygons } from './polygons.js';

/** @param tolerance greatest distance of a dropped point from the result, mm */
export function simplifyLoops(p: Polygons, tolerance: number): Polygons {
  const loops = p.start.length - 1;
  const keep = new Uint8Array(p.points.length / 2);
  const points = new Float64Array(p.points.length);
  const start = new Uint32Array(loops + 1);
  let kept = 0;
  let out = 0;
  for (let loop = 0; loop < loops; loop++) {
    const a = p.start[loop]!;
    const b = p.start[loop + 1]!;
    markLoop(p.points, a, b, tolerance * tolerance, keep);
    const first = kept;
    for (let i = a; i < b; i++) {
      if (!keep[i]) continue;
      points[2 * kept] = p.points[2 * i]!;
      points[2 * kept + 1] = p.points[2 * i + 1]!;
      kept++;
    }
    if (kept - first < 3) kept = first;
    else start[++out] = kept;
  }
  return { points: points.slice(0, 2 * kept), start: start.slice(0, out + 1) };
}

/** Anchors are the leftmost point and the one farthest from it, so that no start point is special. */
function markLoop(xy: Float64Array, a: number, b: number, limit: number, keep: Uint8Array): void {
  const n = b - a;
  if (n < 3) return;
  let left = a;
  for (let i = a + 1; i < b; i++) {
    const dx = xy[2 * i]! - xy[2 * left]!;
    if (dx < 0 || (dx === 0 && xy[2 * i + 1]! < xy[2 * left + 1]!)) left = i;
  }
  let far = left;
  let most = -1;
  for (let i = a; i < b; i++) {
    const d = (xy[2 * i]! - xy[2 * left]!) ** 2 + (xy[2 * i + 1]! - xy[2 * left + 1]!) ** 2;
    if (d > most) {
      most = d;
      far = i;
    }
  }
  keep[left] = 1;
  keep[far] = 1;
  // Positions count from `left` and wrap around the loop.
  const middle = (far - left + n) % n;
  markStretch(xy, a, n, left - a, 0, middle, limit, keep);
  markStretch(xy, a, n, left - a, middle, n, limit, keep);
}

function markStretch(
  xy: Float64Array,
  a: number,
  n: number,
  origin: number,
  from: number,
  to: number,
  limit: number,
  keep: Uint8Array,
): void {
  const stack = [from, to, 0];
  while (stack.length) {
    const lopsided = stack.pop()!;
    const j = stack.pop()!;
    const i = stack.pop()!;
    if (j - i < 2) continue;
    const p = 2 * (a + ((origin + i) % n));
    const q = 2 * (a + ((origin + j) % n));
    const px = xy[p]!;
    const py = xy[p + 1]!;
    const dx = xy[q]! - px;
    const dy = xy[q + 1]! - py;
    const length2 = dx * dx + dy * dy;
    let worst = -1;
    let split = -1;
    for (let k = i + 1; k < j; k++) {
      const r = 2 * (a + ((origin + k) % n));
      const ex = xy[r]! - px;
      const ey = xy[r + 1]! - py;
      // Distance from the segment, not from its line: loops may turn back on themselves.
      let t = length2 > 0 ? (ex * dx + ey * dy) / length2 : 0;
      t = t < 0 ? 0 : t > 1 ? 1 : t;
      const d = (ex - t * dx) ** 2 + (ey - t * dy) ** 2;
      if (d > worst) {
        worst = d;
        split = k;
      }
    }
    if (worst <= limit) continue;
    if (lopsided >= 8) split = (i + j) >> 1;
    const share = (split - i) / (j - i);
    const next = share < 0.05 || share > 0.95 ? lopsided + 1 : 0;
    keep[a + ((origin + split) % n)] = 1;
    stack.push(i, split, next, split, j, next);
  }
}
