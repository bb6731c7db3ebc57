/**
 * Triangulation of a simple polygon (packed x, y, counter-clockwise) over all its points by ear
 * clipping, the best-shaped ear first. Used for rims of at most some hundred points, where a point left
 * out (as general polygon triangulators leave out points on a straight run) would leave the hole open.
 * Time grows with the square of the points.
 */

/**
 * @returns n - 2 triangles of positive area (indices of points), or undefined when the polygon
 *   crosses itself or has no area
 */
export function earTriangles(points: Float64Array): Uint32Array | undefined {
  const n = points.length / 2;
  const after = Uint32Array.from({ length: n }, (_, i) => (i + 1) % n);
  const before = Uint32Array.from({ length: n }, (_, i) => (i + n - 1) % n);
  const score = new Float64Array(n);
  // Only a corner that is not convex can lie in an ear: a convex polygon costs no search.
  const hollow = new Uint8Array(n);
  let hollows = 0;
  const bend = (i: number): void => {
    const is = turn(points, before[i]!, i, after[i]!) > 0 ? 0 : 1;
    hollows += is - hollow[i]!;
    hollow[i] = is;
  };
  const judge = (i: number): void => {
    score[i] = earScore(points, before, after, i, hollows > 0 ? hollow : undefined);
  };
  for (let i = 0; i < n; i++) bend(i);
  for (let i = 0; i < n; i++) judge(i);
  const out = new Uint32Array(3 * Math.max(0, n - 2));
  let first = 0;
  for (let left = n, o = 0; left > 2; left--) {
    let best = first;
    for (let k = 0, i = first; k < left; k++, i = after[i]!) if (score[i]! > score[best]!) best = i;
    if (!(score[best]! > 0)) return undefined;
    const a = before[best]!;
    const b = after[best]!;
    out[o++] = a;
    out[o++] = best;
    out[o++] = b;
    after[a] = b;
    before[b] = a;
    first = a;
    bend(a);
    bend(b);
    judge(a);
    judge(b);
  }
  return out;
}

/** Twice the signed area of points a, b, c. */
function turn(p: Float64Array, a: number, b: number, c: number): number {
  return (
    (p[2 * b]! - p[2 * a]!) * (p[2 * c + 1]! - p[2 * a + 1]!) -
    (p[2 * b + 1]! - p[2 * a + 1]!) * (p[2 * c]! - p[2 * a]!)
  );
}

/** Area over squared sides of the ear at i (1 / sqrt 3 at best), or 0 when it is no ear. */
function earScore(
  p: Float64Array,
  before: Uint32Array,
  after: Uint32Array,
  i: number,
  hollow: Uint8Array | undefined,
): number {
  const a = before[i]!;
  const b = after[i]!;
  const size = turn(p, a, i, b);
  if (!(size > 0)) return 0;
  for (let k = after[b]!; hollow && k !== a; k = after[k]!) {
    if (!hollow[k]) continue;
    if (turn(p, a, i, k) >= 0 && turn(p, i, b, k) >= 0 && turn(p, b, a, k) >= 0) return 0;
  }
  const side = (u: number, v: number): number =>
    (p[2 * u]! - p[2 * v]!) ** 2 + (p[2 * u + 1]! - p[2 * v + 1]!) ** 2;
  return size / (side(a, i) + side(i, b) + side(b, a));
}
