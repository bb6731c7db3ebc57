/** True lengths in the sheets of a field, and where sheets lie near the table, against closed forms. */
import { beforeAll, describe, expect, test } from 'vitest';
import { DEG, type Vec3 } from '../../lib/base/vector.js';
import { SheetMetric, sheetArea, sheetLength } from '../../lib/field/sheet-metric.js';
import { sheetsBelow } from '../../lib/field/sheet-sections.js';
import { type PolygonKernel, loadPolygonKernel } from '../../lib/kernel/polygon.js';
import { area } from '../../lib/polygon/polygons.js';
import { cylinders, fieldOf } from '../support/fields.js';
import { cuboid } from '../support/shapes.js';

let kernel: PolygonKernel;
beforeAll(async () => {
  kernel = await loadPolygonKernel();
});

describe('a linear map, in which every gradient is exact', () => {
  // Rows of J: u and v sheared and stretched, growth twice the height. In the sheet z = const a step (x, y) of the
  // part is (1.25 x + 0.3 y, 0.8 y) in layer space.
  const map = fieldOf(cuboid([12, 10, 8]), 2, ([x, y, z]) => [1.25 * x + 0.3 * y, 0.8 * y, 2 * z]);
  const metric = new SheetMetric(map);

  test.each<Vec3>([
    [1, 1, 3],
    [-2.5, 0.4, 5.5],
  ])('gives place, direction, thickness and lengths at %d %d %d', (x, y, z) => {
    const at = metric.at([1.25 * x + 0.3 * y, 0.8 * y, 2 * z])!;
    [x, y, z].forEach((value, c) => expect(at.point[c]).toBeCloseTo(value, 9));
    [0, 0, 1].forEach((value, c) => expect(at.direction[c]).toBeCloseTo(value, 9));
    expect(at.thickness).toBeCloseTo(0.5, 9);
    expect(sheetArea(at.lengths)).toBeCloseTo(1 / (1.25 * 0.8), 9);
    for (const [px, py] of [
      [1, 0],
      [0, 1],
      [0.6, -0.8],
    ] as const) {
      const length = sheetLength(at.lengths, 1.25 * px + 0.3 * py, 0.8 * py);
      expect(length).toBeCloseTo(Math.hypot(px, py), 9);
    }
  });

  test('says nothing where the map does not reach', () => {
    expect(metric.at([40, 0, 4])).toBeUndefined();
  });
});

test('cylinders unrolled at radius 20: at radius r arcs are r / 20 as long, the axis keeps its length', () => {
  // A block beside the axis: 15 to 25 mm from it.
  const map = fieldOf(cuboid([10, 8, 10], [20, 0, -5]), 1, cylinders(20));
  const metric = new SheetMetric(map);
  for (const r of [17.5, 20, 22.5]) {
    for (const angle of [-6, 0, 7]) {
      const at = metric.at([-20 * angle * DEG, 1, r])!;
      expect(at.thickness).toBeCloseTo(1, 3);
      const radial = [Math.cos(angle * DEG), 0, Math.sin(angle * DEG)];
      const cosine = radial.reduce((sum, value, c) => sum + value * at.direction[c]!, 0);
      expect(Math.acos(Math.min(1, cosine)) / DEG).toBeLessThan(0.3);
      expect(sheetLength(at.lengths, 1, 0)).toBeCloseTo(r / 20, 2);
      expect(sheetLength(at.lengths, 0, 1)).toBeCloseTo(1, 2);
    }
  }
});

describe('sheets that rise at an angle from the table', () => {
  // Growth along (sin a, 0, cos a): the sheet g meets the table where x sin a = g, and is h over it along h / sin a.
  const a = 30 * DEG;
  const map = fieldOf(cuboid([30, 12, 10]), 1.5, ([x, y, z]) => [
    x * Math.cos(a) - z * Math.sin(a),
    y,
    x * Math.sin(a) + z * Math.cos(a),
  ]);
  test.each([0.2, 0.5, 1])('lie within %d mm of it on a strip of h / sin a', (h) => {
    const growth = Float64Array.of(-3, 0, 2.5);
    const found = sheetsBelow(map, growth, h);
    found.forEach((loops, k) => {
      const g = growth[k]!;
      // Between the table (z = 0) and z = h, and half the width of the box: the lattice stands out of the part.
      const u = (z: number): number => {
        const x = (g - z * Math.cos(a)) / Math.sin(a);
        return x * Math.cos(a) - z * Math.sin(a);
      };
      const strip = {
        points: Float64Array.of(u(h) - 1, -3, u(0), -3, u(0), 3, u(h) - 1, 3),
        start: Uint32Array.of(0, 4),
      };
      const within = kernel.combine(kernel.union(loops, 'positive'), strip, 'intersection');
      expect(area(within)).toBeCloseTo((6 * h) / Math.sin(a), 2);
    });
  });
});
