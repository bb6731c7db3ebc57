/**
 * Least times from rest to rest against the closed forms of the double-S profile (Biagiotti and Melchiorri,
 * Trajectory Planning for Automatic Machines and Robots, sec. 3.4; from memory and derived again).
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import type { Joint } from '../../../lib/machine/machine.js';
import { moveSeconds, restToRest } from '../../../lib/motion/timing/rest-to-rest.js';
import { machine } from '../routes.js';

const joint = (speed: number, acceleration: number, jerk = Infinity): Joint =>
  ({ speed, acceleration, jerk }) as Joint;

/** By cases: which of speed v and acceleration a are reached with jerk j over the length l. */
function closedForm(l: number, v: number, a: number, j: number): number {
  const even = v >= (a * a) / j;
  // Length in which v is reached and left again at once.
  const least = even ? v * (v / a + a / j) : 2 * v * Math.sqrt(v / j);
  if (l >= least) return l / v + (even ? v / a + a / j : 2 * Math.sqrt(v / j));
  // Length in which a is reached and left again at once.
  if (l >= (2 * a ** 3) / j ** 2) return a / j + Math.sqrt((a / j) ** 2 + (4 * l) / a);
  return 4 * Math.cbrt(l / (2 * j));
}

describe('one joint', () => {
  it.each([
    ['reaches speed and acceleration: L/v + v/a + a/j', 100, 100, 1000, 10000, 1 + 0.1 + 0.1],
    ['reaches its speed alone: L/v + 2 sqrt(v/j)', 50, 40, 1000, 1000, 1.25 + 0.4],
    [
      'reaches its acceleration alone: a/j + sqrt((a/j)2 + 4 L/a)',
      40,
      1e3,
      500,
      5000,
      0.1 + Math.sqrt(0.33),
    ],
    ['reaches neither: 4 (L / 2j)^(1/3)', 0.5, 1e3, 1e5, 2000, 0.2],
  ])('%s', (_, l, v, a, j, seconds) => {
    expect(restToRest(joint(v, a, j), l)).toBeCloseTo(seconds, 9);
    expect(closedForm(l, v, a, j)).toBeCloseTo(seconds, 9);
  });

  it('2,000 lengths and limits at random, seed 4', () => {
    const random = seeded(4);
    for (let n = 0; n < 2000; n++) {
      const [l, v, a, j] = [-2, 0, 1, 2].map((low) => 10 ** (low + 3.5 * random())) as [
        number,
        number,
        number,
        number,
      ];
      expect(restToRest(joint(v, a, j), l) / closedForm(l, v, a, j)).toBeCloseTo(1, 6);
    }
  });

  it('without a limit of jerk: L/v + v/a, or 2 sqrt(L/a) where the speed is not reached', () => {
    expect(restToRest(joint(100, 1000), 50)).toBeCloseTo(0.6, 9);
    expect(restToRest(joint(100, 1000), 2.5)).toBeCloseTo(0.1, 9);
    expect(restToRest(joint(Infinity, 1000), 250)).toBeCloseTo(1, 9);
  });

  it('takes no time to go nowhere', () => {
    expect(restToRest(joint(100, 1000, 1e4), 0)).toBe(0);
  });
});

it('a move takes as long as its slowest joint, whichever way it goes', () => {
  // X, Y and Z at 1000 mm/s and 1000 mm/s2; C at 360 deg/s and 3600 deg/s2.
  const turn = 270 * (Math.PI / 180);
  const m = machine();
  expect(moveSeconds(m, [0, 0, 0, 0, 0], [40, -90, 10, 0, 0])).toBeCloseTo(0.6, 9);
  expect(moveSeconds(m, [0, 0, 0, 0, turn], [40, -90, 10, 0, 0])).toBeCloseTo(0.75 + 0.1, 9);
  expect(moveSeconds(m, [1, 2, 3, 0, 0], [1, 2, 3, 0, 0])).toBe(0);
});
