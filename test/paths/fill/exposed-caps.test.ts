/** Where layers are closed: under and over exposed faces of the part, never at a cut. */
import { beforeAll, describe, expect, test } from 'vitest';
import { area } from '../../../lib/polygon/polygons.js';
import { polygonsFrom } from '../../support/polygons.js';
import { type PolygonKernel, loadPolygonKernel } from '../../../lib/kernel/polygon.js';
import type { Layers } from '../../../lib/layers/layers.js';
import { PathKind, type Paths } from '../../../lib/paths/paths.js';
import { joinPaths, planPaths } from '../../../lib/paths/plan-paths.js';
import { pathRules } from '../../../lib/paths/rules.js';
import {
  type Loop,
  circle,
  courseOf,
  distance,
  layersOf,
  pathsOf,
  plan,
  rectangle,
  volumeOf,
  winding,
} from '../flat.js';

let kernel: PolygonKernel;
beforeAll(async () => {
  kernel = await loadPolygonKernel();
});

const wide = [rectangle(0, 0, 40, 20)];
const half = [rectangle(0, 0, 20, 20)];
const spacing = 0.45 - 0.2 * (1 - Math.PI / 4);
/** Cells of the contours reach this deep, mm: two spacings. */
const depth = 2 * spacing;
/** Where the next layer steps back, its contours need a bed: all but a quarter of the innermost one. */
const bed = (2 - 0.25) * spacing;
/** Lines of fill at the usual density lie this far apart, mm; caps run over the edge of their cells by this. */
const pitch = spacing / 0.15;
const over = spacing / 2 - 0.25 * 0.45;

const capAreas = (layers: Layers, rules = {}): number[] => [
  ...plan(layers, rules, kernel).figures.cap,
];

describe('a step: 10 layers of 40 x 20 under 10 of 20 x 20, table below, air above', () => {
  const stack = [...Array<Loop[]>(10).fill(wide), ...Array<Loop[]>(10).fill(half)];
  const layers = layersOf(stack, { beneath: [[], []], over: [[], []] });
  const inside = (w: number): number => (w - 2 * depth) * (20 - 2 * depth);

  test('four layers of 0.2 mm at the bottom, under the step and at the top', () => {
    const caps = capAreas(layers, { cap: 0.8, fill: { angle: 0 } });
    for (const k of [0, 1, 2, 3]) expect(caps[k]).toBeCloseTo(inside(40), 2);
    for (const k of [4, 5]) expect(caps[k]).toBe(0);
    // Under the step's tread: from x = 20 on and one bead more, to the contours at the far side. Where lines
    // run along x, on to the next line of the fill below, which lie at the odd multiples of half the pitch.
    const tread = (from: number): number => (40 - depth - from) * (20 - 2 * depth);
    const bead = (Math.floor((20 - spacing) / pitch - 0.5) + 0.5) * pitch;
    for (const k of [6, 8]) expect(caps[k]! / tread(bead - over)).toBeCloseTo(1, 3);
    expect(caps[7]! / tread(20 - spacing)).toBeCloseTo(1, 3);
    // The last one is the bed of the contours above as well.
    expect(caps[9]! / tread(20 - bed - spacing)).toBeCloseTo(1, 3);
    for (const k of [10, 11, 14, 15]) expect(caps[k]).toBe(0);
    for (const k of [16, 17, 18, 19]) expect(caps[k]).toBeCloseTo(inside(20), 2);
  });

  test('thickness 0.5 rounds up to three layers, 0 to none', () => {
    const three = capAreas(layers, { cap: 0.5 });
    expect(three.map((a) => (a > 0 ? 1 : 0)).join('')).toBe('11100001110000000111');
    expect(Math.max(...capAreas(layers, { cap: 0 }))).toBe(0);
  });

  test('a layer with both lays its cap before the fill, whose beads end on it', () => {
    const { paths } = plan(layers, { cap: 0.8 }, kernel);
    for (const k of [6, 7, 8, 9]) {
      const kinds = pathsOf(paths, (i) => paths.layer[i] === k).map((i) => paths.kind[i]!);
      expect(kinds).toContain(PathKind.fill);
      expect(kinds.lastIndexOf(PathKind.cap)).toBeLessThan(kinds.indexOf(PathKind.fill));
      expect(kinds).toContain(PathKind.cap);
    }
  });

  test('lines of caps turn by 90 deg from layer to layer', () => {
    const { paths } = plan(layers, { fill: { angle: 30 } }, kernel);
    expect(longest(paths, 0)).toBeCloseTo(30, 6);
    expect(longest(paths, 1)).toBeCloseTo(120, 6);
    expect(longest(paths, 2)).toBeCloseTo(30, 6);
  });

  /** Direction of the longest stretch of cap in a layer, deg in [0, 180). */
  function longest(paths: Paths, layer: number): number {
    let best = 0;
    let angle = NaN;
    for (const i of pathsOf(
      paths,
      (i) => paths.layer[i] === layer && paths.kind[i] === PathKind.cap,
    )) {
      const xy = courseOf(paths, i);
      for (let k = 1; k < xy.length; k++) {
        const [dx, dy] = [xy[k]![0] - xy[k - 1]![0], xy[k]![1] - xy[k - 1]![1]];
        if (Math.hypot(dx, dy) < best) continue;
        best = Math.hypot(dx, dy);
        angle = ((Math.atan2(dy, dx) * 180) / Math.PI + 180) % 180;
      }
    }
    return angle;
  }

  test('caps and fill part the inside between them', () => {
    const { figures } = plan(layers, {}, kernel);
    for (let k = 0; k < 20; k++) {
      expect(figures.cap[k]! + figures.fill[k]!).toBeCloseTo(inside(k < 10 ? 40 : 20), 2);
    }
  });
});

