/**
 * What must be closed, by cells of a grid; and solid fill, line by line. Sections are rectangles at whole mm, so what
 * a layer leaves bare follows by looking at the middle of each mm2 of its neighbours.
 */
import { beforeAll, describe, expect, it } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import { type PolygonKernel, loadPolygonKernel } from '../../../lib/kernel/polygon.js';
import { exposure, partedByCaps } from '../../../lib/paths/fill/exposed-caps.js';
import { solidBeads } from '../../../lib/paths/fill/solid-fill.js';
import { area, noPolygons } from '../../../lib/polygon/polygons.js';
import { boxOf } from '../../../lib/polygon/loops.js';
import { polygonsFrom } from '../../support/polygons.js';
import { beadSpacing } from '../../../lib/paths/bead.js';
import { PathKind } from '../../../lib/paths/paths.js';
import { type Loop, courseOf, layersOf, pathsOf, plan, rectangle, sectionOf, volumeOf, winding } from '../flat.js'; // prettier-ignore

let kernel: PolygonKernel;
beforeAll(async () => {
  kernel = await loadPolygonKernel();
});

type Rectangle = readonly [x: number, y: number, w: number, h: number];
const holds = (list: readonly Rectangle[], x: number, y: number): boolean =>
  list.some(([a, b, w, h]) => x > a && x < a + w && y > b && y < b + h);

describe('what is exposed', () => {
  it.each([1, 2, 3, 4, 5])(
    'over and under the layers whose neighbour leaves it bare (seed %i)',
    (seed) => {
      const random = seeded(seed);
      const n = (most: number): number => Math.floor(most * random());
      // Two rectangles side by side, never touching, or none.
      const row = (): Rectangle[] =>
      n(6) === 0 ? [] : [[n(3), n(4), 1 + n(4), 2 + n(4)], [8 + n(2), n(4), 1 + n(3), 2 + n(4)]]; // prettier-ignore
      for (let trial = 0; trial < 4; trial++) {
        const rows = Array.from({ length: 7 }, row);
        const [beneath, over] = [0, 1].map(() => Array.from({ length: n(3) }, row)) as [Rectangle[][], Rectangle[][]]; // prettier-ignore
        const loops = (list: Rectangle[][]): Loop[][] =>
          list.map((l) => l.map((r) => rectangle(...r)));
        const layers = layersOf(loops(rows), { beneath: loops(beneath), over: loops(over) });
        const at = (k: number): Rectangle[] | undefined =>
          k < 0 ? beneath[-1 - k] : k < 7 ? rows[k] : over[k - 7];
        const depth = 1 + n(4);
        // Layers of 0.2 mm: material thinner than the cap lies over (under) those nearer than this.
        const cap = 0.2 * depth - (trial % 2) * 0.07;
        const meets = trial > 1;
        const exposed = exposure(layers, cap, 1e-4, kernel, meets);
        for (let k = 0; k < 7; k++) {
          const found = exposed.of(k);
          for (let x = 0.5; x < 13; x++) {
            for (let y = 0.5; y < 10; y++) {
              const bare = (j: number, next: number): boolean => {
                const [own, other] = [at(j), at(next)];
                return own !== undefined && other !== undefined && holds(own, x, y) && !holds(other, x, y); // prettier-ignore
              };
              let want = false;
              for (let d = 0; d < depth; d++)
                want ||= bare(k + d, k + d + 1) || bare(k - d, k - d - 1);
              // Under another region the region's own ends are closed for two layers.
              for (let j = k; meets && j < Math.min(7, k + 2); j++) {
                want ||= holds(rows[j]!, x, y) && !holds(rows[j + 1] ?? [], x, y);
              }
              expect(winding(found, x, y) !== 0).toBe(want);
            }
          }
        }
      }
    },
  );

  it('and the bed of contours that lie farther in than those of the layer below reach', () => {
    const layers = layersOf([[rectangle(0, 0, 20, 20)], [rectangle(3, 3, 14, 14)], [rectangle(3, 3, 14, 14)]]); // prettier-ignore
    const reaching = exposure(layers, 0.2, 1e-4, kernel, false, 1);
    // From 3 mm, where the next layer begins, to 4 mm, as far as its contours reach in.
    for (const [x, want] of [
      [1.5, true],
      [3.5, true],
      [4.5, false],
      [16.5, true],
      [18, true],
      [10, false],
    ] as const) {
      // prettier-ignore
      expect(winding(reaching.of(0), x, 10) !== 0).toBe(want);
    }
    expect(winding(reaching.of(1), 3.5, 10)).toBe(0);
    const without = exposure(layers, 0.2, 1e-4, kernel);
    expect(winding(without.of(0), 3.5, 10)).toBe(0);
  });
});

