/** Fits by hand: circles, the first harmonic of a face, the tilting axis from three touches. */
import { describe, expect, it } from 'vitest';
import { DEG, type Vec2, type Vec3, length, sub } from '../../lib/base/vector.js';
import { type CircleFit, circleThrough } from '../../lib/calibrate/circle.js';
import { firstHarmonic, tiltAxis, tiltOf } from '../../lib/calibrate/dial.js';
import { modelOf, stateAt } from '../../lib/calibrate/deviation-model.js';
import { widening } from '../../lib/calibrate/student.js';
import { forward } from '../../lib/machine/forward.js';
import { sampleMachine } from './machines.js';

/** Gander, Golub, Strebel, BIT 34 (1994), the example of their section on circles. */
const SIX: Vec2[] = [
  [1, 7],
  [2, 6],
  [5, 8],
  [7, 7],
  [9, 5],
  [3, 7],
];

describe('circle through the six points of Gander, Golub and Strebel 1994', () => {
  // Geometric: from memory and recomputed apart; algebraic and linear recomputed from the formulas.
  it.each<[CircleFit, number, number, number]>([
    ['geometric', 4.73978241, 2.98353264, 4.71422608],
    ['algebraic', 5.37941332, 7.25319848, 3.03704146],
    ['linear', 4.74233129, 3.8351227, 4.10876152],
  ])('%s', (fit, x, y, r) => {
    const circle = circleThrough(SIX, fit);
    expect(circle.fit).toBe(fit);
    expect(circle.centre[0]).toBeCloseTo(x, 6);
    expect(circle.centre[1]).toBeCloseTo(y, 6);
    expect(circle.radius).toBeCloseTo(r, 6);
  });

  it('the geometric one leaves the least: 1.22759908', () => {
    expect(circleThrough(SIX).squares).toBeCloseTo(1.22759908, 6);
    expect(circleThrough(SIX, 'linear').squares).toBeGreaterThan(1.2276);
  });
});

const ringOf = (count: number, radius: (i: number) => number, turn = 360): Vec2[] =>
  Array.from({ length: count }, (_, i) => {
    const a = ((i * turn) / count) * DEG;
    return [3 + radius(i) * Math.cos(a), -7 + radius(i) * Math.sin(a)];
  });

it('radius 10 + 1 and 10 - 1 in turn: geometric 10, linear sqrt(101) (closed form)', () => {
  const points = ringOf(8, (i) => (i % 2 ? 9 : 11));
  expect(circleThrough(points).radius).toBeCloseTo(10, 9);
  expect(circleThrough(points, 'linear').radius).toBeCloseTo(10.04987562, 8);
});

it('three points: all three fits give the circle through them', () => {
  for (const fit of ['geometric', 'linear', 'algebraic'] as const) {
    const { centre, radius } = circleThrough(
      ringOf(3, () => 12),
      fit,
    );
    expect(centre[0]).toBeCloseTo(3, 6);
    expect(centre[1]).toBeCloseTo(-7, 6);
    expect(radius).toBeCloseTo(12, 6);
  }
});

it('the arc that the points span is told', () => {
  expect(circleThrough(ringOf(4, () => 5, 40)).arc / DEG).toBeCloseTo(30, 6);
  expect(circleThrough(ringOf(8, () => 5)).arc / DEG).toBeCloseTo(315, 6);
});

describe('points that are no circle are refused', () => {
  it.each<[string, Vec2[], RegExp]>([
    ['two points', SIX.slice(0, 2), /2 points, a circle needs at least 3/],
    [
      'points on a line',
      [
        [0, 0],
        [1, 2],
        [2, 4],
        [5, 10],
      ],
      /one line/,
    ],
    ['one point again and again', [SIX[0]!, SIX[0]!, SIX[0]!], /one place/],
    ['not a number', [...SIX, [NaN, 1]], /point 7/],
  ])('%s', (_, points, message) => {
    expect(() => circleThrough(points)).toThrow(message);
  });
});

