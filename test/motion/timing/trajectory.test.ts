/**
 * The motion over time. Checks by differences: a speed is the change of place, an acceleration that of
 * speed, whatever formulas wrote them down; nothing jumps; the machine's limits are held.
 */
import { describe, expect, it } from 'vitest';
import type { Machine } from '../../../lib/machine/machine.js';
import type { TimeParameterization } from '../../../lib/motion/timing/wanted-times.js';
import { stateAt } from '../../../lib/motion/timing/trajectory.js';
import { JerkLimited } from '../../../lib/motion/timing/jerk-limited.js';
import { circle, machine, wandering } from '../routes.js';
import { type Step, trace } from '../trace.js';

interface State {
  readonly t: number;
  readonly q: Float64Array;
  readonly v: Float64Array;
  readonly a: Float64Array;
}

const PARTS = 6;

/** For each stretch its states at evenly spaced times, ends and all. */
function follow(times: TimeParameterization): State[][] {
  const out: State[][] = [];
  let time = 0;
  const each = (): Float64Array => new Float64Array(5);
  times.follow((stretch) => {
    out.push(
      Array.from({ length: PARTS + 1 }, (_, i) => {
        const t = (stretch.seconds * i) / PARTS;
        const state = { t: time + t, q: each(), v: each(), a: each() };
        stateAt(stretch, t, state.q, state.v, state.a);
        return state;
      }),
    );
    time += stretch.seconds;
  });
  return out;
}

/** With limits of jerk if the machine has them. */
function course(steps: readonly Step[], m: Machine) {
  const { route, wanted, ...traced } = trace(m, steps);
  const smooth = m.joints[0]!.jerk < Infinity;
  const times = smooth ? new JerkLimited(route, wanted) : traced.times;
  times.run(0, route.segment.length - 1);
  const total = times.real.reduce((a, b) => a + b, 0);
  return { route, total, stretches: follow(times) };
}

describe.each([
  ['without limits of jerk', undefined],
  ['with limited jerk', 20000],
])('%s, any route, seeds 1 and 2', (_, jerk) => {
  const m = machine({ speed: 150, jerk });
  const all = () => [1, 2].map((seed) => course(wandering(seed, 200), m));

  it('begins where the route does, goes on without a jump and ends where it ends, at rest', () => {
    for (const { route, total, stretches } of all()) {
      let [place, speed] = [0, 0];
      let [q, v, t]: [Float64Array, Float64Array, number] = [
        route.polyline.from,
        new Float64Array(5),
        0,
      ];
      for (const states of stretches) {
        states[0]!.q.forEach((x, j) => (place = Math.max(place, Math.abs(x - q[j]!))));
        states[0]!.v.forEach((x, j) => (speed = Math.max(speed, Math.abs(x - v[j]!))));
        ({ q, v, t } = states.at(-1)!);
      }
      expect(place).toBeLessThan(1e-6);
      expect(speed).toBeLessThan(1e-4);
      route.polyline.joints.slice(-5).forEach((x, j) => expect(q[j]).toBeCloseTo(x, 6));
      v.forEach((x) => expect(x).toBeCloseTo(0, 4));
      expect(t / total).toBeCloseTo(1, 6);
    }
  });

  it('says of speed and acceleration what the differences say', () => {
    let [place, speed] = [0, 0];
    for (const states of all().flatMap((one) => one.stretches)) {
      const h = (states.at(-1)!.t - states[0]!.t) / PARTS;
      if (h < 1e-5) continue;
      for (let i = 1; i < PARTS; i++) {
        const [before, here, after] = [states[i - 1]!, states[i]!, states[i + 1]!];
        for (let j = 0; j < 5; j++) {
          // Simpson's sum of three speeds is the way; of three accelerations the gain of speed.
          const simpson = (f: 'v' | 'a'): number =>
            (h / 3) * (before[f][j]! + 4 * here[f][j]! + after[f][j]!);
          const [way, gain] = [after.q[j]! - before.q[j]!, after.v[j]! - before.v[j]!];
          place = Math.max(place, Math.abs(simpson('v') - way) / (1e-5 + Math.abs(way)));
          speed = Math.max(speed, Math.abs(simpson('a') - gain) / (1e-2 + Math.abs(gain)));
        }
      }
    }
    expect(place).toBeLessThan(1e-3);
    expect(speed).toBeLessThan(1e-3);
  });

  it('asks no joint for more than its speed and acceleration', () => {
    const states = all().flatMap((one) => one.stretches.flat());
    m.joints.forEach((joint, j) => {
      let [speed, acceleration] = [0, 0];
      for (const { v, a } of states) {
        speed = Math.max(speed, Math.abs(v[j]!));
        acceleration = Math.max(acceleration, Math.abs(a[j]!));
      }
      expect(speed).toBeLessThan(joint.speed * (1 + 1e-6));
      expect(acceleration).toBeLessThan(joint.acceleration * (1 + 1e-6));
    });
  });
});

it('with limited jerk, on stairs: acceleration has no steps, jerk stays within 20,000 mm/s3', () => {
  const stairs = Array.from({ length: 12 }, (_, i) => ({
    to: [10 * Math.ceil((i + 1) / 2), 10 * Math.floor((i + 1) / 2), 0, 0, 0],
    speed: 60,
  }));
  const { stretches, route } = course(stairs, machine({ jerk: 20000 }));
  expect(route.segment).toHaveLength(2);
  let before = stretches[0]![0]!;
  let most = 0;
  for (const state of stretches.flat()) {
    for (let j = 0; j < 2; j++) {
      const change = Math.abs(state.a[j]! - before.a[j]!);
      most = Math.max(most, (change - 1e-3) / (state.t - before.t + 1e-9));
    }
    before = state;
  }
  expect(most).toBeGreaterThan(20000 * 0.98);
  expect(most).toBeLessThan(20000 * (1 + 1e-6));
});

it.each([
  ['without limits of jerk', undefined],
  ['with limited jerk', 60000],
])('a circle at 60 mm/s, %s: v2 / r all along, away from its ends', (_, jerk) => {
  const { stretches, total } = course(
    circle(20, 200, 2, 60),
    machine({ acceleration: 3000, jerk }),
  );
  const inside = stretches.flat().filter(({ t }) => t > 0.3 && t < total - 0.3);
  const turning = inside.map(({ a }) => Math.hypot(a[0]!, a[1]!) / (60 ** 2 / 20));
  expect(Math.min(...turning)).toBeCloseTo(1, 2);
  expect(Math.max(...turning)).toBeCloseTo(1, 2);
});
