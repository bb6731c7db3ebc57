/**
 * The least time of a straight joint move from rest to rest, by the double-S speed profile of the
 * slowest joint.
 */
import type { Joint, Machine } from '../../machine/machine.js';
import { peakOf, rampLength, rampSeconds } from './double-s.js';

/** Least time for one joint over a distance, from rest to rest, mm and rad, s. */
export function restToRest(joint: Joint, distance: number): number {
  if (!(distance > 0)) return 0;
  const { speed, acceleration, jerk } = joint;
  // Without a limit of speed the trapezoid's peak is the higher one.
  const most = Math.min(speed, Math.sqrt(acceleration * distance));
  const peak = peakOf(distance, 0, 0, most, acceleration, jerk);
  const ramps = 2 * rampLength(0, peak, acceleration, jerk);
  return 2 * rampSeconds(0, peak, acceleration, jerk) + Math.max(0, distance - ramps) / peak;
}

/** Least time in which all joints get from a to b, each from rest to rest, s. */
export function moveSeconds(machine: Machine, a: ArrayLike<number>, b: ArrayLike<number>): number {
  return machine.joints.reduce(
    (most, joint, i) => Math.max(most, restToRest(joint, Math.abs(b[i]! - a[i]!))),
    0,
  );
}
