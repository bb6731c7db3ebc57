/**
 * A part turned about the table normal together with the machine's limits gets the same regions. Limits
 * that are no circle: a machine that cannot lean towards one sixth of all azimuths.
 */
import { describe, expect, test } from 'vitest';
import { applyDirection, turn } from '../../lib/base/frame.js';
import { DEG } from '../../lib/base/vector.js';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import { moved } from '../../lib/mesh/build.js';
import type { SearchLimits } from '../../lib/regions/search/machine-limits.js';
import { openLimits } from '../support/limits.js';
import { type RegionPlan, planRegions } from '../../lib/regions/plan-regions.js';
import { regionRules } from '../../lib/regions/rules.js';
import { corpus } from '../corpus/corpus.js';
import { loadShapes } from '../support/shapes.js';

const shapes = await loadShapes();
const kernel = await loadSolidKernel();
const bare = openLimits(100);

/** Not towards azimuths 45 to 105 deg from the machine's own X, which is turned by `angle`. */
function lame(angle: number): SearchLimits {
  const back = turn([0, 0, 1], -angle * DEG);
  return {
    ...bare,
    canReach: (d) => {
      const [x, y] = applyDirection(back, d);
      const azimuth = Math.atan2(y, x) / DEG;
      return bare.canReach(d) && !(Math.hypot(x, y) > 1e-3 && azimuth > 45 && azimuth < 105);
    },
  };
}

describe.each(corpus.filter((c) => c.regions.length > 0).map((c) => [c.name, c] as const))(
  '%s',
  (_, c) => {
    const rules = regionRules.parse({ overhang: c.regions[0]!.theta, contact: 1 });
    const planned = (angle: number): Promise<RegionPlan> =>
      planRegions(moved(c.build(shapes), turn([0, 0, 1], angle * DEG)), lame(angle), rules, {
        kernel,
      });

    test('turned by 97 deg with the limits', async () => {
      const [here, there] = [await planned(0), await planned(97)];
      const back = turn([0, 0, 1], -97 * DEG);
      expect(there.regions.length).toBe(here.regions.length);
      here.regions.forEach((region, i) => {
        const other = there.regions[i]!;
        expect(other.volume / region.volume).toBeCloseTo(1, 6);
        expect(other.contactArea).toBeCloseTo(region.contactArea, 4);
        applyDirection(back, other.direction).forEach((x, k) =>
          expect(x).toBeCloseTo(region.direction[k]!, 6),
        );
      });
      expect(there.unsupported.plannedMm2).toBeCloseTo(here.unsupported.plannedMm2, 4);
    });
  },
);
