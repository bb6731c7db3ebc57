/**
 * The fit doubts itself: machines of an independent simulator with errors to 1 mm and 1 deg, noise of 0.02 mm, and
 * effects that the fit does not hold.
 */
import { describe, expect, it } from 'vitest';
import { SAMPLE_MACHINES } from '../support/true-machines.js';
import { EFFECTS, fitted, planOf } from './doubted.js';

const SEEDS = 50;
/** Of them: as strict as five of a hundred, to which the guide's counts belong. */
const MOST_WRONG = 2;

describe.each(SAMPLE_MACHINES)('%s', (name) => {
  const plan = planOf(name);

  it(`clean, seeds 1 to ${SEEDS}: at most ${MOST_WRONG} raise an alarm`, () => {
    const alarms = seeds().filter((seed) => {
      const { patterns, trends, scattered } = fitted(plan, name, {}, seed).doubts;
      return scattered || patterns.length > 0 || trends.length > 0;
    });
    expect(alarms.length, String(alarms)).toBeLessThanOrEqual(MOST_WRONG);
  });

  it.each(EFFECTS)(
    `$told, seeds 1 to ${SEEDS}: named in all but ${MOST_WRONG}`,
    ({ told, effects }) => {
      const unnamed = seeds().filter((seed) => {
        const { patterns } = fitted(plan, name, effects, seed).doubts;
        return !patterns.some((p) => p.effect.name.startsWith(told));
      });
      expect(unnamed.length, String(unnamed)).toBeLessThanOrEqual(MOST_WRONG);
    },
  );
});

const seeds = (): number[] => Array.from({ length: SEEDS }, (_, i) => i + 1);
