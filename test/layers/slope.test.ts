/**
 * Thickness by slope and the stack made of it. The rule is that of Dolenc and Makela (Computer-Aided Design 26(2),
 * 1994, from memory): the cusp over the share of a surface's normal along the build direction.
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { type Vec3, cross, length, sub } from '../../lib/base/vector.js';
import { type AllowedThickness, allowedBySlope, evenly } from '../../lib/layers/slope.js';
import { stackUp } from '../../lib/layers/stack.js';

const rule = { cusp: 0.1, least: 0.1, most: 0.3, exempt: 0.1, change: 0.25 };
type Facet = readonly [Vec3, Vec3, Vec3];

const allowed = (facets: readonly Facet[], to: number, change = rule.change): AllowedThickness =>
  allowedBySlope(
    Float64Array.from(facets.flat(2)),
    Uint32Array.from({ length: 3 * facets.length }, (_, i) => i),
    () => true,
    0,
    to,
    { ...rule, change },
  );

/**
 * The least thickness and the greatest at each cell: slopes are rounded up by a class of 1/64 at most. The area of
 * a facet is spread evenly over its heights.
 */
function expected(
  facets: readonly Facet[],
  cells: number,
  step: number,
  rise: number,
): [number[], number[]] {
  // prettier-ignore
  const wishes = Array.from({ length: cells }, (_, i) => {
    const own = facets.map((f) => {
      const n = cross(sub(f[1], f[0]), sub(f[2], f[0]));
      const z = f.map((p) => p[2]);
      const [low, high] = [Math.min(...z), Math.max(...z)];
      const over = Math.max(0, Math.min(high, (i + 1) * step) - Math.max(low, i * step));
      return { slope: Math.abs(n[2]) / length(n), area: (length(n) * over) / (high - low) };
    });
    own.sort((a, b) => b.slope - a.slope);
    let left = rule.exempt * own.reduce((sum, o) => sum + o.area, 0);
    const slope = own.find((o) => o.area > 0 && (left -= o.area) < -1e-12)?.slope ?? 0;
    const at = (s: number): number =>
      Math.min(rule.most, Math.max(rule.least, s > 0 ? rule.cusp / s : rule.most));
    return [at(slope > 0 ? slope + 1 / 64 : 0), at(slope)] as const;
  });
  const soft = (which: 0 | 1): number[] =>
    wishes.map((_, i) => Math.min(...wishes.map((w, j) => w[which] + Math.abs(i - j) * rise)));
  return [soft(0), soft(1)];
}

describe('what the slope allows', () => {
  it.each([1, 2, 3, 4, 5, 6])(
    'by the facets at each height, low and tall ones (seed %i)',
    (seed) => {
      const random = seeded(seed);
      const to = 2;
      const size = [0.03, 0.4, 2][seed % 3]!;
      const facets = Array.from({ length: 4 + 6 * seed }, (): Facet => {
        const low = (to - size) * random();
        const corner = (): Vec3 => [3 * random(), 3 * random(), low + size * random()];
        return [corner(), corner(), corner()];
      });
      for (const change of [0.05, 0.25, 20]) {
        const { from, step, thickness } = allowed(facets, to, change);
        expect(from).toBe(0);
        expect(step).toBeLessThanOrEqual(rule.least / 2 + 1e-12);
        expect(thickness.length * step).toBeCloseTo(to, 12);
        const [least, most] = expected(facets, thickness.length, step, step * Math.log(1 + change));
        thickness.forEach((t, i) => {
          expect(t).toBeGreaterThanOrEqual(least[i]! - 1e-9);
          expect(t).toBeLessThanOrEqual(most[i]! + 1e-9);
        });
      }
    },
  );

  it('of a roof at 60 degrees from the vertical: twice the cusp; cuts and flat faces take no part', () => {
    // The normal is 30 degrees below the horizontal plane's: |n.d| = sin 30 = 1/2.
    const x = Math.tan(Math.PI / 6);
    const roof: Facet = [[0, 0, 0], [0, 1, 0], [-x, 0, 1]]; // prettier-ignore
    for (const t of allowed([roof], 1).thickness) {
      expect(t).toBeGreaterThan(0.1 / (0.5 + 1 / 64) - 1e-9);
      expect(t).toBeLessThanOrEqual(0.2 + 1e-9);
    }
    const flat: Facet = [[0, 0, 0.5], [9, 0, 0.5], [0, 9, 0.5]]; // prettier-ignore
    expect(allowed([roof, flat], 1)).toEqual(allowed([roof], 1));
    const level: Facet = [[0, 0, 0.4], [9, 0, 0.41], [0, 9, 0.41]]; // prettier-ignore
    const { thickness } = allowedBySlope(
      Float64Array.from([roof, level].flat(2)),
      Uint32Array.of(0, 1, 2, 3, 4, 5),
      (t) => t === 0,
      0,
      1,
      rule,
    );
    expect(thickness).toEqual(allowed([roof], 1).thickness);
    expect(Math.min(...allowed([roof, level], 1).thickness)).toBeCloseTo(rule.least, 9);
  });
});

