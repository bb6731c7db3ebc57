/**
 * What a corner between two long blocks costs by the plan's time parameterization, beside the optimum
 * (corner-optimum.ts).
 */
import type { Machine } from '../../lib/machine/machine.js';
import { JerkLimited } from '../../lib/motion/timing/jerk-limited.js';
import { RADIAN, leverOf, routeOf, type Route } from '../../lib/motion/timing/path-limits.js';
import { FeedSource, type WantedTimes } from '../../lib/motion/timing/wanted-times.js';
import type { OptimumCorner } from './corner-optimum.js';

/** Length of either block, mm: long enough for all ramps. */
const LEG = 60;

export interface CornerCase {
  readonly name: string;
  /** Directions of both legs over the joints, of any length; a radian of a rotary joint counts as 50 mm. */
  readonly before: readonly number[];
  readonly behind: readonly number[];
  readonly speed: number;
  readonly tolerance: number;
}

export interface CornerRun {
  readonly route: Route;
  readonly times: JerkLimited;
  /** Lost against running round the corner at full speed, s. */
  readonly cost: number;
  readonly optimum: OptimumCorner;
}

/** The corner at the middle of two blocks on that machine, from rest to rest. */
export function runCorner(
  machine: Machine,
  { before, behind, speed, tolerance }: CornerCase,
): CornerRun {
  const weight = machine.joints.map((j) => (j.kind === 'rotary' ? RADIAN : 1));
  const unit = (way: readonly number[]): number[] => {
    const size = Math.hypot(...way);
    return way.map((x, j) => x / size / weight[j]!);
  };
  const [u, w] = [unit(before), unit(behind)];
  const secondsOf = (
    first: readonly number[],
    second: readonly number[],
  ): readonly [Route, JerkLimited] => {
    const middle = u.map(() => 0);
    const joints = Float64Array.from([...middle, ...second.map((x) => LEG * x)]);
    const from = Float64Array.from(first, (x) => -LEG * x);
    const wanted: WantedTimes = {
      least: new Float64Array(2).fill(LEG / speed),
      source: new Uint8Array(2).fill(FeedSource.asked),
    };
    const route = routeOf(machine, { jointCount: u.length, from, joints }, tolerance);
    const times = new JerkLimited(route, wanted);
    times.run(0, route.segment.length - 1);
    return [route, times];
  };
  const total = ({ real }: JerkLimited): number => real.reduce((a, b) => a + b, 0);
  const [route, times] = secondsOf(u, w);
  // The same blocks one after the other along either leg have no corner: half of both.
  const straight = (total(secondsOf(u, u)[1]) + total(secondsOf(w, w)[1])) / 2;
  const moving = machine.joints.map((_, j) => j).filter((j) => u[j] !== 0 || w[j] !== 0);
  return {
    route,
    times,
    cost: total(times) - straight,
    optimum: {
      speed,
      tolerance,
      joints: moving.map((j) => {
        const joint = machine.joints[j]!;
        return {
          before: u[j]!,
          behind: w[j]!,
          speed: joint.speed,
          acceleration: joint.acceleration,
          jerk: joint.jerk,
          weight: weight[j]!,
          linear: joint.kind === 'linear',
          lever:
            joint.kind === 'linear'
              ? 1
              : Math.max(RADIAN, leverOf(machine, new Float64Array(u.length), j)),
        };
      }),
    },
  };
}

/** A table of corners: of X and Y at all angles, and with a rotary joint or a slow one. */
export function cornerCases(machine: Machine, speed: number, tolerance: number): CornerCase[] {
  const way = (parts: Readonly<Record<string, number>>): number[] =>
    machine.joints.map((joint) => parts[joint.letter] ?? 0);
  const level = (degrees: number): number[] =>
    way({ X: Math.cos((degrees * Math.PI) / 180), Y: Math.sin((degrees * Math.PI) / 180) });
  const turns = [
    [0, 20],
    [0, 45],
    [-22.5, 22.5],
    [30, 90],
    [0, 90],
    [-45, 45],
    [20, 110],
    [0, 120],
    [0, 135],
    [-67.5, 67.5],
    [0, 160],
  ] as const;
  const others: readonly (readonly [string, number[], number[]])[] = [
    ['X to Z and X', way({ X: 1 }), way({ X: 1, Z: 0.2 })],
    ['X to X and C', way({ X: 1 }), way({ X: 1, C: 0.7 })],
    ['X and C to Y', way({ X: 1, C: 0.5 }), way({ Y: 1 })],
    ['X and C to Y and back C', way({ X: 1, C: 0.6 }), way({ Y: 1, C: -0.6 })],
    ['X, Y and A to X', way({ X: 1, Y: 1, A: 0.3 }), way({ X: 1 })],
  ];
  const rows = [
    ...turns.map(([a, b]) => [`XY ${a} to ${b}`, level(a), level(b)] as const),
    ...others,
  ];
  return rows.map(([name, before, behind]) => ({ name, before, behind, speed, tolerance }));
}
