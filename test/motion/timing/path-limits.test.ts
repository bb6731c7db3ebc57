/**
 * The path of the joints before any speed: lengths and limits against the joints one by one, rounded corners against
 * differences of the parabola that they stand for (a Bezier curve of degree 2 with the corner as its middle control
 * point), and how far the tip strays against the forward kinematics.
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import { DEG, type Vec3, length, sub } from '../../../lib/base/vector.js';
import { forward } from '../../../lib/machine/forward.js';
import type { Machine } from '../../../lib/machine/machine.js';
import type { JointPolyline } from '../../../lib/motion/lay/blocks.js';
import {
  NO_JOINT,
  RADIAN,
  type Route,
  lengthOver,
  leverOf,
  ratesInto,
  routeOf,
  weightsOf,
} from '../../../lib/motion/timing/path-limits.js';
import { machine, wandering } from '../routes.js';

const polyline = (
  places: readonly (readonly number[])[],
  from = [0, 0, 0, 0, 0],
): JointPolyline => ({
  jointCount: 5,
  from: Float64Array.from(from),
  joints: Float64Array.from(places.flat()),
});

const DEVIATION = 0.05;
const m = machine({ speed: 150 });
const route = (places: readonly (readonly number[])[], from?: number[]): Route =>
  routeOf(m, polyline(places, from), DEVIATION);

/** Joint values where block b of a path ends; -1 for its start. */
const place = ({ from, joints }: JointPolyline, b: number): number[] =>
  b < 0 ? [...from] : [...joints.slice(5 * b, 5 * b + 5)];

/** A radian counts as 50 mm; the project's own rule. */
const COUNTS = [1, 1, 1, 50, 50];

const stepOf = (of: JointPolyline, b: number): number[] => {
  const before = place(of, b - 1);
  return place(of, b).map((x, j) => x - before[j]!);
};

