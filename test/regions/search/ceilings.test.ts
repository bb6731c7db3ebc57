import { describe, expect, test } from 'vitest';
import { polygonsFrom } from '../../support/polygons.js';
import { loadSolidKernel } from '../../../lib/kernel/solid.js';
import { areaNormals } from '../../../lib/mesh/measure.js';
import { uncutUnder } from '../../../lib/regions/search/ceilings.js';
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
