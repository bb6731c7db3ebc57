/** The map over the sphere against closed forms, and its reach against the machine's own limits. */
import { describe, expect, test } from 'vitest';
import { shift } from '../../lib/base/frame.js';
import { DEG } from '../../lib/base/vector.js';
import { mapDirections } from '../../lib/directions/direction-map.js';
import { readMachine } from '../../lib/machine/read-files.js';
import { searchLimits } from '../../lib/regions/search/machine-limits.js';
import { openLimits } from '../support/limits.js';
import { cuboid, cylinder, icosphere, rotated } from '../support/shapes.js';
import { readFileSync } from 'node:fs';

const open = openLimits(180);
const rules = { theta: 45 * DEG, foot: 0, count: 400 };
const tiltOf = (z: number): number => Math.acos(z) / DEG;

describe('areas', () => {
  test('the directions share the sphere evenly: its area and second moments come out', () => {
    const { directions, weight } = mapDirections(cuboid([1, 1, 1]), open, {
      ...rules,
      count: 2000,
    });
    const over = (f: (d: readonly [number, number, number]) => number): number =>
      directions.reduce((sum, d) => sum + weight * f(d), 0);
    expect(over(() => 1)).toBeCloseTo(4 * Math.PI, 9);
    // Integral of a squared component over the unit sphere: 4 pi / 3; of a cap to 60 deg: pi.
    for (const c of [0, 1, 2] as const) expect(over((d) => d[c] ** 2)).toBeCloseTo(4.18879, 2);
    expect(over((d) => (d[2] > 0.5 ? 1 : 0))).toBeCloseTo(Math.PI, 1);
  });

  test('a sphere in the air hangs alike in every direction: 2 pi R^2 (1 - sin 45)', () => {
    const ball = rotated(icosphere(10, 4), shift([0, 0, 20]));
    for (const area of mapDirections(ball, open, rules).areas) {
      expect(Math.abs(area / 184.0302 - 1)).toBeLessThan(0.012);
    }
  });

  test('a standing cuboid: the sum of the faces that lean too far, its base never', () => {
    const size = [10, 20, 30] as const;
    const { directions, areas } = mapDirections(cuboid([...size]), open, rules);
    const s = Math.sin(rules.theta);
    directions.forEach(([x, y, z], i) => {
      // Below the horizon a corner of the top begins in the air as well.
      if (z < 0.05) return;
      const sides = (Math.abs(x) > s ? 20 * 30 : 0) + (Math.abs(y) > s ? 10 * 30 : 0);
      expect(areas[i]).toBeCloseTo(sides, 6);
    });
  });

  test('a cylinder whose axis leans by alpha: 2 R L acos(sin theta / sin alpha)', () => {
    const [R, L, n] = [5, 20, 1440];
    const { directions, areas } = mapDirections(cylinder(R, L, n), open, rules);
    const facet = (2 * Math.PI * R * L) / n;
    const s = Math.sin(rules.theta);
    // The value for 60 deg of the published form, as a check of the formula in this test.
    expect(2 * R * L * Math.acos(s / Math.sin(60 * DEG))).toBeCloseTo(123.0959, 3);
    directions.forEach(([, , z], i) => {
      if (z < 0.05) return;
      const alpha = Math.acos(z);
      const side = Math.sin(alpha) > s ? 2 * R * L * Math.acos(s / Math.sin(alpha)) : 0;
      expect(Math.abs(areas[i]! - side)).toBeLessThan(2.01 * facet);
    });
  });
});

describe('reach', () => {
  const file = new URL('../../samples/machines/table-table-ac.json', import.meta.url);
  const json: unknown = JSON.parse(readFileSync(file, 'utf8'));
  const machine = readMachine(json);

  test.each([
    ['the travel of the tilting joint (A to 100 deg, C without end)', 180, 100],
    ['the largest tilt of the job', 60, 60],
  ])('ends at %s', (_, asked, most) => {
    const { directions, reachable } = mapDirections(
      cuboid([1, 1, 1]),
      searchLimits(machine, asked),
      rules,
    );
    directions.forEach((d, i) => expect(reachable[i]).toBe(tiltOf(d[2]) <= most ? 1 : 0));
  });
});
