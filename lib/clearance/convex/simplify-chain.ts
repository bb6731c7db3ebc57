/**
 * Polyline simplification with a bound: points are dropped from a chain so that no dropped point is farther
 * than the tolerance from the straight segment between its kept neighbours (greedy, looking ahead
 * LOOK_AHEAD points). Beads and tip paths are simplified before they are searched: both are finer than any
 * distance that matters, and a quarter of the stretches on either side is a sixteenth of the pairs.
 */

/** Points looked ahead: longer stretches make larger boxes and no fewer pairs. */
const LOOK_AHEAD = 12;

/**
 * Kept points of `points[from .. to)` (packed xyz, counted in points), first and last always.
 * @param same true if point k belongs to one stretch with the point before it in every other way
 */
export function simplifiedChain(
  points: Float64Array,
  from: number,
  to: number,
  tolerance: number,
  same: (k: number) => boolean = () => true,
): number[] {
  const kept = [from];
  for (let a = from; a < to - 1;) {
    let b = a + 1;
    while (b + 1 < to && b - a < LOOK_AHEAD && same(b + 1) && straight(points, a, b + 1, tolerance))
      b++;
    kept.push(b);
    a = b;
  }
  return kept;
}

/** True if all points between a and b lie on the segment from a to b, to within the tolerance. */
function straight(p: Float64Array, a: number, b: number, tolerance: number): boolean {
  const [x, y, z] = [p[3 * a]!, p[3 * a + 1]!, p[3 * a + 2]!];
  const [dx, dy, dz] = [p[3 * b]! - x, p[3 * b + 1]! - y, p[3 * b + 2]! - z];
  const size = dx * dx + dy * dy + dz * dz;
  for (let k = a + 1; k < b; k++) {
    const [ex, ey, ez] = [p[3 * k]! - x, p[3 * k + 1]! - y, p[3 * k + 2]! - z];
    const t = size > 0 ? Math.min(1, Math.max(0, (ex * dx + ey * dy + ez * dz) / size)) : 0;
    const [ux, uy, uz] = [ex - t * dx, ey - t * dy, ez - t * dz];
    if (ux * ux + uy * uy + uz * uz > tolerance * tolerance) return false;
  }
  return true;
}
