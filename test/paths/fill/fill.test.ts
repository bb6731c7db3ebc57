/** Patterns against the integrals that define them. */
import { beforeAll, describe, expect, test } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import { type PolygonKernel, loadPolygonKernel } from '../../../lib/kernel/polygon.js';
import { beadSpacing } from '../../../lib/paths/bead.js';
import { MEAN_WAVE_LENGTH, wavesAt } from '../../../lib/paths/fill/gyroid.js';
import { lineLength } from '../../../lib/polygon/loops.js';
import { PathKind } from '../../../lib/paths/paths.js';
import { circle, courseOf, hole, layersOf, pathsOf, plan, rectangle, volumeOf } from '../flat.js';

let kernel: PolygonKernel;
beforeAll(async () => {
  kernel = await loadPolygonKernel();
});

const level = (x: number, y: number, z: number): number =>
  Math.sin(x) * Math.cos(y) + Math.sin(y) * Math.cos(z) + Math.sin(z) * Math.cos(x);

describe('gyroid', () => {
  test('waves lie on the level set and do not jump, at all heights', () => {
    for (let k = 0; k < 97; k++) {
      const z = (2 * Math.PI * k) / 97 - 1;
      const { alongX, lines } = wavesAt(z, 200);
      for (const line of lines) {
        for (let i = 0; i < line.length; i += 2) {
          const [x, y] = alongX ? [line[i]!, line[i + 1]!] : [line[i + 1]!, line[i]!];
          expect(Math.abs(level(x, y, z))).toBeLessThan(1e-12);
          if (i > 0) expect(Math.abs(line[i + 1]! - line[i - 1]!)).toBeLessThan(0.2);
        }
        // One period on, the wave is back where it began: it can be laid end to end.
        expect(line[line.length - 1]).toBeCloseTo(line[1]!, 9);
      }
    }
  });

  test('two waves a period are all there is: sign changes across, seed 3', () => {
    const random = seeded(3);
    for (let k = 0; k < 200; k++) {
      const z = 20 * random() - 10;
      const t = 2 * Math.PI * random();
      const { alongX } = wavesAt(z, 16);
      let changes = 0;
      const at = (u: number): number => (alongX ? level(t, u, z) : level(u, t, z));
      for (let i = 0; i < 2000; i++) {
        const [u, v] = [(2 * Math.PI * i) / 2000, (2 * Math.PI * (i + 1)) / 2000];
        if (at(u) > 0 !== at(v) > 0) changes++;
      }
      expect(changes).toBe(2);
    }
  });

  test('mean length is the integral of |grad f| over the surface, by random points, seed 11', () => {
    // Co-area formula: the length of the cuts f = 0 is the integral of |grad f| delta(f); the delta
    // is a band of width 2 e, which errs by e^2.
    const random = seeded(11);
    const [n, e] = [2_000_000, 0.1];
    let sum = 0;
    for (let i = 0; i < n; i++) {
      const [x, y, z] = [2 * Math.PI * random(), 2 * Math.PI * random(), 2 * Math.PI * random()];
      if (Math.abs(level(x, y, z)) > e) continue;
      const fx = Math.cos(x) * Math.cos(y) - Math.sin(z) * Math.sin(x);
      const fy = Math.cos(y) * Math.cos(z) - Math.sin(x) * Math.sin(y);
      sum += Math.hypot(fx, fy);
    }
    expect(((sum / n / (2 * e)) * 2 * Math.PI) / MEAN_WAVE_LENGTH).toBeCloseTo(1, 1.7);
  });

  test('planned waves lie on the level set of the stated period, over several layers', () => {
    const density = 0.2;
    const period = (MEAN_WAVE_LENGTH * beadSpacing(0.45, 0.2)) / density;
    const layers = layersOf(Array.from({ length: 12 }, () => [rectangle(0, 0, 30, 30)]));
    const { paths } = plan(
      layers,
      { fill: { pattern: 'gyroid', density, angle: 0 }, cap: 0 },
      kernel,
    );
    const k = (2 * Math.PI) / period;
    let seen = 0;
    for (const i of pathsOf(paths, (i) => paths.kind[i] === PathKind.fill)) {
      const z = layers.top[paths.layer[i]!]! - 0.1;
      for (const [x, y] of courseOf(paths, i).slice(1, -1)) {
        expect(Math.abs(level(k * x, k * y, k * z))).toBeLessThan(1e-6);
        seen++;
      }
    }
    expect(seen).toBeGreaterThan(1000);
  });

  test('over the heights of a period the length alone gives the density, flow apart', () => {
    const density = 0.25;
    const spacing = beadSpacing(0.45, 0.2);
    const period = (MEAN_WAVE_LENGTH * spacing) / density;
    const count = 61;
    // Layers at even heights through one period: only their middles matter here.
    const layers = layersOf(Array.from({ length: count }, () => [rectangle(0, 0, 60, 60)]));
    const spread = {
      ...layers,
      top: Float64Array.from({ length: count }, (_, i) => 0.1 + ((i + 0.5) * period) / count),
    };
    const { paths, figures } = plan(
      spread,
      { fill: { pattern: 'gyroid', density }, cap: 0, overlap: 0.5 },
      kernel,
    );
    let length = 0;
    for (const i of pathsOf(paths, (i) => paths.kind[i] === PathKind.fill)) {
      length += lineLength(Float64Array.from(courseOf(paths, i).flat()));
    }
    const open = figures.fill.reduce((a, b) => a + b, 0);
    expect((length * spacing) / (density * open)).toBeCloseTo(1, 2);
  });
});

