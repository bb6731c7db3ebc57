/** Fill in rings against what rings are: lines at an even distance from the outline, a spacing or a pitch apart. */
import { beforeAll, describe, expect, test } from 'vitest';
import { type PolygonKernel, loadPolygonKernel } from '../../../lib/kernel/polygon.js';
import { solidRings } from '../../../lib/paths/fill/ring-fill.js';
import { type Bead, volumeOf, widthAt } from '../../../lib/paths/layer-bead.js';
import type { LayerSection } from '../../../lib/paths/layer-section.js';
import { PathKind } from '../../../lib/paths/paths.js';
import { area } from '../../../lib/polygon/polygons.js';
import { polygonsFrom } from '../../support/polygons.js';
import { type Loop, circle, hole, rectangle, sectionOf, stadium } from '../flat.js';

const [WIDTH, HEIGHT] = [0.45, 0.2];
let kernel: PolygonKernel;
beforeAll(async () => {
  kernel = await loadPolygonKernel();
});

const inRings = (loops: readonly Loop[], density = 0.2): LayerSection =>
  sectionOf(loops, { fill: { density } }, kernel);

/** Distances of a bead's points from the origin. */
const radii = ({ xy }: Bead): number[] =>
  Array.from({ length: xy.length / 2 }, (_, i) => Math.hypot(xy[2 * i]!, xy[2 * i + 1]!));

describe('solid rings', () => {
  test('of an annulus are circles a spacing apart, from both edges to the middle', () => {
    const section = inRings([circle(14), hole(circle(8))]);
    const beads = solidRings(section, section.loops, PathKind.cap, 2);
    const mean = beads.map((bead) => {
      const all = radii(bead);
      expect(bead.kind).toBe(PathKind.cap);
      expect(Math.max(...all) - Math.min(...all)).toBeLessThan(0.03);
      return all.reduce((a, b) => a + b, 0) / all.length;
    });
    mean.sort((a, b) => a - b);
    // 6 mm hold 6 / 0.407 = 14.7 rings: full ones but where the middle is shared.
    expect(mean.length).toBeGreaterThanOrEqual(14);
    expect(mean.length).toBeLessThanOrEqual(15);
    expect(mean[0]).toBeCloseTo(8 + section.sizes.spacing / 2, 2);
    expect(mean.at(-1)).toBeCloseTo(14 - section.sizes.spacing / 2, 2);
    for (let i = 1; i < mean.length; i++) {
      expect(mean[i]! - mean[i - 1]!).toBeGreaterThan(0.6 * section.sizes.spacing);
      expect(mean[i]! - mean[i - 1]!).toBeLessThan(1.5 * section.sizes.spacing);
    }
  });

  // Each has room for whole numbers of rings or none, necks and corners.
  test.each<[string, Loop[]]>([
    ['a disc', [circle(5)]],
    ['a square', [rectangle(-5, -5, 10, 10)]],
    ['an annulus', [circle(9), hole(circle(5))]],
    ['a slot one bead wide', [stadium(12, 0.22)]],
    ['a strip of three and a half beads', [rectangle(0, 0, 15, 1.45)]],
    [
      'a bar bell',
      [
        [
          [-6, -4],
          [0, -4],
          [0, -0.6],
          [5, -0.6],
          [5, -4],
          [11, -4],
          [11, 4],
          [5, 4],
          [5, 0.6],
          [0, 0.6],
          [0, 4],
          [-6, 4],
        ],
      ],
    ],
  ])('of %s hold its volume, and leave no place far from a bead', (_, loops) => {
    const section = inRings(loops);
    const beads = solidRings(section, section.loops, PathKind.cap, 2);
    // What corners lack and the shared middle has over, together.
    expect(volumeOf(beads, HEIGHT) / (area(section.loops) * HEIGHT)).toBeGreaterThan(0.93);
    expect(volumeOf(beads, HEIGHT) / (area(section.loops) * HEIGHT)).toBeLessThan(1.05);
    for (const [x, y] of inside(section, 0.31)) {
      // A square corner is the farthest: the round end of a bead misses it by its diagonal.
      expect(nearest(beads, x, y)).toBeLessThan(1.2 * WIDTH);
    }
  });

  test('of nothing are none', () => {
    const section = inRings([rectangle(0, 0, 5, 5)]);
    expect(solidRings(section, polygonsFrom([]), PathKind.cap, 2)).toEqual([]);
  });
});

/** Points of a grid inside the section, by crossing number. */
function* inside({ loops }: LayerSection, step: number): Generator<[number, number]> {
  const { points, start } = loops;
  for (let x = -20; x < 20; x += step) {
    for (let y = -20; y < 20; y += step) {
      let odd = false;
      for (let l = 0; l + 1 < start.length; l++) {
        for (let i = start[l]!; i < start[l + 1]!; i++) {
          const j = i + 1 < start[l + 1]! ? i + 1 : start[l]!;
          const [ax, ay, bx, by] = [
            points[2 * i]!,
            points[2 * i + 1]!,
            points[2 * j]!,
            points[2 * j + 1]!,
          ];
          if (ay > y !== by > y && x < ax + ((y - ay) / (by - ay)) * (bx - ax)) odd = !odd;
        }
      }
      if (odd) yield [x, y];
    }
  }
}

/** From a point to the middle of the nearest bead, mm, less what the bead is wider than usual. */
function nearest(beads: readonly Bead[], x: number, y: number): number {
  let best = Infinity;
  for (const bead of beads) {
    const { xy } = bead;
    const n = xy.length / 2;
    for (let j = bead.closed ? 0 : 1; j < n; j++) {
      const i = j > 0 ? j - 1 : n - 1;
      const [ax, ay, bx, by] = [xy[2 * i]!, xy[2 * i + 1]!, xy[2 * j]!, xy[2 * j + 1]!];
      const long = (bx - ax) ** 2 + (by - ay) ** 2;
      const t = long > 0 ? ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / long : 0;
      const share = Math.min(1, Math.max(0, t));
      const far = Math.hypot(x - ax - share * (bx - ax), y - ay - share * (by - ay));
      best = Math.min(best, far - (widthAt(bead, j) - WIDTH) / 2);
    }
  }
  return best;
}