describe('stacks', () => {
  it('of one thickness: a first layer, and N = ceil (rest / thickness) even ones', () => {
    for (const [height, first, t, count] of [
      [10, 0.2, 0.2, 50],
      [10, 0.3, 0.2, 50],
      [10.1, 0.2, 0.2, 51],
      // A height over a whole number by less than a thousandth of a layer is shared by that number.
      [10.0001, 0.2, 0.2, 50],
      [0.2, 0.2, 0.2, 1],
      [0.15, 0.2, 0.2, 1],
    ] as const) {
      const { bottom, top, thickness } = stackUp(
        5,
        5 + height,
        first,
        evenly(5, 5 + height, t),
        0.4,
      );
      expect(bottom).toBe(5);
      expect(top).toHaveLength(count);
      expect(top.at(-1)).toBe(5 + height);
      const rest = (height - first) / (count - 1);
      thickness.forEach((own, k) => {
        expect(own).toBeCloseTo(count === 1 ? height : k === 0 ? first : rest, 9);
        expect(top[k]! - own).toBeCloseTo(k === 0 ? 5 : top[k - 1]!, 9);
      });
    }
  });

  it('with a remainder too thin for a layer of its own: halves, or one layer', () => {
    // A tenth of a nozzle of 0.4 mm is 0.04 mm.
    expect([...stackUp(0, 0.23, 0.2, evenly(0, 0.23, 0.2), 0.4).thickness]).toEqual([0.115, expect.closeTo(0.115, 12)]); // prettier-ignore
    expect(stackUp(0, 0.25, 0.2, evenly(0, 0.25, 0.2), 0.4).thickness).toHaveLength(2);
    expect(stackUp(0, 0.07, 0.05, evenly(0, 0.07, 0.2), 0.4).thickness).toHaveLength(1);
    expect(stackUp(0, 0.04, 0.2, evenly(0, 0.04, 0.2), 0.4).thickness).toHaveLength(1);
    expect(() => stackUp(0, 0.0399, 0.2, evenly(0, 0.0399, 0.2), 0.4)).toThrow(/too thin|0\.0399/);
  });

  it('of changing thickness share the height so that each has as many layers in it (seed 4)', () => {
    const random = seeded(4);
    for (let n = 0; n < 40; n++) {
      const thickness = Float64Array.from({ length: 12 }, () => 0.1 + 0.2 * random());
      const step = 0.3 + 0.2 * random();
      const [from, end] = [1, 1 + 12 * step];
      const { top, thickness: own } = stackUp(from, end, 0.2, { from, step, thickness }, 0.4);
      expect(own.reduce((a, b) => a + b, 0)).toBeCloseTo(end - from, 9);
      expect(own[0]).toBeCloseTo(0.2, 12);
      // The integral of dz over the thickness, cell by cell.
      const integral = (a: number, b: number): number =>
        thickness.reduce((sum, t, i) => {
          const low = Math.max(a, from + i * step);
          const high = Math.min(b, from + (i + 1) * step);
          return sum + Math.max(0, high - low) / t;
        }, 0);
      const whole = integral(from + 0.2, end);
      expect(top).toHaveLength(1 + Math.ceil(whole - 1e-3));
      for (let k = 1; k < top.length; k++) {
        expect(integral(top[k - 1]!, top[k]!)).toBeCloseTo(whole / (top.length - 1), 6);
      }
    }
  });
});
