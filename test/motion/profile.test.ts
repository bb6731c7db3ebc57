/** Speed profiles, corners and chords against closed forms; derived unless a source is named. */
import { describe, expect, it } from 'vitest';
import { DEG } from '../../lib/base/vector.js';
import { BlockList, NO_PATH } from '../../lib/motion/blocks.js';
import { MoveKind } from '../../lib/motion/motion.js';
import { paceOf, shapeOf } from '../../lib/motion/pace.js';
import {
  chordError,
  cornerRadius,
  cornerSpeed,
  largestStep,
  trapezoid,
} from '../../lib/motion/profile.js';
import { acJson, linear, machineOf, rotary } from '../machine/machines.js';

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

describe('corners: R / sin(g/2) - R = deviation .05 mm, a 1000 mm/s2', () => {
  it.each([
    [60, 0.05, 7.07107],
    [90, 0.1207107, 10.98684],
    [135, 0.6068536, 24.6344],
    [170, 13.0895619, 114.40962],
  ])('interior angle %d deg', (g, radius, speed) => {
    expect(cornerRadius(0.05, g * DEG)).toBeCloseTo(radius, 6);
    expect(cornerSpeed(1000, cornerRadius(0.05, g * DEG))).toBeCloseTo(speed, 4);
  });
  it('straight on there is none', () => expect(cornerRadius(0.05, Math.PI)).toBe(Infinity));
});

describe('chords', () => {
  it.each([
    [100, 1, 0.00380769],
    [100, 5, 0.09517784],
    [50, 10, 0.1902651],
  ])('radius %d mm, step %d deg', (radius, step, error) => {
    expect(chordError(radius, step * DEG)).toBeCloseTo(error, 7);
  });
  it.each([
    [100, 0.01, 1.6205829, 223],
    [50, 0.02, 3.2412468, 112],
  ])('radius %d mm, error %d mm', (radius, error, step, count) => {
    expect(largestStep(radius, error) / DEG).toBeCloseTo(step, 6);
    expect(Math.ceil((2 * Math.PI) / largestStep(radius, error))).toBe(count);
  });
});

/** A job of straight joint moves from zero, each asking for a tip speed. */
function moves(
  steps: { to: number[]; length: number; speed: number }[],
  change: { speed?: number; acceleration?: number } = {},
) {
  const json = acJson();
  const fast = { ...linear('X', [1, 0, 0]), speed: 1000, acceleration: 1000, ...change };
  const machine = machineOf({
    ...json,
    head: {
      ...json.head,
      joints: [
        fast,
        { ...fast, letter: 'Y', axis: [0, 1, 0] },
        { ...fast, letter: 'Z', axis: [0, 0, 1] },
      ],
    },
    table: {
      ...json.table,
      joints: [
        rotary('A', [1, 0, 0], [-120, 120]),
        { ...rotary('C', [0, 0, 1], 'endless'), speed: 360, acceleration: 3600 },
      ],
    },
  });
  const blocks = new BlockList(new Float64Array(5));
  const speeds = steps.map(({ to, length, speed }) => {
    const tag = { kind: MoveKind.link, region: 0, layer: 0, pathKind: NO_PATH, speed };
    blocks.push(to, length, 0, 0, tag);
    return speed;
  });
  const shape = shapeOf(machine, blocks.take(), 0.05);
  return { shape, pace: paceOf(shape, Float64Array.from(speeds)) };
}

describe('pace', () => {
  it('one move from rest to rest: 1.1 s, .2 s of it at the acceleration of X', () => {
    const { pace } = moves([{ to: [100, 0, 0, 0, 0], length: 100, speed: 100 }]);
    expect(pace.totalSeconds).toBeCloseTo(1.1, 9);
    expect(pace.seconds[0]).toBeCloseTo(1, 9);
    expect(pace.paceShare[0]).toBeCloseTo(0.2 / 1.1, 9);
  });

  it('a straight line in pieces takes as long as in one', () => {
    const pieces = Array.from({ length: 50 }, (_, i) => ({
      to: [2 * (i + 1), 0, 0, 0, 0],
      length: 2,
      speed: 100,
    }));
    expect(moves(pieces).pace.totalSeconds).toBeCloseTo(1.1, 9);
  });

  it('a right angle is passed at 10.98684 mm/s along the corner: sqrt(a R), a of the change', () => {
    // X stops and Y starts: the change of velocity lies along (-1, 1)/sqrt 2, so each joint's
    // 1000 mm/s2 allows 1000 sqrt 2 along it.
    const { shape } = moves([
      { to: [50, 0, 0, 0, 0], length: 50, speed: 100 },
      { to: [50, 50, 0, 0, 0], length: 50, speed: 100 },
    ]);
    expect(shape.corner[0]).toBe(0);
    expect(shape.corner[1]).toBeCloseTo(10.98684 * Math.SQRT2 ** 0.5, 4);
  });

  it('turning back stops', () => {
    const { shape } = moves([
      { to: [50, 0, 0, 0, 0], length: 50, speed: 100 },
      { to: [0, 0, 0, 0, 0], length: 50, speed: 100 },
    ]);
    expect(shape.corner[1]).toBe(0);
  });

  it('tip 50 mm/s on a radius of 50 mm turns C at 57.29578 deg/s', () => {
    // The table turns a quarter under a still head; the tip's path over the part is the arc.
    const quarter = Math.PI / 2;
    const { pace } = moves([{ to: [0, 0, 0, 0, quarter], length: 50 * quarter, speed: 50 }]);
    expect(quarter / DEG / pace.seconds[0]!).toBeCloseTo(57.29578, 5);
  });

  it('a joint at its speed limit sets the pace: C at 360 deg/s, whatever the tip would like', () => {
    const { pace } = moves([{ to: [0, 0, 0, 0, 4 * Math.PI], length: 1, speed: 100 }]);
    expect(pace.seconds[0]).toBeCloseTo(2, 9);
    expect(pace.totalSeconds).toBeCloseTo(2.1, 9);
    expect(pace.paceShare[4]).toBeCloseTo(1, 9);
  });

  it('two joints at once: the slower one decides, 60 mm of X at most 30 mm/s', () => {
    const { pace } = moves([{ to: [60, 60, 0, 0, 0], length: 60 * Math.SQRT2, speed: 500 }], {
      speed: 30,
    });
    expect(pace.seconds[0]).toBeCloseTo(2, 9);
    expect(pace.totalSeconds).toBeCloseTo(2 + 0.03, 9);
  });
});