/*
 * Bead 0.45 x 0.2 mm: spacing (area of the section over the height) 0.4070796 mm. Behind two contours the solid area
 * begins two spacings in; its lines end half a spacing, less the overlap, inside of that.
 */
describe('solid fill of a rectangle', () => {
  const spacing = beadSpacing(0.45, 0.2);

  it.each([
    [20, 12, 0, 0.25],
    [20, 12.3, 0, 0],
    [9, 17.4, 90, 0.1],
    [15, 15, 0, 0.5],
  ])(
    '%d x %d mm at %d degrees, overlap %d: one path of even lines that fills it',
    (w, h, angle, overlap) => {
      const rules = { cap: 0, overlap, fill: { density: 1, angle }, link: { longest: 0 } };
      const { paths, figures } = plan(layersOf([[rectangle(0, 0, w, h)]]), rules, kernel);
      const fill = pathsOf(paths, (p) => paths.kind[p] === PathKind.fill);
      expect(fill).toHaveLength(1);
      const inset = 2 * spacing + Math.max(0, spacing / 2 - overlap * 0.45);
      // Across the lines, and along them.
      const [a, b] = angle === 0 ? [1, 0] : [0, 1];
      const across = (angle === 0 ? h : w) - 2 * inset;
      const gaps = Math.round(across / spacing);
      const course = courseOf(paths, fill[0]!);
      const levels = new Set<string>();
      for (let i = 1; i < course.length; i++) {
        const [p, q] = [course[i - 1]!, course[i]!];
        const way = Math.abs(q[b]! - p[b]!);
        if (way < 1) continue;
        expect(q[a]).toBeCloseTo(p[a]!, 6);
        expect(way).toBeCloseTo((angle === 0 ? w : h) - 2 * inset, 2);
        levels.add(p[a]!.toFixed(4));
      }
      const at = [...levels].map(Number).sort((x, y) => x - y);
      expect(at).toHaveLength(gaps + 1);
      at.forEach((v, i) => expect(v).toBeCloseTo(inset + (across * i) / gaps, 2));
      // Contours and fill together hold the rectangle.
      expect(volumeOf(paths) / (w * h * 0.2)).toBeCloseTo(1, 2);
      expect(figures.fill[0]).toBeCloseTo((w - 4 * spacing) * (h - 4 * spacing), 1);
    },
  );

  it('lies in no place that is smaller than half a bead, and leaves no line shorter than a quarter of the spacing', () => {
    const rules = { cap: 0, fill: { density: 1, angle: 20 } };
    for (const side of [1.7, 1.8, 2, 2.3, 3]) {
      const { paths } = plan(layersOf([[rectangle(0, 0, side, 9)]]), rules, kernel);
      for (const p of pathsOf(paths, (k) => paths.kind[k] === PathKind.fill)) {
        const course = courseOf(paths, p);
        let length = 0;
        for (let i = 1; i < course.length; i++) {
          length += Math.hypot(
            course[i]![0] - course[i - 1]![0],
            course[i]![1] - course[i - 1]![1],
          );
        }
        expect(length).toBeGreaterThan(spacing / 4);
      }
      expect(volumeOf(paths) / (side * 9 * 0.2)).toBeGreaterThan(0.93);
      expect(volumeOf(paths) / (side * 9 * 0.2)).toBeLessThan(1.05);
    }
  });
});