describe.each([1, 2, 3])('any route, seed %d', (seed) => {
  const steps = wandering(seed, 300).map((s) => s.to);
  // With a stop, a stretch straight on and one there and back.
  const stop = steps[100]!;
  const on = stop.map((x, j) => x + (j === 0 ? 3 : 0));
  const made = (): Route =>
    route([...steps.slice(0, 101), stop, on, on.map((x, j) => x + (j === 0 ? 2 : 0)), stop]);

  it('is as long as its steps, weighed and squared; rates are steps for a mm of that', () => {
    const r = made();
    const rate = new Float64Array(5);
    r.length.forEach((far, b) => {
      const step = stepOf(r.polyline, b);
      const want = Math.hypot(...step.map((x, j) => x * COUNTS[j]!));
      expect(far).toBeCloseTo(want, 9);
      expect(lengthOver(r.polyline, weightsOf(m), b)).toBeCloseTo(want, 9);
      expect(ratesInto(m, r.polyline, b, rate)).toBeCloseTo(want, 9);
      step.forEach((x, j) => expect(rate[j]! * (want || 1)).toBeCloseTo(x, 9));
    });
  });

  it('allows speed and acceleration that one joint just bears, and names it', () => {
    const r = made();
    r.length.forEach((far, b) => {
      if (far === 0) {
        expect([r.speed[b], r.ramp[b], r.speedJoint[b], r.rampJoint[b]]).toEqual([
          0,
          0,
          NO_JOINT,
          NO_JOINT,
        ]);
        return;
      }
      const rates = stepOf(r.polyline, b).map((x) => Math.abs(x) / far);
      const speeds = rates.map((x, j) => (x * r.speed[b]!) / m.joints[j]!.speed);
      const ramps = rates.map((x, j) => (x * r.ramp[b]!) / m.joints[j]!.acceleration);
      expect(Math.max(...speeds)).toBeCloseTo(1, 9);
      expect(Math.max(...ramps)).toBeCloseTo(1, 9);
      expect(speeds[r.speedJoint[b]!]).toBeCloseTo(1, 9);
      expect(ramps[r.rampJoint[b]!]).toBeCloseTo(1, 9);
    });
  });

  it('rounds its corners as far as half a block and the deviation of the tip allow', () => {
    const r = made();
    let [by, half] = [0, 0];
    r.length.forEach((_, b) => {
      const d = r.round[b]!;
      if (!(d > 0)) return;
      const most = Math.min(r.length[b - 1]!, r.length[b]!) / 2;
      expect(d).toBeLessThan(most * (1 + 1e-12));
      // The parabola passes the corner at a quarter of the jump over d, of which the tip strays so much at most.
      const [before, corner, after] = [-1, 0, 1].map((k) => controlOf(r, b, k)) as [
        number[],
        number[],
        number[],
      ];
      const middle = corner.map((x, j) => (before[j]! + 2 * x + after[j]!) / 4);
      const off = length(sub(tipOf(middle), tipOf(corner)));
      expect(off).toBeLessThan(DEVIATION * (1 + 1e-3));
      expect((r.stray[b]! * d) / 4).toBeLessThan(DEVIATION * (1 + 1e-9));
      if (d < most * (1 - 1e-9)) {
        by++;
        expect((r.stray[b]! * d) / 4).toBeCloseTo(DEVIATION, 9);
      } else half++;
    });
    expect(Math.min(by, half)).toBeGreaterThan(3);
  });

  it('passes its corners at the speed at which one joint is at its acceleration (differences)', () => {
    const r = made();
    let corners = 0;
    r.length.forEach((_, b) => {
      const d = r.round[b]!;
      if (!(d > 0)) return;
      corners++;
      const control = [-1, 0, 1].map((k) => controlOf(r, b, k));
      const at = (t: number): number[] =>
        [0, 1, 2, 3, 4].map(
          (j) =>
            (1 - t) ** 2 * control[0]![j]! +
            2 * t * (1 - t) * control[1]![j]! +
            t * t * control[2]![j]!,
        );
      // The parameter runs evenly with the path: 2 d of it.
      const h = 0.25;
      const [x, y, z] = [at(0.5 - h), at(0.5), at(0.5 + h)];
      const used = y.map((q, j) => {
        const second = (x[j]! - 2 * q + z[j]!) / (h * 2 * d) ** 2;
        return (Math.abs(second) * r.corner[b]!) / m.joints[j]!.acceleration;
      });
      expect(Math.max(...used)).toBeCloseTo(1, 5);
    });
    expect(corners).toBeGreaterThan(80);
  });

  it('rests where nothing moves and where it turns back, and nowhere else', () => {
    const r = made();
    // Block 101 stands still, block 104 goes back; the wandering part may turn back by itself.
    const want = [0];
    for (let b = 1; b < r.length.length; b++) {
      const [u, v] = [stepOf(r.polyline, b - 1), stepOf(r.polyline, b)].map((s) =>
        s.map((x, j) => x * COUNTS[j]!),
      ) as [number[], number[]];
      const dot = u.reduce((sum, x, j) => sum + x * v[j]!, 0);
      const both = Math.hypot(...u) * Math.hypot(...v);
      if (both === 0 || dot / both < -0.9999) want.push(b);
    }
    want.push(r.length.length);
    expect([...r.segment]).toEqual(want);
    expect(want.slice(-4)).toEqual([101, 102, 104, 105]);
    // Straight on there is no corner.
    expect([r.corner[103], r.stray[103], r.round[103]]).toEqual([Infinity, 0, 0]);
  });
});

/** Control points of the rounded corner at the start of block b: d before it, the corner, d after it. */
function controlOf(r: Route, b: number, k: number): number[] {
  const corner = place(r.polyline, b - 1);
  if (k === 0) return corner;
  const i = k < 0 ? b - 1 : b;
  return stepOf(r.polyline, i).map((x, j) => corner[j]! + (k * x * r.round[b]!) / r.length[i]!);
}

const tipOf = (q: readonly number[]): Vec3 => forward(m, Float64Array.from(q)).tip;

