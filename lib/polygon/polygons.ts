/**
 * Closed loops in a plane, the record that polygon work passes around: loop i is the points
 * `start[i] .. start[i + 1]`, two numbers each (mm). The last point is not repeated. Material lies
 * left of a loop: outer loops run counter-clockwise, holes clockwise.
 */
export interface Polygons {
  /** Packed x, y. Length 2 * start[start.length - 1]. */
  readonly points: Float64Array;
  /** Offsets in points, length loops + 1. */
  readonly start: Uint32Array;
}

export const noPolygons: Polygons = { points: new Float64Array(0), start: new Uint32Array(1) };

/** Signed area of one loop by the shoelace sum, mm2; counter-clockwise is positive. */
export function loopArea(p: Polygons, loop: number): number {
  const a = p.start[loop]!;
  const b = p.start[loop + 1]!;
  if (b - a < 3) return 0;
  // Relative to the first point: keeps digits when the loop is far from the origin.
  const ox = p.points[2 * a]!;
  const oy = p.points[2 * a + 1]!;
  let sum = 0;
  for (let i = a + 1; i + 1 < b; i++) {
    const x0 = p.points[2 * i]! - ox;
    const y0 = p.points[2 * i + 1]! - oy;
    const x1 = p.points[2 * i + 2]! - ox;
    const y1 = p.points[2 * i + 3]! - oy;
    sum += x0 * y1 - x1 * y0;
  }
  return sum / 2;
}

/** Signed area of all loops together, mm2 (holes subtract). */
export function area(p: Polygons): number {
  let sum = 0;
  for (let i = 0; i + 1 < p.start.length; i++) sum += loopArea(p, i);
  return sum;
}