describe.each(['lines', 'triangles', 'gyroid'] as const)('%s', (pattern) => {
  test.each([0.05, 0.15, 0.4, 0.8])('density %d x area x height within 1%%', (density) => {
    for (const loops of [[rectangle(0, 0, 100, 60)], [circle(35, 4, 9), hole(circle(12, -6, 3))]]) {
      for (const angle of [0, 17, 45]) {
        const { paths, figures } = plan(
          layersOf([loops, loops]),
          { fill: { pattern, density, angle }, cap: 0 },
          kernel,
        );
        for (const layer of [0, 1]) {
          const fill = volumeOf(
            paths,
            (i) => paths.layer[i] === layer && paths.kind[i] === PathKind.fill,
          );
          expect(fill / (density * figures.fill[layer]! * 0.2)).toBeCloseTo(1, 2.3);
          expect(figures.laid[layer]! / figures.wanted[layer]!).toBeCloseTo(1, 2);
        }
      }
    }
  });

  test('the pattern holds still from layer to layer where it should', () => {
    const { paths } = plan(
      layersOf(Array.from({ length: 4 }, () => [rectangle(0, 0, 40, 40)])),
      { fill: { pattern }, cap: 0 },
      kernel,
    );
    const ends = (layer: number): string[] =>
      pathsOf(paths, (i) => paths.layer[i] === layer && paths.kind[i] === PathKind.fill)
        .map((i) => courseOf(paths, i))
        .map((xy) => [xy[0]!, xy[xy.length - 1]!].map((p) => p.map((v) => v.toFixed(6)).join(' ')))
        .map((pair) => pair.sort().join(' / '))
        .sort();
    const same = (a: number, b: number): boolean => ends(a).join() === ends(b).join();
    // Lines cross and come back; triangles stand straight up; the gyroid goes on leaning.
    expect([same(0, 1), same(0, 2)]).toEqual(
      { lines: [false, true], triangles: [true, true], gyroid: [false, false] }[pattern],
    );
  });
});

test('density 0 lays no fill, density 1 closes the layer', () => {
  const layers = layersOf([[rectangle(0, 0, 30, 30)]]);
  const none = plan(layers, { fill: { density: 0 }, cap: 0 }, kernel);
  expect([...none.paths.kind].includes(PathKind.fill)).toBe(false);
  const full = plan(layers, { fill: { density: 1 }, cap: 0 }, kernel);
  expect(full.figures.laid[0]! / (900 * 0.2)).toBeGreaterThan(0.99);
});
