/**
 * A job laid out in curved layers: the part is one region, its layers the level sets of a field that grows from the
 * table. The rest is the same as for flat layers (lay-out.ts), but that what hangs in the open is counted from the
 * sections, in lengths of the part, and of the beads, in layer space, only what lies between beads of fill.
 */
import { Fault } from '../base/fault.js';
import { DEG } from '../base/vector.js';
import { type FieldMap, metricAt } from '../field/field-map.js';
import type { PlannedField } from '../field/plan-field.js';
import { footingOf, lowestLayers, withDensity, withRemedy } from './footing-remedy.js';
import type { SliceInput, SliceTools } from './input.js';
import { type JobLayout, hangingOf, inputsOf, layersOf, pathsOf } from './lay-out.js';
import type { Job } from './job-file.js';
import { fieldRulesOf } from '../layers/field-rules.js';
import { checkThickness } from '../layers/rules.js';
import type { Layers } from '../layers/layers.js';
import { type HangingPlace, joinedHanging } from '../layers/unsupported.js';
import type { Mesh } from '../mesh/mesh.js';
import type { PlannedPaths } from '../paths/plan-paths.js';
import { orderRuns } from '../order/order.js';
import { checkPlace } from './place-part.js';
import { searchLimits } from '../regions/search/machine-limits.js';
import { type RegionPlan, planRegions } from '../regions/plan-regions.js';
import type { Stages } from './stages.js';
import { searchingBy } from './tasks.js';

/**
 * @param placed the part on the table
 * @param look is shown the field before anything is sliced with it, and may throw
 * @throws Fault with a code of the stage that refuses (`field/...` where the part has no field), or the
 *   signal's reason
 */
export async function layOutCurved(
  placed: Mesh,
  given: SliceInput,
  tools: SliceTools,
  stages: Stages,
  look: (field: PlannedField) => void = () => {},
): Promise<JobLayout> {
  const input = withDensity(given);
  const { job, machine } = input;
  refusePedestal(job.regions.pedestal);
  checkThickness(job.layers, machine.nozzle.diameter);
  checkPlace(placed, machine, job.layers.first);
  const { regions } = inputsOf(input);
  const rules = { ...job.regions, most: 1, pose: 'given' as const };
  const flat = await stages.later('regions', () =>
    planRegions(placed, searchLimits(machine, rules.tilt), rules, {
      kernel: tools.solid,
      work: searchingBy(tools.run, machine, tools.watch?.signal),
      watch: tools.watch,
    }),
  );
  const asked = fieldRulesOf(job.layers, job.regions, machine.nozzle.diameter);
  const field = await stages.kept('field', { regions, asked }, () =>
    tools.run({ kind: 'field', mesh: flat.part, machine, rules: asked }, tools.watch?.signal),
  );
  look(field);
  const layers = await stages.later('layers', () => layersOf(flat, input, tools, field.map));
  const plan = grown(flat, field);
  // What of curved layers lies on the table is what flat ones lay there.
  const footing = await stages.later('footing', () =>
    footingOf(plan.regions, lowestLayers(job.layers), input, tools),
  );
  withRemedy(footing, {
    ...input,
    job: { ...job, regions: { ...job.regions, ...noPedestal(job) } },
  });
  const bySections = await stages.later('support', () => hangingOf(plan, layers, job, tools));
  const paths = await stages.later('paths', () => pathsOf(plan, layers, [], input, tools));
  const overFill = await stages.later('beads', () =>
    hangingOverFill(layers[0]!, paths[0]!, job, tools),
  );
  const hanging = joinedHanging([
    { places: [...bySections.places, ...overFill], bridges: bySections.bridges },
  ]);
  const sequence = stages.now('order', () =>
    orderRuns(
      machine,
      plan.regions,
      paths.map((p) => p.paths),
    ),
  );
  return { plan, layers, footing, hanging, paths, sequence, field };
}

/** What of the planned beads lies between beads of fill; sections do not show it. */
async function hangingOverFill(
  layers: Layers,
  { inLayers }: PlannedPaths,
  { regions, layers: { bridge } }: Job,
  { run, watch }: SliceTools,
): Promise<HangingPlace[]> {
  const { map, top } = layers;
  if (!inLayers || map.kind === 'flat')
    throw new Error('paths of a field are planned in its layers');
  const task = {
    kind: 'beads' as const,
    region: 0,
    layers,
    paths: inLayers,
    lower: new Float64Array(0),
    // What hangs in the open is counted from the sections, in lengths of the part.
    open: new Uint8Array(top.length),
    onTable: true,
    theta: regions.overhang * DEG,
    bridge,
  };
  const places = await run(task, watch?.signal);
  return places.map((place) => inPart(place, map.field));
}

/** A place whose areas are of layer space, with those of the part. */
function inPart(place: HangingPlace, field: FieldMap): HangingPlace {
  const metric = metricAt(field, place.point);
  if (!metric) throw new Error(`no layers at ${place.point.join(' ')}`);
  const [least, most] = metric.stretch;
  const swell = 1 / (least * most);
  return { ...place, mm2: place.mm2 * swell, overFillMm2: place.overFillMm2 * swell };
}

/** The plan of one region with what its field leaves, instead of what flat layers would. */
function grown(
  flat: RegionPlan,
  { hangingMm2, unavoidableMm2, tilt, start, map }: PlannedField,
): RegionPlan {
  const [region] = flat.regions;
  const tilted = (tilt / DEG).toFixed(1);
  const from = start === 'height' ? 'the height' : 'the distance from what stands on the table';
  return {
    ...flat,
    regions: [{ ...region!, unsupportedArea: hangingMm2 }],
    unsupported: { ...flat.unsupported, plannedMm2: hangingMm2 },
    findings: [
      {
        code: 'layers/curved',
        severity: 'note',
        message: `curved layers, grown from ${from} on a lattice of ${map.lattice.spacing.toFixed(2)} mm and tilted by up to ${tilted} deg: by facets ${hangingMm2.toFixed(1)} mm2 hang, ${unavoidableMm2.toFixed(1)} mm2 lean so far so near to the table that no tilt of the machine would carry them`,
        at: { region: 0 },
      },
    ],
  };
}

/** @throws Fault `layers/curved-pedestal` */
function refusePedestal(height: number): void {
  if (height === 0) return;
  throw new Fault(
    'layers/curved-pedestal',
    `a pedestal of ${height} mm is asked for (regions.pedestal), and curved layers grow from the table: 0 mm with them`,
  );
}

/** A pedestal is a region of its own, and curved layers grow from the table. */
const noPedestal = ({ regions }: Job): Partial<Job['regions']> =>
  regions.footing === 'pedestal' ? { footing: 'refuse' } : {};
