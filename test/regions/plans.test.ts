/**
 * Properties that hold of every plan, on random unions of cylinders, boxes and spheres: volumes whole,
 * order acyclic and grounded, contact kept, no worse than upright, and what is reported recounted from
 * the region meshes.
 */
import { describe, expect, test } from 'vitest';
import { turn } from '../../lib/base/frame.js';
import { type Vec3, dot } from '../../lib/base/vector.js';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import { moved } from '../../lib/mesh/build.js';
import { areaNormals, massOf } from '../../lib/mesh/measure.js';
import { openLimits } from '../support/limits.js';
import { planRegions } from '../../lib/regions/plan-regions.js';
import type { Region } from '../../lib/regions/region.js';
import { regionRules } from '../../lib/regions/rules.js';
import { loadShapes, postWithArm } from '../support/shapes.js';

const limbs = await loadShapes();
const kernel = await loadSolidKernel();
const rules = regionRules.parse({ directions: 40, effort: 6, children: 3, detail: 600 });
const limits = openLimits(110);

/**
 * Skin that leans past theta, off the table: a plain sum over the facets. Coordinates of the kernel are
 * float32, so a facet at the very angle may be off by 1e-4.
 */
function leaning({ mesh, cut, direction: d }: Region): number {
  const n = areaNormals(mesh);
  const limit = Math.SQRT1_2;
  let sum = 0;
  cut.forEach((id, t) => {
    const normal: Vec3 = [n[3 * t]!, n[3 * t + 1]!, n[3 * t + 2]!];
    const area = Math.hypot(...normal);
    const low = Math.max(
      ...[0, 1, 2].map((c) => mesh.vertices[3 * mesh.triangles[3 * t + c]! + 2]!),
    );
    if (id < 0 && low > rules.foot && dot(normal, d) < -(limit + 1.1e-4) * area) sum += area;
  });
  return sum;
}

describe.each(Array.from({ length: 300 }, (_, i) => 100 + i))('random union, seed %i', (seed) => {
  test('its plan holds', async () => {
    const part = limbs.randomUnion(seed);
    const { regions, unsupported, findings } = await planRegions(part, limits, rules, { kernel });
    const sum = regions.reduce((v, r) => v + massOf(r.mesh).volume, 0);
    expect(Math.abs(sum / massOf(part).volume - 1)).toBeLessThan(1e-6);
    regions.forEach((region, i) => {
      expect(region.standsOn.every((under) => under < i)).toBe(true);
      expect(region.standsOn.length > 0).toBe(i > 0);
      expect(limits.canReach(region.direction)).toBe(true);
      if (i > 0) expect(region.contactArea).toBeGreaterThanOrEqual(rules.contact * 0.9);
      expect(leaning(region)).toBeLessThanOrEqual(region.unsupportedArea + 1e-6);
      if (region.unsupportedArea > 0.02) {
        expect(
          findings.some((f) => f.at?.region === i && f.code.startsWith('regions/unsupported')),
        ).toBe(true);
      }
    });
    expect(unsupported.plannedMm2).toBeLessThanOrEqual(unsupported.asPlacedMm2 + 1e-6);
    expect(unsupported.plannedMm2).toBeLessThanOrEqual(unsupported.bestSingleDirectionMm2 + 1e-3);
    const total = regions.reduce((a, r) => a + r.unsupportedArea, 0);
    expect(unsupported.plannedMm2).toBeCloseTo(total, 9);
  });
});

test('a part turned about the table normal is planned into as many regions with as little hanging', async () => {
  const part = postWithArm();
  for (const degrees of [0, 31, 90, 215]) {
    const turned = moved(part, turn([0, 0, 1], (degrees * Math.PI) / 180));
    const { regions, unsupported } = await planRegions(turned, limits, rules, { kernel });
    expect(regions.length).toBe(2);
    expect(unsupported.plannedMm2).toBeCloseTo(0, 6);
  }
});

test('the same input gives the same regions, run after run', async () => {
  const part = limbs.randomUnion(7);
  const [a, b] = [
    await planRegions(part, limits, rules, { kernel }),
    await planRegions(part, limits, rules, { kernel }),
  ];
  expect(b.regions).toEqual(a.regions);
});
