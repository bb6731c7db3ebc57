/**
 * Round pieces in the plane of their profile, against brute force: the profile as a solid trapezium whose
 * points are compared one by one, and hulls by what a hull is.
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import { nearestOnSection, roundGap, turned } from '../../../lib/clearance/convex/frusta.js';
import type { Frustum } from '../../../lib/machine/head.js';

/** How densely a rim or a flank is sampled. */
const SAMPLES = 1500;

const radiusAt = (p: Frustum, s: number): number =>
  p.lowRadius + ((s - p.low) / (p.high - p.low)) * (p.highRadius - p.lowRadius);

const holds = (p: Frustum, r: number, s: number): boolean =>
  s >= p.low && s <= p.high && r <= radiusAt(p, s);

/** Points on the two ends and the flank, as radius and height. */
function rim(p: Frustum): [number, number][] {
  return Array.from({ length: SAMPLES + 1 }, (_, i): [number, number][] => {
    const k = i / SAMPLES;
    const s = p.low + k * (p.high - p.low);
    return [
      [radiusAt(p, s), s],
      [k * p.lowRadius, p.low],
      [k * p.highRadius, p.high],
    ];
  }).flat();
}

const any = (random: () => number): Frustum => {
  const low = 10 * (random() - 0.5);
  const kind = random();
  const [a, b] = [8 * random(), 8 * random()];
  return {
    low,
    lowRadius: kind < 0.2 ? b : a,
    high: low + 0.5 + 9 * random(),
    highRadius: kind > 0.8 ? 0 : b,
  };
};

describe.each([1, 2, 3])('any round piece, seed %d', (seed) => {
  const random = seeded(seed);
  const pieces = Array.from({ length: 12 }, () => any(random));

  it('is as far from a box as the nearest of its points', () => {
    for (const piece of pieces) {
      const points = rim(piece);
      for (let n = 0; n < 12; n++) {
        const [cx, cy, cz] = [random() * 24 - 12, random() * 24 - 12, random() * 30 - 15];
        const [hx, hy] = [3 * random(), 3 * random()];
        // Now and then the box ends exactly at the foot or the top of the piece.
        const ends = [piece.low, piece.high, cz + 3 * random()][n % 3]!;
        const hz = Math.abs(ends - cz);
        const r = Math.hypot(Math.max(0, Math.abs(cx) - hx), Math.max(0, Math.abs(cy) - hy));
        // Places of the box at that radius; those inside the piece are at no distance.
        let least = Infinity;
        for (const [u, s] of points) {
          const over = Math.max(0, Math.abs(s - cz) - hz);
          least = Math.min(least, Math.hypot(over, u - r));
        }
        for (let k = 0; k <= 200; k++) if (holds(piece, r, cz + hz * (k / 100 - 1))) least = 0;
        const gap = roundGap([piece], cx, cy, cz, hx, hy, hz);
        expect(Math.abs(gap - least)).toBeLessThan(0.006);
      }
    }
  });

  it('has a nearest point, which lies on it and is no farther than any other', () => {
    const out = new Float64Array(2);
    for (const piece of pieces) {
      const points = rim(piece);
      for (let n = 0; n < 12; n++) {
        const [r, s] = [12 * random(), random() * 30 - 15];
        nearestOnSection(piece, r, s, out);
        const far = Math.hypot(out[0]! - r, out[1]! - s);
        const least = Math.min(...points.map(([u, v]) => Math.hypot(u - r, v - s)));
        const onRim = Math.min(...points.map(([u, v]) => Math.hypot(u - out[0]!, v - out[1]!)));
        // Inside, an end counts by the place level with it.
        expect(far).toBeLessThanOrEqual(least + 1e-9);
        if (!holds(piece, r, s)) expect(far).toBeGreaterThan(least - 0.006);
        if (!holds(piece, r, s)) expect(onRim).toBeLessThan(0.006);
      }
    }
  });
});

it('of several the nearest counts, and none bound nothing', () => {
  const [a, b] = [
    { low: 0, lowRadius: 2, high: 4, highRadius: 2 },
    { low: 10, lowRadius: 5, high: 12, highRadius: 5 },
  ];
  // The cube of 2 mm about (9, 0, 2): 8 - 2 from the lower one; from the upper one (7, 3).
  expect(roundGap([a], 9, 0, 2, 1, 1, 1)).toBeCloseTo(6, 12);
  expect(roundGap([b], 9, 0, 2, 1, 1, 1)).toBeCloseTo(Math.hypot(3, 7), 12);
  expect(roundGap([b, a], 9, 0, 2, 1, 1, 1)).toBeCloseTo(6, 12);
  expect(roundGap([], 9, 0, 2, 1, 1, 1)).toBe(0);
});

describe.each([1, 2, 3, 4])('points turned about Z, seed %d', (seed) => {
  const random = seeded(seed);
  const points = Float64Array.from({ length: 3 * (4 + 8 * seed) }, () => 10 * (random() - 0.5));
  // Some at one height.
  for (let i = 8; i < points.length; i += 12) points[i] = points[2]!;
  const frusta = turned(points);
  const profile = Array.from({ length: points.length / 3 }, (_, i) => ({
    s: points[3 * i + 2]!,
    r: Math.hypot(points[3 * i]!, points[3 * i + 1]!),
  }));

  it('lie in frusta that reach from the lowest to the highest, without a gap', () => {
    expect(frusta[0]!.low).toBe(Math.min(...profile.map((p) => p.s)));
    expect(frusta.at(-1)!.high).toBe(Math.max(...profile.map((p) => p.s)));
    for (let i = 1; i < frusta.length; i++) {
      expect(frusta[i]!.low).toBe(frusta[i - 1]!.high);
      expect(frusta[i]!.lowRadius).toBe(frusta[i - 1]!.highRadius);
    }
    for (const { s, r } of profile) {
      const round = frusta.find((f) => s >= f.low && s <= f.high)!;
      expect(radiusAt(round, s)).toBeGreaterThan(r - 1e-9);
    }
  });

  it('whose flanks bend inwards at points only, as a hull does', () => {
    const slope = (f: Frustum): number => (f.highRadius - f.lowRadius) / (f.high - f.low);
    for (let i = 1; i < frusta.length; i++) {
      expect(slope(frusta[i]!)).toBeLessThan(slope(frusta[i - 1]!));
    }
    for (const f of frusta) {
      expect(profile.some((p) => p.s === f.low && p.r === f.lowRadius)).toBe(true);
      expect(profile.some((p) => p.s === f.high && p.r === f.highRadius)).toBe(true);
    }
  });
});
