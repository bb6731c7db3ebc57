/**
 * Simplified chains against their definition: each dropped point is measured from the stretch that stands
 * for it, by another formula (twice a triangle's area over its base), and no stretch could have been
 * longer. Stretches of at most 12 points are the project's own rule.
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import { type Vec3, cross, dot, length, pointAt, sub } from '../../../lib/base/vector.js';
import { simplifiedChain } from '../../../lib/clearance/convex/simplify-chain.js';

const MOST = 12;

/** Distance of p from the segment a b. */
function fromSegment(p: Vec3, a: Vec3, b: Vec3): number {
  const base = sub(b, a);
  if (dot(sub(p, a), base) <= 0) return length(sub(p, a));
  if (dot(sub(p, b), base) >= 0) return length(sub(p, b));
  return length(cross(base, sub(p, a))) / length(base);
}

/** The farthest that a point between a and b lies from the segment between them. */
function strayed(points: Float64Array, a: number, b: number): number {
  let most = 0;
  for (let k = a + 1; k < b; k++) {
    const [p, q, r] = [k, a, b].map((i) => pointAt(points, i)) as [Vec3, Vec3, Vec3];
    most = Math.max(most, fromSegment(p, q, r));
  }
  return most;
}

/** Mostly straight on, with turns, steps back and points that lie on one another. */
function wandering(count: number, size: number, seed: number): Float64Array {
  const random = seeded(seed);
  const by = () => size * (random() - 0.5);
  const at = [0, 0, 0];
  let step = [1, 0, 0];
  return Float64Array.from(
    Array.from({ length: count }, () => {
      const kind = random();
      if (kind < 0.2) step = [by() * 8, by() * 8, by() * 8];
      else if (kind < 0.25) step = step.map((x) => -x);
      const moves = kind > 0.95 ? 0 : random();
      step.forEach((x, c) => (at[c]! += moves * x + 0.2 * by()));
      return [...at];
    }).flat(),
  );
}

describe.each([0.01, 1, 5])('any chain to within %d mm', (tolerance) => {
  it.each([1, 2, 3])('is as near as that and as short as can be, seed %d', (seed) => {
    const points = wandering(400, 3 * tolerance, seed);
    const other = (k: number): boolean => k % 37 !== 0;
    const [from, to] = [5, 390];
    const kept = simplifiedChain(points, from, to, tolerance, other);
    expect(kept[0]).toBe(from);
    expect(kept.at(-1)).toBe(to - 1);
    expect(kept.length).toBeLessThan((to - from) * 0.75);
    for (let n = 1; n < kept.length; n++) {
      const [a, b] = [kept[n - 1]!, kept[n]!];
      expect(b).toBeGreaterThan(a);
      expect(b - a).toBeLessThanOrEqual(MOST);
      expect(strayed(points, a, b)).toBeLessThanOrEqual(tolerance * (1 + 1e-9));
      for (let k = a + 2; k <= b; k++) expect(other(k)).toBe(true);
      // The next point could not have been reached as well.
      if (b + 1 < to && b - a < MOST && other(b + 1)) {
        expect(strayed(points, a, b + 1)).toBeGreaterThan(tolerance * (1 - 1e-9));
      }
    }
  });
});

it('a straight line of 25 points keeps every twelfth; one point is itself', () => {
  const line = Float64Array.from({ length: 75 }, (_, i) => (i % 3 === 0 ? i : 0));
  expect(simplifiedChain(line, 0, 25, 1e-9)).toEqual([0, 12, 24]);
  expect(simplifiedChain(line, 7, 8, 1e-9)).toEqual([7]);
});