describe('first harmonic of a face, z = 0.1 + 0.03 cos + 0.04 sin at 8 x 45 deg', () => {
  const angles = Array.from({ length: 8 }, (_, i) => i * 45 * DEG);
  const heights = [0.13, 0.149497, 0.14, 0.107071, 0.07, 0.050503, 0.06, 0.092929];

  it('mean, cosine, sine, direction, and the tilt at radius 80 (closed form)', () => {
    const h = firstHarmonic(angles, heights);
    expect(h.mean).toBeCloseTo(0.1, 6);
    expect(h.cosine).toBeCloseTo(0.03, 6);
    expect(h.sine).toBeCloseTo(0.04, 6);
    expect(h.direction / DEG).toBeCloseTo(53.1301, 3);
    expect(tiltOf(h.amplitude, 80) / DEG).toBeCloseTo(0.03580986, 6);
  });

  it('a second harmonic changes nothing but what is left', () => {
    const h = firstHarmonic(
      angles,
      heights.map((z, i) => z + 0.02 * Math.cos(2 * angles[i]!)),
    );
    expect(h.cosine).toBeCloseTo(0.03, 6);
    expect(h.sine).toBeCloseTo(0.04, 6);
    // Root mean square of 0.02 cos over whole periods.
    expect(h.left).toBeCloseTo(0.02 / Math.SQRT2, 6);
  });

  it('a tilt of 0.1 deg reads 2 r tan(0.1 deg) = 0.27925296 in all at radius 80', () => {
    const tilted = angles.map((a) => 80 * Math.tan(0.1 * DEG) * Math.cos(a));
    expect(2 * firstHarmonic(angles, tilted).amplitude).toBeCloseTo(0.27925296, 8);
  });

  it('readings at one angle and its opposite do not tell it', () => {
    expect(() => firstHarmonic([0, Math.PI, 0, Math.PI], [1, 2, 1, 2])).toThrow(/do not determine/);
    expect(() => firstHarmonic([0, 1], [1, 2])).toThrow(/at least 3/);
  });
});

describe('tilting axis from three touches at one place (closed form)', () => {
  // A plane h over the axis, turned about X by a, met at Y by a disc of diameter `tip` from above.
  const touch = (a: number, h: number, y0: number, y: number, tip: number): number =>
    50 + h / Math.cos(a) + (y - y0) * Math.tan(a) + (tip / 2) * Math.abs(Math.tan(a));

  it.each([0, 0.8])('h 12.3 and y0 1.7 come back, flat of the tip %s mm', (tip) => {
    for (const a of [20, 30, 45, 60].map((d) => d * DEG)) {
      const z = [0, a, -a].map((t) => touch(t, 12.3, 1.7, 9, tip)) as [number, number, number];
      const axis = tiltAxis(9, a, tip, ...z);
      expect(axis.height).toBeCloseTo(12.3, 11);
      expect(axis.across).toBeCloseTo(1.7, 11);
    }
  });

  it.each([
    [30, 7.92],
    [45, 2.96],
    [60, 1.22],
  ])('noise gain at %s deg is %s', (deg, gain) => {
    expect(tiltAxis(0, deg * DEG, 0, 0, 1, 1).noiseGain).toBeCloseTo(gain, 2);
  });

  it('no tilt, no answer', () => {
    expect(() => tiltAxis(0, 0, 0, 0, 1, 1)).toThrow(/between 0 and 90 deg/);
  });
});

describe('errors of the rotary axes', () => {
  const model = modelOf(sampleMachine('table-table-ac'), []);

  it('two axes have eight that do not depend on their values (IJPEM 2024, s12541-024-00966-0)', () => {
    expect(model.parameters.filter((p) => p.group === 'axis')).toHaveLength(8);
  });

  it.each([10, 45, 90])(
    'an axis 1 mm beside its place misses by 2 sin(a / 2) mm at %s deg',
    (deg) => {
      for (const side of ['Y', 'Z']) {
        const errors = model.parameters.map((p) =>
          p.name === `A axis shifted along ${side}` ? 1 : 0,
        );
        const joints = [20, 10, 5, deg * DEG, 0];
        const [is, was] = [errors, errors.map(() => 0)].map(
          (x) => forward(stateAt(model, x).machine, joints).tip,
        ) as [Vec3, Vec3];
        // The table's origin rides on the axis of C, which the error of A leaves alone.
        expect(length(sub(is, was))).toBeCloseTo(2 * Math.sin((deg * DEG) / 2), 9);
      }
    },
  );
});

describe('few readings widen the uncertainty', () => {
  // GUM (JCGM 100:2008) table G.2, t for 99.73 %, from memory.
  it.each([
    [10, 3.96],
    [15, 3.59],
    [20, 3.42],
    [30, 3.27],
    [40, 3.2],
    [50, 3.16],
  ])('%s degrees of freedom: t = %s', (freedom, t) => {
    expect(3 * widening(freedom)).toBeCloseTo(t, 1);
    expect(Math.abs(3 * widening(freedom) - t)).toBeLessThan(0.011);
  });
});
