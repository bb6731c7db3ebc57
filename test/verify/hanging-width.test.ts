/** How much of a bead's width hangs, against lengths on the line across it. */
import { describe, expect, it } from 'vitest';
import { hangingWidth } from '../../lib/verify/hanging-width.js';

const HALF = 0.25;
const REACH = 0.2;
/** Signed distance from material between two places across the bead, mm. */
const between =
  (from: number, to: number) =>
  (x: number): number =>
    Math.max(from - x, x - to);
const width = (distance: (x: number) => number, isOpen = (_: number): boolean => true): number =>
  hangingWidth(HALF, REACH, distance, isOpen);

describe('a bead of 0.5 mm, of which 0.2 mm more than what it lies on is held', () => {
  it.each([0.5, 0.3, 0.12, 0, -0.1, -0.4])('hangs beyond material that ends at %f mm', (edge) => {
    const hung = Math.min(2 * HALF, Math.max(0, HALF - edge - REACH));
    // Whether it lies to the left or to the right.
    expect(width(between(-9, edge))).toBeCloseTo(hung, 9);
    expect(width(between(-edge, 9))).toBeCloseTo(hung, 9);
  });

  it('hangs on both sides of a narrow rib, or on the open one alone', () => {
    // A rib of 0.02 mm in the middle holds 0.21 mm to either side: 0.04 mm hang at each edge.
    const rib = between(-0.01, 0.01);
    expect(width(rib)).toBeCloseTo(2 * (HALF - 0.21), 9);
    expect(width(rib, (x) => x < 0)).toBeCloseTo(HALF - 0.21, 9);
    expect(width(rib, (x) => x > 0)).toBeCloseTo(HALF - 0.21, 9);
    expect(width(rib, () => false)).toBe(0);
  });

  it('by one sample that is held it hangs to its left if that is open, and not to its right if that is closed', () => {
    // A rib off the middle: 0.21 mm about 0.06 mm are held, from -0.15 to 0.27 mm.
    const held = between(0.05, 0.07);
    expect(width(held, (x) => x < 0)).toBeCloseTo(HALF - 0.15, 9);
    expect(width(held, (x) => x > 0)).toBe(0);
    // Only known as held or not: its edge is found to a 32nd of the way between two samples.
    const known = (x: number): number => (x === 0.2 * HALF ? 0 : 1);
    const step = 0.4 * HALF;
    const left = width(known, (x) => x < 0);
    expect(left).toBeGreaterThan(3 * step - step / 32);
    expect(left).toBeLessThanOrEqual(3 * step);
    const right = width(known, (x) => x > 0);
    expect(right).toBeGreaterThan(2 * step - step / 32);
    expect(right).toBeLessThanOrEqual(2 * step);
  });

  it('with nothing below it hangs as a whole if there is air under its middle', () => {
    const nothing = (): number => 9;
    expect(width(nothing)).toBeCloseTo(2 * HALF, 9);
    expect(width(nothing, (x) => Math.abs(x) > 0.1)).toBe(0);
    expect(width(nothing, (x) => Math.abs(x) < 0.1)).toBeCloseTo(2 * HALF, 9);
  });

  it('strips narrower than 0.012 mm are rounding', () => {
    expect(width(between(-9, HALF - REACH - 0.011))).toBe(0);
    expect(width(between(-9, HALF - REACH - 0.013))).toBeCloseTo(0.013, 9);
  });
});
