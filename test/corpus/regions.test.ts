/** Plans of the corpus without a head in the way: counts between the bounds, nothing hanging, volumes whole. */
import { describe, expect, test } from 'vitest';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import { areaNormals, massOf } from '../../lib/mesh/measure.js';
import { openLimits } from '../support/limits.js';
import { planRegions } from '../../lib/regions/plan-regions.js';
import type { Region } from '../../lib/regions/region.js';
import { regionRules } from '../../lib/regions/rules.js';
import { loadShapes } from '../support/shapes.js';
import { corpus } from './corpus.js';

const limbs = await loadShapes();
const kernel = await loadSolidKernel();

/** Tilts up to 100 deg, and no head. */
const bare = openLimits(100);

const counted = corpus.flatMap((c) =>
  c.regions.map((r) => [`${c.name}, theta ${r.theta}`, c, r] as const),
);

/** mm2 of skin off the table that leans past theta: a plain sum over the facets of the region. */
function recount({ mesh, cut, direction: d }: Region, theta: number): number {
  const n = areaNormals(mesh);
  let sum = 0;
  cut.forEach((id, t) => {
    const area = Math.hypot(n[3 * t]!, n[3 * t + 1]!, n[3 * t + 2]!);
    const up = n[3 * t]! * d[0] + n[3 * t + 1]! * d[1] + n[3 * t + 2]! * d[2];
    const heights = [0, 1, 2].map((k) => mesh.vertices[3 * mesh.triangles[3 * t + k]! + 2]!);
    if (id >= 0 || Math.max(...heights) < 1e-6) return;
    if (up < -(Math.sin((theta * Math.PI) / 180) + 1e-6) * area) sum += area;
  });
  return sum;
}

describe.each(counted)('%s', (_, c, { theta, least, most }) => {
  test(`at least ${least} and at most ${most ?? 'any number of'} regions`, async () => {
    const part = c.build(limbs);
    const rules = regionRules.parse({ overhang: theta, contact: 1 });
    const { regions, unsupported } = await planRegions(part, bare, rules, { kernel });
    expect(unsupported.plannedMm2).toBeLessThan(1e-6);
    for (const region of regions) expect(recount(region, theta)).toBeLessThan(1e-6);
    regions.forEach((r, i) => {
      expect(r.standsOn.length > 0).toBe(i > 0);
      for (const under of r.standsOn) expect(under).toBeLessThan(i);
    });
    const sum = regions.reduce((v, r) => v + massOf(r.mesh).volume, 0);
    expect(sum / massOf(part).volume).toBeCloseTo(1, 6);
    expect(regions.length).toBeGreaterThanOrEqual(least);
    expect(regions.length).toBeLessThanOrEqual(most ?? rules.most);
  });
});
