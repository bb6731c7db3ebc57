/** Speed profiles and chords against closed forms; derived unless a source is named. */
import { describe, expect, it } from 'vitest';
import { DEG } from '../../../lib/base/vector.js';
import { chordError, trapezoid } from '../../../lib/motion/timing/trapezoid.js';

describe('time over a length', () => {
  it.each([
    // length, v0, v1, v most, a: seconds, peak
    [100, 0, 0, 100, 1000, 1.1, 100],
    [5, 0, 0, 100, 1000, 0.1414214, 70.71068],
    [50, 20, 40, 100, 1000, 0.55, 100],
    [100, 0, 0, 50, 500, 2.1, 50],
    [2, 0, 0, 50, 500, 0.12649, Math.sqrt(1000)],
  ])('L %d, v0 %d, v1 %d, v %d, a %d', (length, v0, v1, v, a, seconds, peak) => {
    const t = trapezoid(length, v0, v1, v, a);
    expect(t.seconds).toBeCloseTo(seconds, 5);
    if (seconds !== 0.55) expect(t.peak).toBeCloseTo(peak, 4);
  });

  it('v0 20, v1 40 over 50 mm: ramps of .08 s and .06 s, 41 / 100 s between them', () => {
    // (100^2 - 20^2 + 100^2 - 40^2) / 2000 = 9 mm of ramps.
    const t = trapezoid(50, 20, 40, 100, 1000);
    expect(t.cruise).toBeCloseTo(0.41, 12);
    expect(t.peak).toBe(100);
  });
});

describe('chords', () => {
  it.each([
    [100, 1, 0.00380769],
    [100, 5, 0.09517784],
    [50, 10, 0.1902651],
  ])('radius %d mm, step %d deg', (radius, step, error) => {
    expect(chordError(radius, step * DEG)).toBeCloseTo(error, 7);
  });
});
