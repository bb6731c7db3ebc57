/**
 * The two parts into whose programs faults are planted: a post with an arm to each side, in three regions,
 * the arms at a tilt of about 45 deg. In the large one a layer of an arm is less than a thousandth
 * of what is laid, so that no share of the job can stand for a fault in it.
 */
import type { Mesh } from '../../lib/base/mesh.js';
import type { Facts } from '../../lib/verify/verify.js';
import { jobOf, runJob } from '../support/jobs.js';
import { cuboid, loadShapes } from '../support/shapes.js';

/** A part that is sliced; survives the way to a thread. */
export interface Printed {
  readonly name: string;
  readonly program: string;
  /** What the check is told where it knows the part. */
  readonly facts: Facts;
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

async function printed(name: string, part: Mesh, settings: object): Promise<Printed> {
  const input = jobOf(part, 'table-table-ac', {
    layers: { thickness: 0.3 },
    page: false,
    ...settings,
  });
  const { program, plan } = await runJob(input);
  const facts = { part: plan.part, flow: input.material.flow, bridge: input.job.layers.bridge };
  return { name, program: program.join(''), facts, regions: [1, 3] };
}