describe('interfaces', () => {
  // The region is the left half of a block that another region continues on the right and above.
  const own = Array<Loop[]>(10).fill(half);
  const whole = Array<Loop[]>(10).fill(wide);

  test('no cap where the part goes on beyond a cut, beside, below or above', () => {
    const layers = layersOf(own, {
      around: whole,
      beneath: Array<Loop[]>(8).fill(wide),
      over: Array<Loop[]>(8).fill(wide),
    });
    expect(capAreas(layers)).toEqual(Array(10).fill(0));
  });

  test('no cap where layers end on an oblique cut', () => {
    const shrinking = own.map((_, k) => [rectangle(0, 0, 20 - k, 20)]);
    const layers = layersOf(shrinking, { around: whole, beneath: [wide], over: [wide] });
    expect(capAreas(layers)).toEqual(Array(10).fill(0));
    // The same layers as skin are closed.
    expect(Math.min(...capAreas(layersOf(shrinking, { beneath: [wide], over: [wide] })))).toBe(0);
    const skin = capAreas(layersOf(shrinking, { beneath: [wide], over: [wide] }));
    expect(skin[5]).toBeGreaterThan(2 * 18);
  });

  test('a face of the part near the cut is still closed', () => {
    // One layer above the region's last the part ends.
    const layers = layersOf(own, { around: whole, beneath: [wide], over: [wide, []] });
    const caps = capAreas(layers, { cap: 0.8 });
    expect(caps.map((a) => (a > 0 ? 1 : 0)).join('')).toBe('0000000111');
  });
});

