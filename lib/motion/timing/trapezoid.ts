/**
 * Trapezoidal speed profiles along a path, and how far a chord lies off its arc. Any consistent unit of length
 * does; the callers use mm and s. Formulas are those of uniformly accelerated motion.
 */

export interface Trapezoid {
  readonly seconds: number;
  /** Greatest speed reached. */
  readonly peak: number;
  /** Time spent at the greatest speed, s; the rest is speeding up and slowing down. */
  readonly cruise: number;
}

/**
 * From speed v0 to v1 over a length, with acceleration a and speed at most vMost; v0 and v1 must be
 * reachable from one another within the length and at most vMost.
 */
export function trapezoid(
  length: number,
  v0: number,
  v1: number,
  vMost: number,
  a: number,
): Trapezoid {
  // Highest speed that still leaves room to slow down: v0^2 + 2 a s1 = v1^2 + 2 a s2, s1 + s2 = length.
  const highest = Math.sqrt(Math.max(0, a * length + (v0 * v0 + v1 * v1) / 2));
  const peak = Math.max(v0, v1, Math.min(vMost, highest));
  const ramps = (2 * peak * peak - v0 * v0 - v1 * v1) / (2 * a);
  const cruise = peak > 0 ? Math.max(0, length - ramps) / peak : 0;
  return { seconds: (2 * peak - v0 - v1) / a + cruise, peak, cruise };
}

/** Deviation of a chord from its arc: r (1 - cos(step / 2)). */
export const chordError = (radius: number, step: number): number =>
  2 * radius * Math.sin(step / 4) ** 2;
