/**
 * Section moduli of sections without two axes of symmetry, and of two caps together, against unsymmetrical
 * bending about the principal axes (Timoshenko, Strength of Materials; Mohr's circle), with second moments
 * of area from handbook formulas.
 */
import { describe, expect, it, test } from 'vitest';
import { turn } from '../../../lib/base/frame.js';
import { DEG, type Vec2 } from '../../../lib/base/vector.js';
import type { Mesh } from '../../../lib/base/mesh.js';
import { capsOf } from '../../../lib/mesh/cut/caps.js';
import { sectionOf } from '../../../lib/mesh/cut/section.js';
import { extruded } from '../../../lib/mesh/make-solids.js';
import { leastModulus } from '../../../lib/regions/search/base-strength.js';
import { cuboid, rotated, together } from '../../support/shapes.js';

/** Second moments of area about the centroid, mm4, and the corners seen from there. */
interface Handbook {
  readonly xx: number;
  readonly yy: number;
  /** Integral of x y. */
  readonly xy: number;
  readonly corners: readonly Vec2[];
}

/** The greatest stress of a unit moment, over moments in 36,000 directions, by principal axes. */
function modulusOf({ xx, yy, xy, corners }: Handbook): number {
  // Integrals of x2 and y2 are the moments about the axes y and x.
  const [sx, sy] = [yy, xx];
  const middle = (sx + sy) / 2;
  const radius = Math.hypot((sx - sy) / 2, xy);
  const theta = Math.atan2(2 * xy, sx - sy) / 2;
  const [most, least] = [middle + radius, middle - radius];
  const own = corners.map(([x, y]): Vec2 => [
    x * Math.cos(theta) + y * Math.sin(theta),
    y * Math.cos(theta) - x * Math.sin(theta),
  ]);
  let stress = 0;
  for (let i = 0; i < 36000; i++) {
    const a = (i / 36000) * 2 * Math.PI;
    for (const [u, v] of own) {
      stress = Math.max(stress, (Math.cos(a) * u) / most + (Math.sin(a) * v) / least);
    }
  }
  return 1 / stress;
}

/** Of a prism cut across, turned about its axis. */
function measured(prism: Mesh, degrees: number): number {
  const mesh = rotated(prism, turn([0, 0, 1], degrees * DEG));
  const section = sectionOf(mesh, { point: [0, 0, 4], normal: [0, 0, 1] })!;
  return leastModulus(section, capsOf(section));
}

/** A right triangle, legs along x and y: b h3 / 36, h b3 / 36, -b2 h2 / 72; the centroid is a third in. */
const triangle = (b: number, h: number): Handbook => ({
  xx: (b * h ** 3) / 36,
  yy: (h * b ** 3) / 36,
  xy: -(b * b * h * h) / 72,
  corners: [
    [-b / 3, -h / 3],
    [(2 * b) / 3, -h / 3],
    [-b / 3, (2 * h) / 3],
  ],
});

/** Rectangles put together by the parallel axis theorem; a negative width takes one away. */
function built(
  rectangles: readonly { at: Vec2; size: Vec2; sign?: number }[],
  corners: readonly Vec2[],
): Handbook {
  const parts = rectangles.map(({ at, size, sign = 1 }) => ({
    at,
    size,
    area: sign * size[0] * size[1],
  }));
  const area = parts.reduce((sum, p) => sum + p.area, 0);
  const mean = (c: 0 | 1): number => parts.reduce((sum, p) => sum + p.area * p.at[c], 0) / area;
  const [cx, cy] = [mean(0), mean(1)];
  let [xx, yy, xy] = [0, 0, 0];
  for (const { at, size, area: a } of parts) {
    xx += (a * size[1] ** 2) / 12 + a * (at[1] - cy) ** 2;
    yy += (a * size[0] ** 2) / 12 + a * (at[0] - cx) ** 2;
    xy += a * (at[0] - cx) * (at[1] - cy);
  }
  return { xx, yy, xy, corners: corners.map(([x, y]): Vec2 => [x - cx, y - cy]) };
}

describe.each([0, 20, 45, 77, 160])('turned by %d degrees', (degrees) => {
  it.each([
    [12, 12],
    [20, 6],
    [5, 18],
  ])('a right triangle of %d x %d mm', (b, h) => {
    const prism = extruded(
      [
        [
          [0, 0],
          [b, 0],
          [0, h],
        ],
      ],
      10,
    );
    expect(measured(prism, degrees) / modulusOf(triangle(b, h))).toBeCloseTo(1, 6);
  });

  it('an angle of 20 x 14 mm, legs 4 mm', () => {
    const outline: Vec2[] = [
      [0, 0],
      [20, 0],
      [20, 4],
      [4, 4],
      [4, 14],
      [0, 14],
    ];
    const angle = built(
      [
        { at: [10, 2], size: [20, 4] },
        { at: [2, 9], size: [4, 10] },
      ],
      outline,
    );
    expect(measured(extruded([outline], 10), degrees) / modulusOf(angle)).toBeCloseTo(1, 6);
  });

  it('a plate with a hole off its centre', () => {
    const outer: Vec2[] = [
      [0, 0],
      [20, 0],
      [20, 12],
      [0, 12],
    ];
    const hole: Vec2[] = [
      [2, 2],
      [2, 6],
      [10, 6],
      [10, 2],
    ];
    const plate = built(
      [
        { at: [10, 6], size: [20, 12] },
        { at: [6, 4], size: [8, 4], sign: -1 },
      ],
      outer,
    );
    expect(measured(extruded([outer, hole], 10), degrees) / modulusOf(plate)).toBeCloseTo(1, 6);
  });

  it('two legs of 4 x 6 and 8 x 3 mm, taken together', () => {
    const legs = together(cuboid([4, 6, 10], [-9, 5, 0]), cuboid([8, 3, 10], [10, -4, 0]));
    const corners = (x: number, y: number, a: number, b: number): Vec2[] => [
      [x - a, y - b],
      [x + a, y - b],
      [x + a, y + b],
      [x - a, y + b],
    ];
    const pair = built(
      [
        { at: [-9, 5], size: [4, 6] },
        { at: [10, -4], size: [8, 3] },
      ],
      [...corners(-9, 5, 2, 3), ...corners(10, -4, 4, 1.5)],
    );
    expect(measured(legs, degrees) / modulusOf(pair)).toBeCloseTo(1, 6);
  });
});

test('no caps have no modulus', () => {
  const section = sectionOf(cuboid([4, 4, 10]), { point: [0, 0, 4], normal: [0, 0, 1] })!;
  expect(leastModulus(section, [])).toBe(0);
});