test('a sphere: the closed area is what the next four sections leave bare', () => {
  const [radius, height, cap] = [15, 0.2, 0.8];
  const count = Math.round((2 * radius) / height);
  const r = (k: number): number => {
    const z = (k + 0.5) * height - radius;
    return Math.sqrt(Math.max(0, radius ** 2 - z ** 2));
  };
  const rows = Array.from({ length: count }, (_, k) => [circle(r(k), 0, 0, 720)]);
  const layers = layersOf(rows, { height, beneath: [[]], over: [[]] });
  // The gyroid's caps are not lengthened to the beads of the fill. Contours reach less far in than the bare
  // band of four layers, so that their bed adds nothing.
  const { figures } = plan(layers, { cap, fill: { pattern: 'gyroid' } }, kernel);
  for (let k = count / 2; k < count - 8; k += 5) {
    // Bare between the radius of the section four layers on and the contours, if wider than half a
    // bead; then one bead more inwards.
    const outer = r(k) - depth;
    const inner = r(k + 4);
    const expected =
      outer - inner < 0.225 ? 0 : Math.PI * (outer ** 2 - Math.max(0, inner - spacing) ** 2);
    if (Math.abs(outer - inner - 0.225) < 0.03) continue;
    expect(Math.abs(figures.cap[k]! - expected)).toBeLessThan(0.02 * expected + 0.05);
  }
});

test('caps lie inside the contours and cover what they shall', () => {
  const bump = [...Array<Loop[]>(6).fill(wide), ...Array<Loop[]>(6).fill([circle(6, 13, 10)])];
  const layers = layersOf(bump, { beneath: [[]], over: [[]] });
  const { paths } = plan(layers, { fill: { pattern: 'gyroid' } }, kernel);
  const section = polygonsFrom(wide);
  const tower = polygonsFrom([circle(6, 13, 10)]);
  const caps = (i: number): boolean => paths.layer[i] === 5 && paths.kind[i] === PathKind.cap;
  for (const i of pathsOf(paths, caps)) {
    for (const [x, y] of courseOf(paths, i)) {
      expect(winding(section, x, y)).toBe(1);
      // The bed of the contours above and one bead more under the tower's foot.
      expect(winding(tower, x, y) === 0 || distance(tower, x, y) < bed + spacing).toBe(true);
    }
  }
  const foot = Math.PI * (36 - (6 - bed - spacing) ** 2);
  const bare = (40 - 2 * depth) * (20 - 2 * depth) - area(tower) + foot;
  expect(volumeOf(paths, caps) / (bare * 0.2)).toBeCloseTo(1, 1.7);
});

test('a narrow cap is widened to eight lines, and its lines end on beads of the fill', () => {
  // A slot of 9.6 x 0.3 mm above closes what is under it; layer 4 has lines along x.
  const slot: Loop = rectangle(15.2, 9.85, 9.6, 0.3).reverse();
  const stack = [...Array<Loop[]>(6).fill(wide), ...Array<Loop[]>(6).fill([...wide, slot])];
  const layers = layersOf(stack, { beneath: Array<Loop[]>(5).fill(wide) });
  const caps = capAreas(layers, { cap: 0.8, fill: { angle: 0 } });
  // Between the lines of the fill at 4.5 and 9.5 pitches: 12.2 and 25.8 mm.
  const lap = 0.005;
  const across = 0.3 + 2 * lap + 2 * spacing;
  const wanted = (5 * pitch + 2 * over) * (across + 2 * (8 * spacing - across));
  expect(caps[4]! / wanted).toBeCloseTo(1, 3);
});

test('batches that begin and end anywhere give the same caps', () => {
  const stack = Array.from({ length: 24 }, (_, k) => [circle(5 + 4 * Math.sin(k / 3))]);
  const layers = layersOf(stack, { beneath: [[]], over: [[]] });
  const rules = pathRules.parse({});
  const limits = { nozzleDiameter: 0.4, onTable: true };
  const whole = planPaths(layers, 0, 24, rules, limits, kernel);
  for (const size of [1, 5, 7]) {
    const parts = [];
    for (let k = 0; k < 24; k += size) {
      parts.push(planPaths(layers, k, Math.min(24, k + size), rules, limits, kernel));
    }
    expect(joinPaths(parts)).toEqual(whole);
  }
});
