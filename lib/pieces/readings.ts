/**
 * What the readings of the test pieces mean. The file's machine and the true one differ; the true
 * part point that the nozzle reaches instead of p follows from the rigid motions of both (derived in
 * closed form beside each function). Millimetres, radians.
 */

/**
 * Two rows of rungs on slopes of a roof, one built at tilt +a, one at -a; `plus` and `minus` are how
 * much thinner the rungs get for each mm towards the ridge. A tilt that falls short by e leaves the
 * slope's upper end e x s too high under a head that moves horizontally. Each side is reached from 0 or
 * through 0, so that play shortens both: play is the sum, half the difference a wrong zero.
 */
export const ladder = (plus: number, minus: number): { play: number; zero: number } => ({
  play: plus + minus,
  zero: (minus - plus) / 2,
});

/**
 * A boss on each slope whose upper half is built at tilt +a or -a: steps towards the ridge (t) and
 * heights too much (n) of the upper halves. With the axis off by d: p' - p = (I - R) d, R the turn
 * that takes +Z to the build direction, so n = dv sin a - dz (1 - cos a), t = dv (1 - cos a) + dz sin a
 * on the side towards v, and mirrored on the other.
 * @returns what to add to the axis point: along v (level, towards the plus side) and z
 */
export const cross = (
  plus: { readonly n: number; readonly t: number },
  minus: { readonly n: number; readonly t: number },
  a: number,
): { v: number; z: number } => ({
  v: (plus.n - minus.n) / (2 * Math.sin(a)),
  z: (plus.t + minus.t) / (2 * Math.sin(a)),
});

/**
 * Four lugs built at table angles 0, 90, 180, 270: heights h over the table and distances r from the
 * middle, in that order. The run-out moves the table along its axis by f (cos - 1) + s sin, the lug
 * lands that much lower. An axis off by e moves a lug by (I - R(-angle)) e.
 * @param sense +1 if the table turns about +Z at rising values
 * @returns first harmonic along the axis as the record has it, and what to add to the axis point:
 *   along v, towards which the lug at 0 leans, and w = z x v
 */
export function ring(
  h: readonly [number, number, number, number],
  r: readonly [number, number, number, number],
  sense: 1 | -1,
): { runOut: readonly [number, number]; v: number; w: number } {
  return {
    runOut: [(sense * (h[2] - h[0])) / 2, (sense * (h[3] - h[1])) / 2],
    v: (r[0] - r[2]) / 2,
    w: (-sense * (r[1] - r[3])) / 2,
  };
}
