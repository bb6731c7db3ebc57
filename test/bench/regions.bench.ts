/**
 * The whole search for regions of the bunny (69,664 triangles, free pose, the sample machine's head) on
 * two threads against the same on one, and whether both plans are the same. Wanted: at least 1.6.
 */
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import { motionRules, withRounding } from '../../lib/motion/rules.js';
import { searchLimits } from '../../lib/regions/search/machine-limits.js';
import { type RegionPlan, planRegions } from '../../lib/regions/plan-regions.js';
import { regionRules } from '../../lib/regions/rules.js';
import { searchingBy } from '../../lib/job/tasks.js';
import { openPool } from '../../worker/pool.js';
import { sampleMachine } from '../support/jobs.js';
import type { Row } from './bench.js';
import { bunny } from './meshes.js';

export async function run(): Promise<Row[]> {
  const [two, one] = [await search(2), await search(1)];
  const same = JSON.stringify(directions(two.plan)) === JSON.stringify(directions(one.plan));
  return [
    {
      name: `regions of the bunny, ${two.plan.regions.length}, ${same ? 'the same' : 'DIFFERENT'} plans: 2 threads, 1`,
      a: two.ms,
      b: one.ms,
      ratio: one.ms / two.ms,
      want: { least: 1.6 },
    },
  ];
}

const directions = ({ regions }: RegionPlan): unknown =>
  regions.map((r) => [r.direction, r.base, r.volume]);

async function search(threads: number): Promise<{ plan: RegionPlan; ms: number }> {
  const machine = withRounding(sampleMachine('table-table-ac'), motionRules.parse({}));
  const kernel = await loadSolidKernel();
  const rules = regionRules.parse({ pose: 'free' });
  const pool = openPool(threads);
  const part = bunny(0);
  try {
    const begin = performance.now();
    const plan = await planRegions(part, searchLimits(machine, rules.tilt), rules, {
      kernel,
      work: searchingBy(pool.run, machine),
    });
    return { plan, ms: performance.now() - begin };
  } finally {
    await pool.close();
  }
}
