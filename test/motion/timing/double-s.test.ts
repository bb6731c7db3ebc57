/** Ramps and gains of speed against sums over many small steps of time, and at the ends of their ranges. */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import { gain, peakOf, rampLength, rampTo } from '../../../lib/motion/timing/double-s.js';

const STEPS = 20_000;

/** Speed and acceleration after a length, from v and a0, jerk j up to a: the midpoint rule over time. */
function gained(v: number, a0: number, length: number, a: number, j: number): [number, number] {
  const dt = length / Math.max(v, Math.sqrt(2 * a * length), 1e-3) / STEPS;
  let [s, speed, acceleration] = [0, v, a0];
  while (s < length) {
    const middle = Math.min(a, acceleration + (j * dt) / 2);
    s += dt * (speed + (middle * dt) / 2);
    speed += middle * dt;
    acceleration = Math.min(a, acceleration + j * dt);
  }
  return [speed, acceleration];
}

it.each([1, 2])('the quickest gain of speed, seed %d', (seed) => {
  const random = seeded(seed);
  const out = new Float64Array(2);
  let [rising, level] = [0, 0];
  for (let n = 0; n < 40; n++) {
    const a = 100 + 900 * random();
    const a0 = n % 3 ? a * random() : 0;
    const v = n % 4 ? 100 * random() : 0;
    const j = 10 ** (3 + 2 * random());
    const length = 10 ** (-1 + 2 * random());
    gain(v, a0, length, a, j, out);
    const [speed, acceleration] = gained(v, a0, length, a, j);
    expect(Math.abs(out[0]! / speed - 1)).toBeLessThan(2e-3);
    expect(Math.abs(out[1]! - acceleration)).toBeLessThan(2e-3 * a);
    if (out[1]! < a) rising++;
    else level++;
  }
  expect(rising).toBeGreaterThan(5);
  expect(level).toBeGreaterThan(5);
});

describe('without a limit of jerk', () => {
  it('the gain is that of even acceleration: v2 = v0 2 + 2 a s', () => {
    const out = new Float64Array(2);
    gain(30, 0, 8, 500, Infinity, out);
    expect([...out]).toEqual([Math.sqrt(900 + 8000), 500]);
  });
});

it.each([3, 4])('the speed to which a ramp leads fills its length, seed %d', (seed) => {
  const random = seeded(seed);
  for (let n = 0; n < 200; n++) {
    const [v0, most] = [50 * random(), 50 + 200 * random()];
    const [a, j] = [100 + 1000 * random(), 10 ** (3 + 2 * random())];
    const whole = rampLength(v0, most, a, j);
    expect(rampTo(v0, 1.01 * whole, most, a, j)).toBe(most);
    const length = whole * random();
    const v = rampTo(v0, length, most, a, j);
    expect(v).toBeGreaterThanOrEqual(v0);
    expect(Math.abs(rampLength(v0, v, a, j) - length)).toBeLessThan(1e-6 * (1 + length));
    expect(rampTo(v0, 0, most, a, j)).toBe(v0);
    expect(rampTo(most, length, v0, a, j)).toBe(v0);
  }
});

it.each([5, 6])('the peak of a profile fills its length or is the greatest, seed %d', (seed) => {
  const random = seeded(seed);
  for (let n = 0; n < 200; n++) {
    const [v0, v1] = [50 * random(), 50 * random()];
    const [a, j] = [100 + 1000 * random(), 10 ** (3 + 2 * random())];
    const most = 60 + 200 * random();
    const both = (v: number): number => rampLength(v0, v, a, j) + rampLength(v, v1, a, j);
    const least = Math.max(v0, v1);
    expect(peakOf(1.01 * both(most), v0, v1, most, a, j)).toBe(most);
    const length = both(least) + (both(most) - both(least)) * random();
    const peak = peakOf(length, v0, v1, most, a, j);
    expect(Math.abs(both(peak) - length)).toBeLessThan(1e-6 * (1 + length));
    expect(peakOf(0.99 * both(least), v0, v1, most, a, j)).toBe(least);
    expect(peakOf(length, v0, v1, least / 2, a, j)).toBe(least);
  }
});
