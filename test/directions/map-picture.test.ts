/** Pictures of directions: the projection and the scale against their published properties, and pixels. */
import { decode } from 'fast-png';
import { SaxesParser } from 'saxes';
import { describe, expect, test } from 'vitest';
import { identity } from '../../lib/base/frame.js';
import { seeded } from '../../lib/base/random.js';
import { DEG, type Vec3, dot, unit } from '../../lib/base/vector.js';
import { mapDirections } from '../../lib/directions/direction-map.js';
import { type PartNeeds, demandOf } from '../../lib/directions/needs.js';
import type { LimitSweep } from '../../lib/directions/sweeps.js';
import { directionAtTilt } from '../../lib/machine/reachable-directions.js';
import { openLimits } from '../support/limits.js';
import { mapImage, mapPicture } from '../../lib/directions/map-picture.js';
import { curvesPicture, niceTop } from '../../lib/directions/sweep-picture.js';
import { discRadius, drawDisc, fromDisc, onDisc } from '../../lib/directions/disc.js';
import { viridis } from '../../lib/draw/viridis.js';
import { cuboid } from '../support/shapes.js';

const map = mapDirections(cuboid([10, 10, 10]), openLimits(180), {
  theta: 45 * DEG,
  foot: 0.2,
  count: 300,
});
const upper = (d: Vec3): boolean => d[2] >= 0;

describe('the disc', () => {
  test('there and back again, seed 3', () => {
    const next = seeded(3);
    for (let n = 0; n < 500; n++) {
      const d = unit([next() - 0.5, next() - 0.5, next() - 0.5]);
      const back = fromDisc(...onDisc(d))!;
      expect(dot(d, back)).toBeCloseTo(1, 12);
    }
  });

  test('areas are true: a cap to tilt t has the share (1 - cos t) / 2 of the sphere and the disc', () => {
    for (const t of [10, 45, 90, 150].map((deg) => deg * DEG)) {
      expect(discRadius(t) ** 2).toBeCloseTo((1 - Math.cos(t)) / 2, 12);
      expect(Math.hypot(...onDisc(directionAtTilt(t, 1)))).toBeCloseTo(discRadius(t), 12);
    }
    expect(fromDisc(0.8, 0.8)).toBeUndefined();
  });

  test('+X lies to the right and +Y up; each pixel has the colour of the nearest direction', () => {
    const size = 61;
    const most = map.areas.reduce((a, b) => Math.max(a, b), 0);
    const pixels = drawDisc(map, () => true, { size, most });
    let seen = 0;
    for (let j = 0; j < size; j++) {
      for (let i = 0; i < size; i++) {
        const d = fromDisc((2 * i + 1) / size - 1, 1 - (2 * j + 1) / size);
        const rgba = [...pixels.slice(4 * (j * size + i), 4 * (j * size + i) + 4)];
        if (!d) {
          expect(rgba).toEqual([0, 0, 0, 0]);
          continue;
        }
        seen++;
        const dots = map.directions.map((e) => dot(d, e));
        const best = dots.indexOf(Math.max(...dots));
        expect(rgba).toEqual([...viridis(map.areas[best]! / most), 255]);
      }
    }
    expect(seen / size ** 2).toBeCloseTo(Math.PI / 4, 1);
    expect(onDisc([1, 0, 0])[0]).toBeGreaterThan(0.7);
    expect(onDisc([0, 1, 0])[1]).toBeGreaterThan(0.7);
  });

  test('half of the sphere in reach is half of the disc; its edge is drawn at tilt 90', () => {
    const size = 301;
    const pixels = drawDisc(map, upper, { size, most: 1e9 });
    const at = (u: number): number[] => {
      const o = 4 * (Math.floor(size / 2) * size + Math.floor(((1 + u) * size) / 2));
      return [...pixels.slice(o, o + 4)];
    };
    expect(at(discRadius(90 * DEG) - 1 / size)).toEqual([0, 0, 0, 255]);
    expect(at(discRadius(60 * DEG))[3]).toBe(255);
    expect(at(discRadius(120 * DEG))[3]).toBeLessThan(128);
    let opaque = 0;
    let all = 0;
    for (let o = 3; o < pixels.length; o += 4) {
      if (pixels[o]! > 0) all++;
      if (pixels[o] === 255) opaque++;
    }
    // The white rim of the line reaches 3 pixels beyond the edge.
    const rim = (discRadius(90 * DEG) + 6 / size) ** 2;
    expect(Math.abs(opaque / all - rim)).toBeLessThan(0.01);
  });
});

