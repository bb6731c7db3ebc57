import { describe, expect, test } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import { meshFrom } from '../../../lib/mesh/build.js';
import { polygonsFrom } from '../../support/polygons.js';
import { loadSolidKernel } from '../../../lib/kernel/solid.js';
import { areaNormals } from '../../../lib/mesh/measure.js';
import { carriedUpright, uncutUnder } from '../../../lib/regions/search/ceilings.js';
import { forSearch } from '../../../lib/regions/search/search-mesh.js';
import { cuboid } from '../../support/shapes.js';

// Two posts of 12 x 12 x 10 mm, 16 mm apart, under a beam of 40 x 12 x 3 mm: a ceiling of 16 x 12 mm.
const kernel = await loadSolidKernel();
const portal = kernel.unite([
  cuboid([12, 12, 10], [-14, 0, 0]),
  cuboid([12, 12, 10], [14, 0, 0]),
  cuboid([40, 12, 3], [0, 0, 10]),
]);
const over = (x: number): ReturnType<typeof polygonsFrom> =>
  polygonsFrom([
    [
      [-7.8, -6],
      [x, -6],
      [x, 6],
      [-7.8, 6],
    ],
  ]);

/** mm2 of the triangles that are tagged. */
function tagged(mesh: typeof portal, to: number, z: number): number {
  const { cut } = uncutUnder(mesh, [{ from: z - 0.2, to: z, area: over(to), reach: 0.21 }]);
  const n = areaNormals(mesh);
  return cut.reduce(
    (sum, c, t) => (c === -1 ? sum : sum + Math.hypot(n[3 * t]!, n[3 * t + 1]!, n[3 * t + 2]!)),
    0,
  );
}

describe('what is bridged is tagged: closed forms of a ceiling of 16 x 12 mm', () => {
  const fine = forSearch(portal, 4000);

  test('all of it, edge to edge, coarse and fine', () => {
    expect(tagged(portal, 7.8, 10.1)).toBeCloseTo(16 * 12, 6);
    expect(tagged(fine, 7.8, 10.1)).toBeCloseTo(16 * 12, 3);
  });

  test('half of it: no triangle that reaches beyond, so no more than the half and its reach', () => {
    expect(tagged(portal, 0, 10.1)).toBe(0);
    const half = tagged(fine, 0, 10.1);
    expect(half).toBeLessThanOrEqual((8 + 0.21) * 12 + 1e-6);
    expect(half).toBeGreaterThan(6 * 12);
  });

  test('nothing at another height, and nothing that faces up', () => {
    expect(tagged(fine, 7.8, 9)).toBe(0);
    expect(tagged(fine, 7.8, 13.1)).toBe(0);
  });
});

test('a facet is tagged if it faces down and its corners and the points between them are bridged (400 facets, seed 2)', () => {
  const random = seeded(2);
  const loop: [number, number][] = [[0, 0], [10, 0], [10, 6], [5, 6], [5, 10], [0, 10]]; // prettier-ignore
  let count = 0;
  for (let n = 0; n < 400; n++) {
    // Some reach a little beyond the outline, some rise out of the band of heights.
    const at = [0, 1, 2].map(() => [11.5 * random() - 0.5, 11.5 * random() - 0.5, 5 + 0.16 * random()] as const); // prettier-ignore
    const mesh = meshFrom(Float64Array.from(at.flat()), Uint32Array.of(0, 1, 2));
    const reach = [0, 0.3, 1][n % 3]!;
    const ceilings = [{ from: 5.01, to: 5.15, area: polygonsFrom([loop]), reach }];
    const held = (x: number, y: number): boolean => {
      const inside = (x > 0 && x < 10 && y > 0 && y < 6) || (x > 0 && x < 5 && y > 0 && y < 10);
      return (
        inside ||
        loop.some(([ax, ay], i) => {
          const [bx, by] = loop[(i + 1) % loop.length]!;
          const px = Math.min(Math.max(x, Math.min(ax, bx)), Math.max(ax, bx));
          const py = Math.min(Math.max(y, Math.min(ay, by)), Math.max(ay, by));
          return Math.hypot(x - px, y - py) <= reach;
        })
      );
    };
    const [a, b, c] = at as never as [number[], number[], number[]];
    let want = (b[0]! - a[0]!) * (c[1]! - a[1]!) - (b[1]! - a[1]!) * (c[0]! - a[0]!) < 0;
    // Fifteen points: shares of a quarter between the corners.
    for (let i = 0; i <= 4; i++) {
      for (let j = 0; i + j <= 4; j++) {
        const [x, y, z] = [0, 1, 2].map((k) => ((4 - i - j) * a[k]! + i * b[k]! + j * c[k]!) / 4) as [number, number, number]; // prettier-ignore
        want &&= held(x, y) && z >= 5.01 && z <= 5.15;
      }
    }
    const { cut } = uncutUnder(mesh, ceilings);
    expect(cut[0]).toBe(want ? -2 : -1);
    expect([...carriedUpright({ mesh, cut }, 0.1)]).toEqual([want ? 1 : 0]);
    if (want) count++;
  }
  expect(count).toBeGreaterThan(15);
  expect([...uncutUnder(cuboid([1, 1, 1]), []).cut]).toEqual(Array(12).fill(-1));
});