it('a piece that is narrower than half the spacing holds one line, along its middle', () => {
  const section = sectionOf([rectangle(0, 0, 60, 60)], {}, kernel);
  const piece = polygonsFrom([rectangle(20, 30, 1, 0.35)]);
  const [only, ...more] = solidBeads(section, piece, PathKind.cap, 0, 2);
  expect(more).toEqual([]);
  expect([only!.xy[1], only!.xy.at(-1)]).toEqual([30.175, 30.175].map((y) => expect.closeTo(y, 6)));
});

describe('a narrow cap between the lines of fill', () => {
  // The lines below lie at odd multiples of half their pitch and run along y: the cap lies between those at
  // 4.5 and 5.5 pitches, 1 mm wide.
  const pitch = beadSpacing(0.45, 0.2) / 0.15;
  const rules = { fill: { density: 0.15, angle: 0 } };
  const bare = polygonsFrom([rectangle(4.75 * pitch, 20, 0.5 * pitch, 1)]);
  const caps = (inside: Loop) => {
    const section = sectionOf([inside], rules, kernel);
    return partedByCaps(section, section.loops, { of: () => bare });
  };

  it('is eight lines wide at least, about its middle, and runs over the beads at both ends by what lines do', () => {
    const { cap, open } = caps(rectangle(0, 0, 40, 41));
    const [x0, y0, x1, y1] = boxOf(cap.points);
    expect(y1 - y0).toBeGreaterThanOrEqual(8 * beadSpacing(0.45, 0.2));
    expect((y0 + y1) / 2).toBeCloseTo(20.5, 6);
    // A line ends half a spacing short of where the cap ends, less the overlap of a quarter of its width.
    const over = beadSpacing(0.45, 0.2) / 2 - 0.25 * 0.45;
    expect(x0).toBeCloseTo(4.5 * pitch - over, 5);
    expect(x1).toBeCloseTo(5.5 * pitch + over, 5);
    expect(area(cap)).toBeCloseTo((x1 - x0) * (y1 - y0), 4);
    expect(area(cap) + area(open)).toBeCloseTo(40 * 41, 4);
  });

  it('stays within the contours', () => {
    const { cap } = caps(rectangle(0, 19.5, 40, 2));
    const [, y0, , y1] = boxOf(cap.points);
    expect([y0, y1]).toEqual([19.5, 21.5].map((y) => expect.closeTo(y, 6)));
  });

  it('where nothing is bare there is none', () => {
    const section = sectionOf([rectangle(0, 0, 40, 40)], rules, kernel);
    const { cap, open } = partedByCaps(section, section.loops, { of: () => noPolygons });
    expect([area(cap), area(open)]).toEqual([0, 1600]);
  });
});

it.each([0, 25, 90])(
  'the gyroid is taken in the middle of each layer, turned by %d degrees',
  (angle) => {
    // Two stacks of one layer, whose tops are 0.2 and 0.4 mm up: the gyroid of the second lies 0.1 + 0.2 mm up.
    const rules = { cap: 0, fill: { density: 0.2, pattern: 'gyroid' as const, angle } };
    const two = plan(layersOf([[rectangle(0, 0, 30, 30)], [rectangle(0, 0, 30, 30)]]), rules, kernel).paths; // prettier-ignore
    // The period holds the density over all heights: 2.45874 spacings over it (checked in lines.test.ts).
    const w = (2 * Math.PI) / ((2.45874 * beadSpacing(0.45, 0.2)) / 0.2);
    for (const p of pathsOf(two, (k) => two.kind[k] === PathKind.fill)) {
      const z = w * (two.layer[p]! === 0 ? 0.1 : 0.3);
      for (const [px, py] of courseOf(two, p).slice(1, -1)) {
        const [c, s] = [Math.cos((angle * Math.PI) / 180), Math.sin((angle * Math.PI) / 180)];
        const [x, y] = [px * c + py * s, py * c - px * s];
        const level = Math.sin(w * x) * Math.cos(w * y) + Math.sin(w * y) * Math.cos(z) + Math.sin(z) * Math.cos(w * x); // prettier-ignore
        expect(Math.abs(level)).toBeLessThan(0.03);
      }
    }
  },
);
