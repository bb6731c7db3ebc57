/**
 * What a job does if the part would not hold on to the table (`regions.footing`): it ends, the part is
 * put on a pedestal, or it is planned all the same with an error among the findings.
 */
import { Fault, type Finding } from '../base/fault.js';
import type { Footing } from '../footing/footing.js';
import type { Layering } from '../footing/feet.js';
import type { SliceInput, SliceTools } from './input.js';
import type { Job } from './job-file.js';
import { massOf } from '../mesh/measure.js';
import type { Mesh } from '../mesh/mesh.js';
import { beadSpacing } from '../paths/bead.js';
import { checkBeads } from '../paths/rules.js';
import { holdOf } from '../regions/search/base-strength.js';
import { plateOf } from '../regions/search/pedestal.js';
import type { Region } from '../regions/region.js';

/** Height of a pedestal that the job did not ask for: its plate and room for a saw, mm. */
const PEDESTAL = 3;

/** How the regions as planned hold on to the table. */
export function footingOf(
  regions: readonly Region[],
  layers: Layering,
  { machine, job }: SliceInput,
  { run, watch }: SliceTools,
): Promise<Footing> {
  const { contact, hold, pedestal } = job.regions;
  const thickness = layers.thickness[0]!;
  const { width, least } = checkBeads(
    job.paths,
    machine.nozzle.diameter,
    layers.thickness.subarray(0, 1),
  );
  const spacing = beadSpacing(width, thickness);
  // Just over the first layer, and at the lower end of a pedestal's columns.
  const necks = [thickness, ...(pedestal > 0 ? [plateOf(pedestal)] : [])];
  return run(
    {
      kind: 'footing',
      regions,
      machine,
      layers: { top: layers.top, thickness: layers.thickness },
      beads: { least, brim: spacing * Math.round(job.paths.brim / spacing) },
      contact,
      hold: { ...holdOf(hold), table: hold.table },
      necks: necks.map((z) => z + OVER_STEP),
    },
    watch?.signal,
  );
}

/** A section is taken this far over a step, mm. */
const OVER_STEP = 1e-3;

/** Layers looked at, at most, for the first bead of a part that is not planned yet. */
const LOOKED_AT = 100;

/** The lowest flat layers of a part that is not planned yet. */
export function lowestLayers({ thickness, first }: Job['layers']): Layering {
  const each = new Float64Array(LOOKED_AT).fill(thickness);
  each[0] = first;
  let z = 0;
  return { thickness: each, top: each.map((t) => (z += t)) };
}

/**
 * The same of the part as placed, whole, before the long search: what its first layer lays on the table
 * is known then, as no cut is made so low. Undefined where the pose or a pedestal may change it.
 */
export async function footingAsPlaced(
  placed: Mesh,
  input: SliceInput,
  tools: SliceTools,
): Promise<Footing | undefined> {
  const { regions: rules, layers } = input.job;
  if (rules.pose !== 'given' || rules.pedestal > 0) return undefined;
  const whole: Region = {
    mesh: placed,
    cut: new Int32Array(placed.triangles.length / 3).fill(-1),
    baseCut: -1,
    direction: [0, 0, 1],
    base: { point: [0, 0, 0], normal: [0, 0, 1] },
    standsOn: [],
    volume: massOf(placed).volume,
    contactArea: 0,
    unsupportedArea: 0,
  };
  const footing = await footingOf([whole], lowestLayers(layers), input, tools);
  const known = footing.failures.filter(({ code }) => code === 'footing/contact');
  return { ...footing, failures: known };
}

/**
 * The job on a pedestal, where it allows one and has none.
 * @throws Fault of the first failure where the job is to be refused, or a pedestal does not help
 */
export function withRemedy(footing: Footing, input: SliceInput): SliceInput | undefined {
  const [failure] = footing.failures;
  const { job } = input;
  const { footing: choice, pedestal } = job.regions;
  if (!failure || choice === 'report') return undefined;
  if (choice === 'pedestal' && pedestal === 0) {
    return { ...input, job: { ...job, regions: { ...job.regions, pedestal: PEDESTAL } } };
  }
  const ways =
    pedestal === 0
      ? '; with regions.footing pedestal it is put on one, with report it is planned all the same'
      : `; the pedestal of ${pedestal} mm does not help, with regions.footing report it is planned all the same`;
  throw new Fault(failure.code, `${failure.message}${ways}`, failure.at);
}

/** The failures as findings, for a job that is planned all the same. */
export const footingFindings = ({ failures }: Footing): Finding[] =>
  failures.map(({ code, message, at }) => ({ code, severity: 'error', message, at }));

/** The density of the material, where the job names no other. */
export function withDensity(input: SliceInput): SliceInput {
  const { job, material } = input;
  const hold = { ...job.regions.hold, density: job.regions.hold.density ?? material.density };
  return { ...input, job: { ...job, regions: { ...job.regions, hold } } };
}
