/**
 * One stretch of constant path acceleration, against linear programming by its corners: all bands are put
 * down again from q'' = p s'' + k s'^2 (chain rule), and of all meetings of two limits those are kept that
 * hold every limit. For two variables the optimum is one of them (fundamental theorem of linear programming).
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import { Interval } from '../../../lib/motion/timing/interval.js';

interface Joint {
  readonly p0: number;
  readonly p1: number;
  readonly k: number;
  readonly limit: number;
}

/** The line a x0 + b x1 = c, and the half plane on its side of the origin. */
type Limit = readonly [a: number, b: number, c: number];

/** |p a + k x| <= limit at both ends, with a = (x1 - x0) / 2h. */
const limitsOf = (joints: readonly Joint[], h: number): Limit[] =>
  joints.flatMap(({ p0, p1, k, limit }) =>
    [1, -1].flatMap((sign): Limit[] => [
      [sign * (k - p0 / (2 * h)), sign * (p0 / (2 * h)), limit],
      [sign * (-p1 / (2 * h)), sign * (k + p1 / (2 * h)), limit],
    ]),
  );

/** Greatest value of one of both variables over what all limits allow. */
function optimum(limits: readonly Limit[], of: 0 | 1): number {
  let most = -Infinity;
  for (let i = 0; i < limits.length; i++) {
    for (let j = 0; j < i; j++) {
      const [[a, b, c], [d, e, f]] = [limits[i]!, limits[j]!];
      const det = a * e - b * d;
      if (Math.abs(det) < 1e-12) continue;
      const x = [(c * e - b * f) / det, (a * f - c * d) / det] as const;
      const room = (l: Limit): number => l[2] - l[0] * x[0] - l[1] * x[1];
      if (limits.every((l) => room(l) > -1e-9 * (Math.abs(l[2]) + 1))) most = Math.max(most, x[of]);
    }
  }
  return most;
}

describe.each([1, 2, 3, 4])('stretches at random, seed %d', (seed) => {
  const random = seeded(seed);
  const cases = Array.from({ length: 150 }, () => {
    const h = 0.05 + 2 * random();
    const joints = Array.from({ length: 1 + Math.floor(5 * random()) }, (): Joint => {
      const p0 = random() < 0.1 ? 0 : 2 * random() - 1;
      const k = random() < 0.3 ? 0 : random() - 0.5;
      // The rate changes by k over the stretch.
      return { p0, p1: p0 + k * h, k, limit: 10 + 100 * random() };
    }).filter((j) => j.p0 !== 0 || j.p1 !== 0);
    const interval = new Interval(5);
    // What an earlier stretch put in is gone.
    interval.add(0, 1, 1, 5, 0.01, 1e-3);
    interval.clear();
    joints.forEach((j, i) => interval.add(i, j.p0, j.p1, j.k, h, j.limit));
    // No square of a speed is asked for at which the curvature alone would be too much.
    const allowed = Math.min(600, ...joints.map((j) => j.limit / Math.abs(j.k)));
    const limits = limitsOf(joints, h);
    return {
      interval,
      joints,
      limits,
      cap: allowed * random(),
      most: allowed * random(),
      share: random(),
    };
  });

  it('the greatest square of speed before one that can be reached', () => {
    for (const { interval, limits, cap, most } of cases) {
      const all: Limit[] = [...limits, [1, 0, cap], [-1, 0, 0], [0, 1, most], [0, -1, 0]];
      const want = optimum(all, 0);
      expect(Math.abs(interval.mostBefore(cap, most) - want)).toBeLessThan(1e-6 * (1 + want));
    }
  });

  it('the greatest one after', () => {
    for (const { interval, limits, cap, most, share } of cases) {
      // From one of which there is something after it.
      const x0 = share * interval.mostBefore(cap, most);
      const all: Limit[] = [...limits, [1, 0, x0], [-1, 0, -x0], [0, 1, most], [0, -1, 0]];
      const want = optimum(all, 1);
      expect(want).toBeGreaterThanOrEqual(0);
      expect(Math.abs(interval.mostAfter(x0, most) - want)).toBeLessThan(1e-6 * (1 + want));
    }
  });

  it('the joint that is nearest to its limit, and how near', () => {
    for (const { interval, joints, limits, cap: x0, most: x1 } of cases) {
      // Four limits a joint.
      const used = joints.map((_, i) =>
        Math.max(...limits.slice(4 * i, 4 * i + 4).map(([a, b, c]) => (a * x0 + b * x1) / c)),
      );
      const { joint, share } = interval.hardest(x0, x1);
      const most = Math.max(0, ...used);
      expect(share).toBeCloseTo(most, 9);
      if (most > 0) expect(used[joint]).toBeCloseTo(most, 9);
    }
  });
});

it('one joint that turns: the most is what its curvature alone allows, limit / k', () => {
  // |p a + k x| <= 20 at both ends, p from -.3 to -.1 over .5 mm: the two bounds meet at x0 = x1 = 20 / .4.
  const one = new Interval(1);
  one.add(0, -0.3, -0.1, 0.4, 0.5, 20);
  expect(one.mostBefore(500, 500)).toBeCloseTo(50, 9);
  expect(one.mostBefore(500, 50)).toBeCloseTo(50, 9);
  // Below the meeting: 28.57 + .4286 x1; above it less again, but x1 need not be so great.
  expect(one.mostBefore(500, 20)).toBeCloseTo((20 + 0.3 * 20) / 0.7, 9);
  expect(one.mostBefore(500, 60)).toBeCloseTo(50, 9);
  expect(one.mostBefore(45, 60)).toBe(45);
});

it('a joint that turns beside one that does not: 50 all the same, past where the steeper bound would meet', () => {
  // The second joint allows |x1 - x0| <= 10: x0 = 10 + x1 meets the falling bound 200 - 3 x1 at 47.5, where the first
  // joint's rising one lies at 48.9 already.
  const two = new Interval(2);
  two.add(0, -0.3, -0.1, 0.4, 0.5, 20);
  two.add(1, 1, 1, 0, 0.5, 10);
  expect(two.mostBefore(500, 60)).toBeCloseTo(50, 9);
  expect(two.mostBefore(500, 10)).toBeCloseTo(20, 9);
});

it('without joints nothing is limited', () => {
  const none = new Interval(2);
  none.add(0, 0, 0, 0.3, 1, 10);
  expect(none.mostBefore(70, 50)).toBe(70);
  expect(none.mostAfter(70, 50)).toBe(50);
  expect(none.hardest(70, 50)).toEqual({ joint: -1, share: 0 });
});
