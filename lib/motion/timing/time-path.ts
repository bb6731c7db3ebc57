/** The one way of pacing: a way of joints and what is asked of its blocks come in, their times go out. */
import type { Machine } from '../../machine/machine.js';
import type { WantedTimes, TimeParameterization } from './wanted-times.js';
import type { JointWay } from '../lay/blocks.js';
import { Pacer } from './time-optimal.js';
import { type Route, routeOf } from './path-limits.js';
import { SmoothPacer } from './jerk-limited.js';

/** Share of the corners' deviation that taking tiny blocks together may use. */
const LEFT_OUT = 0.2;

/** How far the way may be straightened when tiny blocks are taken together, mm; see merge-blocks.ts. */
export const straightening = (cornerDeviation: number): number => LEFT_OUT * cornerDeviation;

export interface Paced {
  readonly route: Route;
  readonly ask: WantedTimes;
  readonly pacer: TimeParameterization;
}

/** @param way with its tiny blocks taken together already */
export function paced(
  machine: Machine,
  way: JointWay,
  ask: WantedTimes,
  cornerDeviation: number,
): Paced {
  const route = routeOf(machine, way, cornerDeviation - straightening(cornerDeviation));
  const pacer = pacerOf(route, ask);
  pacer.run(0, route.ride.length - 1);
  return { route, ask, pacer };
}

function pacerOf(route: Route, ask: WantedTimes): TimeParameterization {
  const jerky = route.machine.joints.some((joint) => joint.jerk < Infinity);
  return jerky ? new SmoothPacer(route, ask) : new Pacer(route, ask);
}

/** Time of everything, s. */
export const secondsOf = ({ pacer }: Paced): number => pacer.real.reduce((sum, t) => sum + t, 0);

/**
 * Time of everything, s, on a machine that differs in the limits of joint j alone: only the rides in
 * which it moves are paced again.
 */
export function secondsOn(machine: Machine, j: number, known: Paced): number {
  const { way, ride, deviation } = known.route;
  const route = routeOf(machine, way, deviation);
  const pacer = pacerOf(route, known.ask);
  let total = 0;
  for (let r = 0; r + 1 < ride.length; r++) {
    const [a, b] = [ride[r]!, ride[r + 1]!];
    const again = moves(way, j, a, b);
    if (again) pacer.run(r, r + 1);
    const { real } = again ? pacer : known.pacer;
    for (let i = a; i < b; i++) total += real[i]!;
  }
  return total;
}

function moves(
  { jointCount: n, from, joints }: JointWay,
  j: number,
  a: number,
  b: number,
): boolean {
  const start = a ? joints[(a - 1) * n + j]! : from[j]!;
  for (let i = a; i < b; i++) if (joints[i * n + j] !== start) return true;
  return false;
}
