/**
 * The fit doubts itself: machines of an independent simulator with errors to 1 mm and 1 deg, noise of 0.02 mm, and
 * effects that the fit does not hold.
 */
import { describe, expect, it } from 'vitest';
import { SAMPLE_MACHINES } from '../support/true-machines.js';
import { EFFECTS, fitted, planOf } from './doubted.js';

const SEEDS = 100;

describe.each(SAMPLE_MACHINES)('%s', (name) => {
  const plan = planOf(name);

  it(`clean, seeds 1 to ${SEEDS}: at most 5 raise an alarm`, () => {
    const alarms = seeds().filter((seed) => {
      const { patterns, trends, scattered } = fitted(plan, name, {}, seed).doubts;
      return scattered || patterns.length > 0 || trends.length > 0;
    });
    expect(alarms.length, String(alarms)).toBeLessThanOrEqual(5);
  });

  it.each(EFFECTS)(`$told, seeds 1 to ${SEEDS}: named in at least 95`, ({ told, effects }) => {
    const unnamed = seeds().filter((seed) => {
      const { patterns } = fitted(plan, name, effects, seed).doubts;
      return !patterns.some((p) => p.effect.name.startsWith(told));
    });
    expect(unnamed.length, String(unnamed)).toBeLessThanOrEqual(5);
  });
});

const seeds = (): number[] => Array.from({ length: SEEDS }, (_, i) => i + 1);
