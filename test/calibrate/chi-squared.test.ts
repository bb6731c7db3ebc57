/**
 * The chi-squared tail against the table of upper critical values in the NIST/SEMATECH e-Handbook of Statistical
 * Methods, 1.3.6.7.4 (from memory, as in any handbook).
 */
import { describe, expect, it } from 'vitest';
import { chiSquaredTail } from '../../lib/calibrate/chi-squared.js';

describe('share of cases above a critical value', () => {
  it.each([
    [1, 0.05, 3.841],
    [2, 0.05, 5.991],
    [10, 0.05, 18.307],
    [60, 0.05, 79.082],
    [1, 0.01, 6.635],
    [10, 0.01, 23.209],
    [60, 0.01, 88.379],
    [1, 0.001, 10.828],
    [10, 0.001, 29.588],
    [60, 0.001, 99.607],
    [3, 0.95, 0.352],
  ])('%i degrees of freedom: %f above %f', (freedom, share, value) => {
    // The table has three decimals.
    const slack = share * (value < 1 ? 0.002 : 3e-4);
    expect(Math.abs(chiSquaredTail(value, freedom) - share)).toBeLessThan(slack + 1e-5);
  });

  it('two degrees of freedom: exp(-x / 2) exactly; none below zero', () => {
    expect(chiSquaredTail(3, 2)).toBeCloseTo(Math.exp(-1.5), 14);
    expect(chiSquaredTail(0, 7)).toBe(1);
  });

  it('far out it neither overflows nor stops falling', () => {
    const tails = [200, 400, 800, 1200].map((x) => chiSquaredTail(x, 61));
    tails.forEach((t, i) => expect(t).toBeLessThan(i ? tails[i - 1]! : 1e-15));
    expect(tails.at(-1)).toBeGreaterThan(0);
  });
});
