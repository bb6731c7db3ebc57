/**
 * The one place where a joint path gets its times, for the plan and for the drives alike: the jerk-limited
 * parameterization where some joint states a limit of jerk, else the time-optimal one.
 */
import type { Machine } from '../../machine/machine.js';
import type { WantedTimes, TimeParameterization } from './wanted-times.js';
import type { JointPolyline } from '../lay/blocks.js';
import { TimeOptimal } from './time-optimal.js';
import { type Route, routeOf } from './path-limits.js';
import { JerkLimited } from './jerk-limited.js';

/** Share of the corners' deviation that merging tiny blocks may use. */
const LEFT_OUT = 0.2;

/** How far the path may be straightened when tiny blocks are merged, mm; see merge-blocks.ts. */
export const straightening = (cornerDeviation: number): number => LEFT_OUT * cornerDeviation;

export interface TimedPath {
  readonly route: Route;
  readonly wanted: WantedTimes;
  readonly times: TimeParameterization;
}

/** @param polyline with its tiny blocks merged already */
export function timedPath(
  machine: Machine,
  polyline: JointPolyline,
  wanted: WantedTimes,
  cornerDeviation: number,
): TimedPath {
  const route = routeOf(machine, polyline, cornerDeviation - straightening(cornerDeviation));
  const times = parameterizationOf(route, wanted);
  times.run(0, route.segment.length - 1);
  return { route, wanted, times };
}

function parameterizationOf(route: Route, wanted: WantedTimes): TimeParameterization {
  const jerky = route.machine.joints.some((joint) => joint.jerk < Infinity);
  return jerky ? new JerkLimited(route, wanted) : new TimeOptimal(route, wanted);
}

/** Time of everything, s. */
export const secondsOf = ({ times }: TimedPath): number =>
  times.real.reduce((sum, t) => sum + t, 0);

/**
 * Time of everything, s, on a machine that differs in the limits of joint j alone: only the segments in
 * which it moves are computed again.
 */
export function secondsOn(machine: Machine, j: number, known: TimedPath): number {
  const { polyline, segment, deviation } = known.route;
  const route = routeOf(machine, polyline, deviation);
  const times = parameterizationOf(route, known.wanted);
  let total = 0;
  for (let r = 0; r + 1 < segment.length; r++) {
    const [a, b] = [segment[r]!, segment[r + 1]!];
    const again = moves(polyline, j, a, b);
    if (again) times.run(r, r + 1);
    const { real } = again ? times : known.times;
    for (let i = a; i < b; i++) total += real[i]!;
  }
  return total;
}

function moves(
  { jointCount: n, from, joints }: JointPolyline,
  j: number,
  a: number,
  b: number,
): boolean {
  const start = a ? joints[(a - 1) * n + j]! : from[j]!;
  for (let i = a; i < b; i++) if (joints[i * n + j] !== start) return true;
  return false;
}
