/**
 * The parts into whose programs faults are planted. Two are a post with an arm to each side, in three
 * regions, the arms at a tilt of about 45 deg. In the large one a layer of an arm is less than a thousandth
 * of what is laid, so that no share of the job can stand for a fault in it. Two more are in curved layers.
 */
import type { Mesh } from '../../lib/base/mesh.js';
import type { Facts } from '../../lib/verify/verify.js';
import { jobOf, runJob } from '../support/jobs.js';
import { cuboid, elbow, loadShapes, ringLying } from '../support/shapes.js';

/** A part that is sliced; survives the way to a thread. */
export interface Printed {
  readonly name: string;
  readonly program: string;
  /** What the check is told where it knows the part. */
  readonly facts: Facts;
  /** Regions in which faults are planted: the first and a later one, or the only one. */
  readonly regions: readonly number[];
  /** Whether its head turns while it lays. */
  readonly curved: boolean;
  /** Codes of errors that the plan itself says: what of the part no field can free. */
  readonly planned: readonly string[];
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

/** A bend of a rod in curved layers: the head tilts by up to 43 deg and turns with the bend. */
export async function bentPart(): Promise<Printed> {
  return curvedPart('bend', elbow(11, 3));
}

/** A small ring that lies on the table, in curved layers; what lies next to the table hangs, as planned. */
export async function ringPart(): Promise<Printed> {
  return curvedPart('ring', ringLying(7, 2.5));
}

/** On cubes of 2 mm: on finer ones, which such small parts get by themselves, the bend needs less tilt than faults of it ask for. */
async function curvedPart(name: string, mesh: Mesh): Promise<Printed> {
  const part = await printed(name, mesh, {
    layers: { thickness: 0.2, form: 'field', curved: { lattice: 2 } },
    paths: { fill: { density: 0.2 } },
    regions: { most: 1, footing: 'report' },
  });
  return {
    ...part,
    regions: [1],
    curved: true,
    planned: ['verify/in-air-share', 'verify/bead-wide', 'verify/outside'],
  };
}

async function printed(name: string, part: Mesh, settings: object): Promise<Printed> {
  const input = jobOf(part, 'table-table-ac', {
    layers: { thickness: 0.3 },
    page: false,
    ...settings,
  });
  const { program, plan } = await runJob(input);
  const facts = { part: plan.part, flow: input.material.flow, bridge: input.job.layers.bridge };
  return { name, program: program.join(''), facts, regions: [1, 3], curved: false, planned: [] };
}
