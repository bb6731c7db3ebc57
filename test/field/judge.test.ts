/** What a field is worth, against closed forms of the ring and the pipe. */
import { describe, expect, test } from 'vitest';
import { DEG, type Vec3 } from '../../lib/base/vector.js';
import type { GrowthRules } from '../../lib/field/growth-rules.js';
import { better, judgeField } from '../../lib/field/judge.js';
import { latticeOf } from '../../lib/field/lattice.js';
import { tiltOverTable } from '../../lib/machine/tilt-over-table.js';
import { extruded } from '../../lib/mesh/make-solids.js';
import { atNodes, oneToOne } from '../support/fields.js';
import { ringLying } from '../support/shapes.js';

const rules = (mostTilt: number): GrowthRules => ({
  overhang: 45 * DEG,
  follow: 0,
  mostTilt: () => mostTilt * DEG,
  stretch: [0.67, 2],
});
const needle = { radiusAt: () => 0, top: 0 };

describe('a ring that lies, radii 20 and 5', () => {
  // Between the angles a and b from the lowest line of its section, on both sides of it, a torus has the skin
  // 2 r R 2 pi (b - a). Below 0.2 mm it stands on the table: to the angle acos(1 - 0.2 / 5).
  const stands = Math.acos(1 - 0.2 / 5);
  const band = (to: number): number => 2 * 5 * 20 * 2 * Math.PI * (to - stands);
  const lattice = latticeOf(ringLying(20, 5, 240, 180), 2);
  const flat = oneToOne(
    lattice,
    atNodes(lattice, (p) => p[2]),
    { u: atNodes(lattice, (p) => p[0]), v: atNodes(lattice, (p) => p[1]) },
  );

  // Angles are known to a facet of the section, 2 deg.
  const facet = 2 * 5 * 20 * 2 * Math.PI * 2 * DEG;

  test('hangs under flat layers to 45 deg from its lowest line', () => {
    const { hangingMm2, tilt, hidden } = judgeField(flat, rules(90), needle);
    expect(Math.abs(hangingMm2 - band(45 * DEG))).toBeLessThan(facet);
    expect(tilt).toBeCloseTo(0, 6);
    expect(hidden).toBe(0);
  });

  test.each([10, 15, 20])(
    'cannot be carried to 45 - T deg if the machine tilts by T = %d deg',
    (T) => {
      const { unavoidableMm2 } = judgeField(flat, rules(T), needle);
      expect(Math.abs(unavoidableMm2 - band((45 - T) * DEG))).toBeLessThan(facet);
    },
  );
});

describe('three quarters of a pipe, of radii 12 and 8', () => {
  const arc = (r: number, from: number, to: number): [number, number][] =>
    Array.from({ length: 73 }, (_, i) => {
      const angle = (from + ((to - from) * i) / 72) * DEG;
      return [r * Math.cos(angle), r * Math.sin(angle)];
    });
  const lattice = latticeOf(extruded([[...arc(12, 0, 270), ...arc(8, 270, 0)]], 10), 1.5);
  const radius = ([x, y]: Vec3): number => Math.hypot(x, y);
  const angle = ([x, y]: Vec3): number => (Math.atan2(y, x) + 2.25 * Math.PI) % (2 * Math.PI);
  const head = { radiusAt: () => 3, top: 40 };

  test('is free for a head that comes from outside as it grows outwards', () => {
    const map = oneToOne(lattice, atNodes(lattice, radius), {
      u: atNodes(lattice, (p) => 10 * angle(p)),
      v: atNodes(lattice, (p) => p[2]),
    });
    expect(judgeField(map, rules(90), head).hidden).toBe(0);
  });

  test('hides from a head that reaches through it to grow it inwards', () => {
    const map = oneToOne(
      lattice,
      atNodes(lattice, (p) => 20 - radius(p)),
      {
        u: atNodes(lattice, (p) => -10 * angle(p)),
        v: atNodes(lattice, (p) => p[2]),
      },
    );
    // Two thirds of the wall have other wall across the axis; what is laid first, outside, is free.
    const { hidden } = judgeField(map, rules(90), head);
    expect(hidden).toBeGreaterThan(0.35);
    expect(hidden).toBeLessThan(0.75);
  });
});

test('the tilt over the table is the inverse of the least tip height', () => {
  // A round head of radius r all the way up: its rim comes down by r sin t.
  const tilt = tiltOverTable((t) => 12 * Math.sin(t), 80 * DEG);
  for (const height of [0.3, 1, 3, 6, 9, 11.5]) {
    const exact = Math.min(80 * DEG, Math.asin(height / 12));
    expect(tilt(height)).toBeLessThanOrEqual(exact + 1e-9);
    expect(tilt(height)).toBeGreaterThan(exact - 0.11 * DEG);
  }
  expect(tilt(50)).toBeCloseTo(80 * DEG, 9);
});

test('the better of two fields hides less, then hangs less, then tilts less', () => {
  const one = { hangingMm2: 5, unavoidableMm2: 0, hidden: 0.1, tilt: 1 };
  expect(better({ ...one, hidden: 0, hangingMm2: 50 }, one)).toBe(true);
  expect(better({ ...one, hidden: 0.2, hangingMm2: 0 }, one)).toBe(false);
  expect(better({ ...one, hangingMm2: 4, tilt: 1.5 }, one)).toBe(true);
  expect(better({ ...one, tilt: 0.9 }, one)).toBe(true);
  expect(better(one, one)).toBe(false);
});
