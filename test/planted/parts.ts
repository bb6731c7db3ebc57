/**
 * The two parts into whose programs faults are planted: a post with an arm to each side, in three regions,
 * the arms at a tilt of about 45 deg. In the large one a layer of an arm is less than a thousandth
 * of what is laid, so that no share of the job can stand for a fault in it.
 */
import type { Mesh } from '../../lib/base/mesh.js';
import type { SliceInput } from '../../lib/layout.js';
import type { SliceResult } from '../../lib/pipeline.js';
import { jobOf, runJob } from '../support/jobs.js';
import { cuboid, loadShapes } from '../support/shapes.js';
import { Text } from './text.js';

export interface Printed {
  readonly name: 'small' | 'large';
  readonly input: SliceInput;
  readonly result: SliceResult;
  readonly text: Text;
  /** Regions in which faults are planted: the first and a later one. */
  readonly regions: readonly [number, number];
}

export async function smallPart(): Promise<Printed> {
  const limbs = await loadShapes();
  const part = limbs.unite(
    cuboid([8, 8, 19], [-4, -4, 0]),
    cuboid([12, 6, 6], [-12, -3, 13]),
    cuboid([11, 6, 5], [0, -5, 9]),
  );
  return printed('small', part, { paths: { contours: 1 } });
}

export async function largePart(): Promise<Printed> {
  const limbs = await loadShapes();
  const part = limbs.unite(
    cuboid([30, 30, 50], [0, 0, 0]),
    cuboid([14, 9, 8], [-19, 3, 32]),
    cuboid([13, 8, 7], [19, -4, 24]),
  );
  return printed('large', part, { paths: { contours: 2 } });
}

async function printed(name: Printed['name'], part: Mesh, settings: object): Promise<Printed> {
  const input = jobOf(part, 'table-table-ac', {
    layers: { thickness: 0.3 },
    page: false,
    ...settings,
  });
  const result = await runJob(input);
  return { name, input, result, text: new Text(result.program.join('')), regions: [1, 3] };
}
