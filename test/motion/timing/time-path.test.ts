/** Times of a joint path as a whole, with and without limits of jerk, and on a machine with other limits. */
import { describe, expect, it } from 'vitest';
import type { Machine } from '../../../lib/machine/machine.js';
import type { JointPolyline } from '../../../lib/motion/lay/blocks.js';
import {
  type TimedPath,
  secondsOf,
  secondsOn,
  straightening,
  timedPath,
} from '../../../lib/motion/timing/time-path.js';
import { FeedSource, type WantedTimes } from '../../../lib/motion/timing/wanted-times.js';
import { machine } from '../routes.js';

/** X by 100 mm, a stand, Y by 5 mm and 20 mm straight on, a stand, X and C at once, a stand, Z by 40 mm. */
const way: JointPolyline = {
  jointCount: 5,
  from: Float64Array.of(10, 0, 0, 0, 0),
  joints: Float64Array.from(
    [
      [110, 0, 0, 0, 0],
      [110, 0, 0, 0, 0],
      [110, 5, 0, 0, 0],
      [110, 25, 0, 0, 0],
      [110, 25, 0, 0, 0],
      [60, 25, 0, 0, 1],
      [60, 25, 0, 0, 1],
      [60, 25, 40, 0, 1],
    ].flat(),
  ),
};
const STANDS = [1, 4, 6];
const wanted: WantedTimes = {
  // The stands take a quarter of a second; all else is as fast as the joints can be.
  least: Float64Array.from({ length: 8 }, (_, b) => (STANDS.includes(b) ? 0.25 : 0)),
  source: new Uint8Array(8).fill(FeedSource.asked),
};
const timed = (m: Machine): TimedPath => timedPath(m, way, wanted, 0.05);

/** Rest to rest over a length, L/v + v/a or 2 sqrt(L/a): uniformly accelerated motion. */
const rest = (length: number, v: number, a: number): number =>
  length < (v * v) / a ? 2 * Math.sqrt(length / a) : length / v + v / a;

/** 50 mm of X (v, 1000 mm/s2) and a radian of C (w, 3600 deg/s2) together: in shares of the way, by the weaker joint. */
const together = (v: number, w: number): number =>
  rest(1, Math.min(v / 50, w), Math.min(1000 / 50, 20 * Math.PI));

it('sums what the moves take from rest to rest and the stands', () => {
  const m = machine({ speed: 100, acceleration: 1000 });
  const apart = rest(100, 100, 1000) + rest(25, 100, 1000) + rest(40, 100, 1000);
  expect(secondsOf(timed(m))).toBeCloseTo(apart + together(100, 2 * Math.PI) + 3 * 0.25, 9);
});

it('with a limit of jerk by the double S, L/v + v/a + a/j', () => {
  const m = machine({ speed: 100, acceleration: 1000, jerk: 10000 });
  const { times } = timed(m);
  expect(times.real[0]).toBeCloseTo(1.2, 6);
  // 40 mm and 25 mm, long enough for the greatest speed: .4 and .25 s, and the ramps of .2 s.
  expect(times.real[7]).toBeCloseTo(0.6, 6);
  expect(times.real[2]! + times.real[3]!).toBeCloseTo(0.45, 6);
  // One joint with such a limit is enough.
  const joints = m.joints.map((j, i) => (i === 0 ? j : { ...j, jerk: Infinity }));
  expect(timed({ ...m, joints }).times.real[0]).toBeCloseTo(1.2, 6);
});

it('a fifth of the deviation is left to straightening, the corners have the rest', () => {
  expect(straightening(0.05)).toBeCloseTo(0.01, 12);
  const corner: JointPolyline = {
    ...way,
    joints: Float64Array.of(110, 0, 0, 0, 0, 110, 100, 0, 0, 0),
  };
  const none = { least: new Float64Array(2), source: new Uint8Array(2) };
  const { route } = timedPath(machine(), corner, none, 0.05);
  expect(route.deviation).toBeCloseTo(0.04, 12);
  // A right angle: jump sqrt 2, passed at jump d / 4.
  expect((Math.SQRT2 * route.round[1]!) / 4).toBeCloseTo(0.04, 9);
});

describe('on a machine with another limit of one joint', () => {
  const m = machine({ speed: 100, acceleration: 1000 });
  const with_ = (j: number, change: object): Machine => ({
    ...m,
    joints: m.joints.map((joint, i) => (i === j ? { ...joint, ...change } : joint)),
  });
  const known = (): TimedPath => timed(m);
  const [x, y, xc, z] = [
    rest(100, 100, 1000),
    rest(25, 100, 1000),
    together(100, 2 * Math.PI),
    rest(40, 100, 1000),
  ] as [number, number, number, number];

  it.each([
    ['X at 50 mm/s', 0, { speed: 50 }, rest(100, 50, 1000) + y + together(50, 2 * Math.PI) + z],
    ['Y at 20 mm/s', 1, { speed: 20 }, x + rest(25, 20, 1000) + xc + z],
    ['Z at 2000 mm/s2', 2, { acceleration: 2000 }, x + y + xc + rest(40, 100, 2000)],
    ['A at rest', 3, { speed: 1e-6 }, x + y + xc + z],
    ['C at 1 rad/s', 4, { speed: 1 }, x + y + together(100, 1) + z],
  ])('%s: all moves as long as they take there', (_, j, change, moves) => {
    expect(secondsOn(with_(j, change), j, known())).toBeCloseTo(moves + 3 * 0.25, 9);
  });

  it('takes over the times of segments in which that joint stands still', () => {
    // As if each block had taken a thousand seconds.
    const slow = { ...known(), times: { real: new Float64Array(8).fill(1000) } };
    const on = (j: number): number => secondsOn(m, j, slow as unknown as TimedPath);
    expect(on(0)).toBeCloseTo(x + xc + 6 * 1000, 6);
    expect(on(1)).toBeCloseTo(y + 6 * 1000, 6);
    expect(on(2)).toBeCloseTo(z + 7 * 1000, 6);
    expect(on(3)).toBeCloseTo(8 * 1000, 6);
    expect(on(4)).toBeCloseTo(xc + 7 * 1000, 6);
  });
});
