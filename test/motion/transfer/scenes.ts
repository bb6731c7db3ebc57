/** Boxes that stand printed, as scene and as bulk, for tests of the moves between them. */
import { settingOf } from '../../../lib/clearance/scene.js';
import type { Scene } from '../../../lib/clearance/scene.js';
import type { Machine } from '../../../lib/machine/machine.js';
import { GrowingPart } from '../../../lib/motion/lay/growing-part.js';
import { type Bulk, bulkOf } from '../../../lib/motion/transfer/swept-bounds.js';
import { type BoxJob, wholeRun } from '../jobs.js';

export interface Printed {
  readonly scene: Scene;
  readonly bulk: Bulk;
}

/** @param count how many of them stand there already; left out: all */
export function printed(
  machine: Machine,
  jobs: readonly BoxJob[],
  rounding = 0,
  count = jobs.length,
): Printed {
  const growth = new GrowingPart({
    setting: settingOf(machine, rounding),
    regions: jobs.map((j) => j.region),
    layersOf: jobs.map((j) => j.layers),
    pathsOf: jobs.map((j) => j.paths),
  });
  for (let region = 0; region < count; region++) growth.add(wholeRun(jobs, region));
  return { scene: growth.scene(), bulk: bulkOf(machine, growth.boxes()) };
}