describe('levers', () => {
  it('are the distance of the tip from the axis: of A along X, of C along the turned Z', () => {
    const random = seeded(3);
    for (let n = 0; n < 20; n++) {
      const [x, y, z] = [0, 1, 2].map(() => 200 * (random() - 0.5)) as [number, number, number];
      const a = 2 * (random() - 0.5);
      const q = Float64Array.of(x, y, z, a, 6 * random());
      const before = q.slice();
      // The axis of C, turned by A about X: (0, -sin a, cos a).
      const along = -Math.sin(a) * y + Math.cos(a) * z;
      expect(leverOf(m, q, 3)).toBeCloseTo(Math.hypot(y, z), 4);
      expect(leverOf(m, q, 4)).toBeCloseTo(Math.sqrt(x * x + y * y + z * z - along * along), 4);
      expect(q).toEqual(before);
    }
  });

  const turning = (x: number, by: number): Route =>
    route(
      [
        [x, 0, 0, 0, 0],
        [x, 0, 0, 0, by],
      ],
      [x - 4, 0, 0, 0, 0],
    );

  it('count where the joint turns at a corner: C at 200 mm, 1 mm of X after which C turns', () => {
    // Rates 1 of X before, 1 / 50 rad of C after: the jump of X is 1, that of C 1/50 at a lever of 200 mm.
    expect(turning(200, 0.2).stray[1]).toBeCloseTo(1 + 200 / 50, 6);
    expect(turning(-300, -0.2).stray[1]).toBeCloseTo(1 + 300 / 50, 6);
    // A lever counts as 50 mm at least.
    expect(turning(20, 0.2).stray[1]).toBeCloseTo(2, 6);
    expect(RADIAN).toBe(50);
  });
});

describe('corners', () => {
  const turn = (degrees: number): Route => {
    const a = degrees * DEG;
    return route([
      [50, 0, 0, 0, 0],
      [50 + 40 * Math.cos(a), 40 * Math.sin(a), 0, 0, 0],
    ]);
  };

  it.each([30, 90, 120, 179])(
    'of %d deg: jump 2 sin(a/2), rounded over 4 deviation / jump',
    (a) => {
      // Rates (1, 0) and (cos a, sin a) differ by 2 sin(a/2) in all.
      const jump = 2 * Math.sin((a / 2) * DEG);
      const r = turn(a);
      expect(r.stray[1]).toBeCloseTo(jump, 9);
      expect(r.round[1]).toBeCloseTo((4 * DEVIATION) / jump, 9);
      // k = jump / 2d of the joint that jumps most, at 1000 mm/s2.
      const most = Math.max(1 - Math.cos(a * DEG), Math.sin(a * DEG));
      expect(r.corner[1]).toBeCloseTo((1000 * 2 * r.round[1]!) / most, 6);
      expect([...r.segment]).toEqual([0, 2]);
    },
  );

  it('of more than 179.2 deg stop, since its cosine is -.9999', () => {
    expect([...turn(179.1).segment]).toEqual([0, 2]);
    expect([...turn(179.3).segment]).toEqual([0, 1, 2]);
    expect(turn(179.3).corner[1]).toBe(0);
  });

  it('of joints that turn count a radian as 50 mm: back and forth they stop too', () => {
    const r = route([
      [0, 0, 0, 0, 1],
      [0, 0, 0, 0, 0],
      [0, 0, 0, 0, -1],
    ]);
    expect([...r.segment]).toEqual([0, 1, 3]);
    expect(r.corner[2]).toBe(Infinity);
  });

  it('of mixed joints turn back by both: 50 mm and a radian, then the mirror image of it', () => {
    const there: number[] = [30, 0, 0, 0, 0.6];
    // Weighed: (30, 30), back along X alone is a right angle and a half; back along both is a stop.
    expect([...route([there, [0, 0, 0, 0, 0]]).segment]).toEqual([0, 1, 2]);
    expect([...route([there, [0, 0, 0, 0, 0.6]]).segment]).toEqual([0, 2]);
    expect([...route([there, [30, 0, 0, 0, 0]]).segment]).toEqual([0, 2]);
    // There along X and C, back along X and on with C: square to one another.
    expect([...route([there, [0, 0, 0, 0, 1.2]]).segment]).toEqual([0, 2]);
  });
});

it('without blocks there is one end of a segment and nothing else', () => {
  const r = route([]);
  expect([...r.segment]).toEqual([0]);
  expect(r.length).toHaveLength(0);
  const none: Machine = m;
  expect(weightsOf(none)).toEqual(COUNTS);
});