test('the scale is perceptually even: CIE 1976 lightness rises in equal steps', () => {
  const linear = (c: number): number => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4);
  // sRGB luminance (IEC 61966-2-1) and L* = 116 cbrt(Y) - 16 (CIE 1976), for Y above 0.008856.
  const lightness = (share: number): number => {
    const [r, g, b] = viridis(share).map((c) => linear(c / 255)) as [number, number, number];
    return 116 * Math.cbrt(0.2126 * r + 0.7152 * g + 0.0722 * b) - 16;
  };
  const steps = Array.from({ length: 8 }, (_, i) => lightness((i + 1) / 8) - lightness(i / 8));
  const mean = steps.reduce((a, b) => a + b) / 8;
  for (const s of steps) expect(Math.abs(s / mean - 1)).toBeLessThan(0.15);
  expect(viridis(-1)).toEqual(viridis(0));
  expect(viridis(2)).toEqual(viridis(1));
});

const sweep = (
  limit: LimitSweep['limit'],
  values: readonly number[],
  areas: number[],
): LimitSweep => ({
  limit,
  unit: 'deg',
  points: values.map((value, i) => ({ value, unsupportedMm2: areas[i] })),
});

const part = (name: string, scale: number): PartNeeds => ({
  name,
  plan: {
    regions: [],
    hanging: [],
    part: cuboid([10, 10, 10]),
    partFromGiven: identity(),
    unsupported: { asPlacedMm2: 5, bestSingleDirectionMm2: 4, plannedMm2: 3 },
    findings: [],
  },
  map,
  sets: [{ directions: [[0, 0, 1]], unsupportedMm2: 0, exact: true }],
  planned: [{ directions: [[0, 0, 1]], unsupportedMm2: 0 }],
  candidates: 7,
  setTriangles: 12,
  sweepTriangles: 12,
  sweeps: [
    sweep('tilt', [0, 60], [900 * scale, 0]),
    sweep('rotary', [0, Infinity], [90 * scale, 0]),
  ],
  curved: { points: [0, 60].map((value) => ({ value, unsupportedMm2: 900 * scale - value })) },
  needs: [],
  words: ['a', 'b'],
  footprintMm: 7,
});

describe('pictures', () => {
  const texts = (svg: string): string[] => {
    const out: string[] = [];
    const parser = new SaxesParser();
    parser.on('error', (e) => {
      throw e;
    });
    parser.on('text', (t) => out.push(t));
    parser.write(svg).close();
    return out;
  };

  test('are well-formed whatever the part is called, and name it', () => {
    const odd = part('cap <"5" & more>', 1);
    const both = [odd, part('elbow', 2)];
    expect(texts(mapPicture(odd, upper)).join('\n')).toContain(odd.name);
    expect(texts(curvesPicture(both, demandOf(both))).join('\n')).toContain(odd.name);
  });

  test('several parts have a line each and one for their sum', () => {
    const both = [part('cap', 1), part('elbow', 2)];
    const svg = curvesPicture(both, demandOf(both));
    // In curved layers, dotted, of the tilt alone.
    expect(svg.match(/<polyline/g)).toHaveLength(2 * 3 + 3);
    const axis = texts(svg).map(Number);
    // The sum of 900 and 1800 is the highest point: the axis ends at 4000, half of it is 2000.
    expect(axis).toContain(4000);
    expect(axis).toContain(2000);
  });

  test('the PNG is the disc at the size that was asked', () => {
    const png = decode(mapImage(part('cap', 1), upper, 100));
    expect([png.width, png.height, png.channels]).toEqual([100, 100, 4]);
    expect(png.data[3]).toBe(0);
    expect(png.data[4 * (50 * 100 + 50) + 3]).toBe(255);
  });

  test('axes end at round numbers', () => {
    expect([0.7, 1, 9, 23, 1405].map(niceTop)).toEqual([0.8, 1, 10, 40, 2000]);
  });
});
