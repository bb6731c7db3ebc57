/** Ear clipping: n - 2 triangles that tile a simple polygon, by areas, edges and points. */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import type { Vec2 } from '../../../lib/base/vector.js';
import { earTriangles } from '../../../lib/mesh/repair/ears.js';

const turn = (a: Vec2, b: Vec2, c: Vec2): number =>
  (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);

const areaOf = (points: readonly Vec2[]): number =>
  points.reduce((sum, p, i) => {
    const q = points[(i + 1) % points.length]!;
    return sum + (p[0] * q[1] - q[0] * p[1]) / 2;
  }, 0);

/** Every side of the polygon in one triangle, every other edge in two, the areas positive and their sum whole. */
function tiles(points: readonly Vec2[]): void {
  const n = points.length;
  const t = earTriangles(Float64Array.from(points.flat()))!;
  expect(t).toHaveLength(3 * (n - 2));
  const edges = new Set<number>();
  let area = 0;
  for (let i = 0; i < t.length; i += 3) {
    const [a, b, c] = [t[i]!, t[i + 1]!, t[i + 2]!];
    const own = turn(points[a]!, points[b]!, points[c]!) / 2;
    expect(own).toBeGreaterThan(0);
    area += own;
    for (const [u, v] of [
      [a, b],
      [b, c],
      [c, a],
    ] as const) {
      // prettier-ignore
      expect(edges.has(u * n + v)).toBe(false);
      edges.add(u * n + v);
    }
  }
  expect(area / areaOf(points)).toBeCloseTo(1, 9);
  for (let i = 0; i < n; i++) expect(edges.has(i * n + ((i + 1) % n))).toBe(true);
  for (const e of edges) {
    const [u, v] = [Math.floor(e / n), e % n];
    expect(v === (u + 1) % n || edges.has(v * n + u)).toBe(true);
  }
}

describe('polygons', () => {
  it.each([1, 2, 3, 4, 5, 6])('stars about a point, 3 to 40 corners (seed %i)', (seed) => {
    const random = seeded(seed);
    for (let n = 3; n <= 40; n += seed) {
      const turned = 6 * random();
      tiles(
        Array.from({ length: n }, (_, i): Vec2 => {
          const [r, a] = [1 + 9 * random() ** 2, (2 * Math.PI * (i + 0.8 * random())) / n + turned];
          return [r * Math.cos(a), r * Math.sin(a)];
        }),
      );
    }
  });

  it.each([1, 2, 3])(
    'staircases and combs with points on their straight runs (seed %i)',
    (seed) => {
      const random = seeded(seed);
      // Along the bottom to the right, back over teeth of whole heights.
      const top: Vec2[] = [];
      for (let x = 12; x > 0; x--) {
        const h = 1 + Math.floor(4 * random());
        top.push([x, h], [x - 1, h]);
      }
      const clean = [[0, 0], ...Array.from({ length: 12 }, (_, i) => [i + 1, 0]), ...top] as Vec2[];
      tiles(clean.filter((p, i) => String(p) !== String(clean[(i + 1) % clean.length])));
    },
  );

  it('a square that is given all its best ears at once is cut along a diagonal', () => {
    const t = earTriangles(Float64Array.of(0, 0, 1, 0, 1, 1, 0, 1))!;
    expect([...t].filter((v, i) => t.indexOf(v) !== i).length).toBe(2);
  });

  /*
   * The best-shaped ear first: of a kite with corners of 60 and 20 degrees at its ends the wide one goes first;
   * its area over the squares of its sides is the greatest, sqrt 3 / 12 for an even triangle.
   */
  it('the best-shaped ear goes first', () => {
    const far = Math.sqrt(3);
    const points: Vec2[] = [[0, 0], [far, -1], [far + 9, 0], [far, 1]]; // prettier-ignore
    expect([...earTriangles(Float64Array.from(points.flat()))!.subarray(0, 3)]).toEqual([3, 0, 1]);
  });
});

describe('no triangles', () => {
  it.each([
    ['a polygon that runs clockwise', [[0, 0], [0, 1], [1, 1], [1, 0]]], // prettier-ignore
    ['a polygon without area', [[0, 0], [1, 0], [2, 0], [3, 0]]], // prettier-ignore
    ['there and back', [[0, 0], [2, 0], [4, 0], [2, 0]]], // prettier-ignore
    ['a bow tie', [[0, 0], [2, 2], [2, 0], [0, 2]]], // prettier-ignore
    ['two turns around a square', [[0, 0], [4, 0], [4, 4], [0, 4], [1, 1], [3, 1], [3, 3], [1, 3]]], // prettier-ignore
  ])('for %s', (_, points) => {
    expect(earTriangles(Float64Array.from(points.flat()))).toBeUndefined();
  });
});
