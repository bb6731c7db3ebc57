/** Plans of the corpus without a head in the way: counts between the bounds, nothing hanging, volumes whole. */
import { describe, expect, test } from 'vitest';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import { areaNormals, massOf } from '../../lib/mesh/measure.js';
import type { SearchLimits } from '../../lib/regions/limits.js';
import { planRegions } from '../../lib/regions/plan.js';
import type { Region } from '../../lib/regions/region.js';
import { regionRules } from '../../lib/regions/rules.js';
import { loadShapes } from '../support/shapes.js';
import { corpus } from './corpus.js';

const limbs = await loadShapes();
const kernel = await loadSolidKernel();

/** Tilts up to 100 deg, and a head that is a point. */
const bare: SearchLimits = {
  canReach: (d) => d[2] >= Math.cos((100 * Math.PI) / 180),
  leastTipHeight: () => 0,
  headRadius: () => 0,
  headTop: 1,
  headMost: 0,
};

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

/** A plan of 8 regions is found where 3 do; to be taken off this list when the search is mended. */
const notYet = new Set(['T on its foot, theta 45.5']);

describe.each(counted)('%s', (name, c, { theta, least, most }) => {
  const check = notYet.has(name) ? test.fails : test;
  check(`at least ${least} and at most ${most ?? 'any number of'} regions`, () => {
    const part = c.build(limbs);
    const rules = regionRules.parse({ overhang: theta, contact: 1 });
    const { regions, unsupported } = planRegions(part, bare, rules, kernel);
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
