/**
 * From the part on the table to paths in printing order: regions, layers, what hangs, paths, order; and
 * again while regions are in one another's way. Layers and paths are made as tasks that may run on
 * other threads.
 */
import type { Finding } from '../base/fault.js';
import { DEG } from '../base/vector.js';
import type { FieldMap } from '../field/field-map.js';
import type { PlannedField } from '../field/plan-field.js';
import type { Footing } from '../footing/footing.js';
import { portion, step } from '../base/watch.js';
import type { SliceInput, SliceTools } from './input.js';
import type { Job } from './job-file.js';
import { LEAST_HANGING } from '../layers/bridge-findings.js';
import { ceilingsOf } from '../layers/bridged-ceilings.js';
import { baseOf, baseRoom } from '../layers/interface.js';
import { pathFrame } from '../layers/layer-map.js';
import { type Layers, baseRoughness } from '../layers/layers.js';
import { thinnest } from '../layers/rules.js';
import { type Bridge, type LayerHanging, joinedHanging } from '../layers/unsupported.js';
import type { Mesh } from '../mesh/mesh.js';
import { orderRuns } from '../order/order.js';
import { lowerBeads } from '../paths/hanging/beads-below.js';
import { type PlannedPaths, joinPaths } from '../paths/plan-paths.js';
import { checkPlace } from './place-part.js';
import type { Cone } from '../regions/requests/steer.js';
import { footingAsPlaced, footingOf, withRemedy, withDensity } from './footing-remedy.js';
import type { Ceilings } from '../regions/search/ceilings.js';
import { type SearchLimits, searchLimits } from '../regions/search/machine-limits.js';
import { type RegionPlan, planRegions } from '../regions/plan-regions.js';
import type { Region } from '../regions/region.js';
import type { RegionRules } from '../regions/rules.js';
import type { Stages } from './stages.js';
import { type LayersTask, type PathsTask, type RunTask, searchingBy } from './tasks.js';
import { type LaidOut, untangled } from './untangle.js';

export type { SliceInput, SliceTools } from './input.js';

/** A job laid out, with what its layers leave unsupported and how it holds on to the table. */
export interface JobLayout extends LaidOut {
  readonly hanging: LayerHanging;
  readonly footing: Footing;
  /** Of curved layers. */
  readonly field?: PlannedField;
}

/**
 * Lays a job out.
 * @param placed the part on the table
 * @param input with the machine as motion is planned on it, its clearance wider by what corners may stray
 * @throws Fault with a code of the stage that refuses; the signal's reason when cancelled
 */
export async function layOut(
  placed: Mesh,
  given: SliceInput,
  tools: SliceTools,
  stages: Stages,
): Promise<{ readonly laidOut: JobLayout; readonly findings: readonly Finding[] }> {
  const { job, machine } = given;
  let input = withDensity(given);
  const early = await stages.later('footing', () => footingAsPlaced(placed, input, tools));
  if (early) input = withRemedy(early, input) ?? input;
  const found = await untangled(async (forbidden) => {
    let half = await upToFooting(placed, forbidding(input, forbidden), tools, stages);
    const better = withRemedy(half.footing, input);
    if (better) {
      input = better;
      half = await upToFooting(placed, forbidding(input, forbidden), tools, stages);
      withRemedy(half.footing, input);
    }
    const { plan, layers, footing, from } = half;
    const hanging = await stages.kept('support', from.layers, () =>
      hangingOf(plan, layers, job, tools),
    );
    const paths = await stages.kept('paths', from.paths, () =>
      pathsOf(plan, layers, hanging.bridges, input, tools),
    );
    const lay = paths.map((p) => p.paths);
    const sequence = stages.now('order', () => orderRuns(machine, plan.regions, lay));
    return { plan, layers, footing, hanging, paths, sequence };
  });
  const { plan, layers, hanging, paths } = found.laidOut;
  const counted = await stages.later('beads', () =>
    hangingAsLaid(plan, layers, paths, hanging, job, tools),
  );
  return { ...found, laidOut: { ...found.laidOut, hanging: counted } };
}

/** The job with some directions forbidden to some pieces. */
function forbidding(input: SliceInput, forbidden: readonly Cone[]): SliceInput {
  const { job } = input;
  const { steer } = job.regions;
  const forbid = [...steer.forbid, ...forbidden];
  return { ...input, job: { ...job, regions: { ...job.regions, steer: { ...steer, forbid } } } };
}

/** Regions and layers, and how they hold on to the table. */
async function upToFooting(
  placed: Mesh,
  asked: SliceInput,
  tools: SliceTools,
  stages: Stages,
): Promise<Pick<JobLayout, 'plan' | 'layers' | 'footing'> & { from: ReturnType<typeof inputsOf> }> {
  const { job, machine } = asked;
  const from = inputsOf(asked);
  const limits = searchLimits(machine, job.regions.tilt);
  const plan = await stages.kept('regions', from.regions, () =>
    regionsOf(placed, limits, asked, tools),
  );
  checkPlace(plan.part, machine, job.layers.first);
  const layers = await stages.kept('layers', from.layers, () => layersOf(plan, asked, tools));
  const footing = await stages.later('footing', () =>
    footingOf(plan.regions, layers[0]!, asked, tools),
  );
  return { plan, layers, footing, from };
}

/** The inputs of the kept stages; each includes those of the one before it. */
export function inputsOf({
  partBytes,
  machine,
  job,
}: SliceInput): Record<'regions' | 'layers' | 'paths', unknown> {
  const bridging = job.layers.bridge > 0 ? { layers: job.layers, cap: job.paths.cap } : undefined;
  const regions = { partBytes, place: job.place, machine, rules: job.regions, bridging };
  const layers = { regions, rules: job.layers, cap: job.paths.cap };
  return { regions, layers, paths: { layers, rules: job.paths } };
}

/**
 * The plan of the regions. Where spans may be bridged, what is bridged of the undivided part does not hang
 * for the search either. A cut may take a bridge's support away, so the layers decide: where they leave
 * anything, the part is planned without bridges as well, and the plan kept that leaves less.
 */
async function regionsOf(
  placed: Mesh,
  limits: SearchLimits,
  input: SliceInput,
  tools: SliceTools,
): Promise<RegionPlan> {
  const { machine, job } = input;
  const searching = searchingBy(tools.run, machine, tools.watch?.signal);
  let reached = 0;
  const planned = (rules: RegionRules, to: number, bridged?: Ceilings): Promise<RegionPlan> => {
    const watch = portion(tools.watch, 'regions', reached, to);
    reached = to;
    return planRegions(placed, limits, rules, {
      kernel: tools.solid,
      work: searching,
      bridged,
      watch,
    });
  };
  if (job.layers.bridge === 0) return planned(job.regions, 1);
  const sliced = async (plan: RegionPlan): Promise<{ layers: Layers[]; hanging: LayerHanging }> => {
    const within = { ...tools, watch: portion(tools.watch, 'regions', reached, reached) };
    const layers = await layersOf(plan, input, within);
    return { layers, hanging: await hangingOf(plan, layers, job, within) };
  };
  const whole = await planned({ ...job.regions, most: 1 }, UNDIVIDED);
  const { layers, hanging } = await sliced(whole);
  if (hanging.bridges.length === 0) return planned(job.regions, 1);
  const bridged = {
    partFromGiven: whole.partFromGiven,
    layers: ceilingsOf(layers[0]!, hanging.bridges, job.regions.overhang * DEG),
  };
  const most = hanging.totalMm2 < LEAST_HANGING ? 1 : job.regions.most;
  const plan = await planned({ ...job.regions, most }, WITH_BRIDGES, bridged);
  const left = (await sliced(plan)).hanging.totalMm2;
  if (left < LEAST_HANGING) return plan;
  const plain = await planned(job.regions, 1);
  return (await sliced(plain)).hanging.totalMm2 < left - LEAST_HANGING ? plain : plan;
}

/** How far the regions have come, about, once the undivided part and the plan with bridges are there. */
const UNDIVIDED = 0.1;
const WITH_BRIDGES = 0.6;

/** The layers of every region of a plan; with a field, of a plan that has one region. */
export function layersOf(
  plan: RegionPlan,
  { machine, job }: SliceInput,
  tools: SliceTools,
  field?: FieldMap,
): Promise<Layers[]> {
  const nozzleDiameter = machine.nozzle.diameter;
  const beyond = Math.max(1, Math.ceil(job.paths.cap / thinnest(job.layers, nozzleDiameter)));
  const tasks = plan.regions.map((region, i): LayersTask => ({
    kind: 'layers',
    region,
    part: plan.part,
    rules: job.layers,
    nozzleDiameter,
    roughness: baseRoughness(plan.regions, i, job.layers, nozzleDiameter),
    beyond,
    ...(field && { field }),
  }));
  return runAll('layers', tasks, tools);
}

/** What the layers of a plan leave unsupported. */
export async function hangingOf(
  plan: RegionPlan,
  layers: readonly Layers[],
  job: Job,
  tools: SliceTools,
): Promise<LayerHanging> {
  const rules = { theta: job.regions.overhang * DEG, bridge: job.layers.bridge };
  const tasks = layers.map((l, index) => ({
    kind: 'hanging' as const,
    regions: plan.regions,
    index,
    layers: l,
    rules,
  }));
  return joinedHanging(await runAll('support', tasks, tools));
}

/**
 * What hangs of the planned beads: what the layers' sections leave, and what these cannot show. Bridges are
 * those of the sections.
 */
export async function hangingAsLaid(
  plan: RegionPlan,
  layers: readonly Layers[],
  paths: readonly PlannedPaths[],
  hanging: LayerHanging,
  job: Job,
  tools: SliceTools,
): Promise<LayerHanging> {
  const tasks = layers.map((own, region) => ({
    kind: 'beads' as const,
    region,
    layers: own,
    paths: paths[region]!.paths,
    lower: beadsUnder(plan.regions, region, layers, paths),
    open: openLayers(plan.regions[region]!, region, own, hanging),
    onTable: plan.regions[region]!.baseCut < 0,
    theta: job.regions.overhang * DEG,
    bridge: job.layers.bridge,
  }));
  const places = await runAll('beads', tasks, tools);
  return joinedHanging(
    places.map((of, region) => ({
      places: of,
      bridges: hanging.bridges.filter((b) => b.region === region),
    })),
  );
}

/** The beads of earlier regions near the base of a region. */
function beadsUnder(
  regions: readonly Region[],
  index: number,
  layers: readonly Layers[],
  paths: readonly PlannedPaths[],
): Float64Array {
  const { map, thickness } = layers[index]!;
  const room = baseRoom(regions[index]!, map, NEAR_BASE * Math.max(...thickness.subarray(0, 8)));
  if (!room) return new Float64Array(0);
  const earlier = regions.slice(0, index).map((_, i) => ({
    layers: layers[i]!,
    paths: paths[i]!.paths,
  }));
  return lowerBeads(earlier, pathFrame(map).layerFromPart, room);
}

/** Layers this near to a base may touch what is under it, in layers. */
const NEAR_BASE = 2;

/** For each layer 1 where its sections leave or bridge something, or the base is near. */
function openLayers(
  region: Region,
  index: number,
  { map, top, thickness }: Layers,
  { places, bridges }: LayerHanging,
): Uint8Array {
  const base = baseOf(region, map).top;
  const open = Uint8Array.from(top, (z, k) => (z - NEAR_BASE * thickness[k]! < base ? 1 : 0));
  for (const { region: of, layer } of [...places, ...bridges]) if (of === index) open[layer] = 1;
  return open;
}

/** Layers per paths task: small enough to share the work evenly, the same on any number of threads. */
const BATCH = 12;

/** Paths of every region, planned in batches of layers and joined in order. */
export async function pathsOf(
  plan: RegionPlan,
  layers: readonly Layers[],
  bridges: readonly Bridge[],
  { machine, job }: SliceInput,
  tools: SliceTools,
): Promise<PlannedPaths[]> {
  const tasks = layers.flatMap((l, region) =>
    batches(l.top.length).map(([from, to]): PathsTask & { region: number } => ({
      kind: 'paths',
      region,
      layers: l,
      from,
      to,
      rules: job.paths,
      nozzleDiameter: machine.nozzle.diameter,
      onTable: plan.regions[region]!.standsOn.length === 0,
      carries: plan.regions.some(({ standsOn }) => standsOn.includes(region)),
      bridges: bridges.filter((b) => b.region === region && b.layer >= from && b.layer < to),
    })),
  );
  const done = await runAll('paths', tasks, tools);
  return layers.map((_, region) => joinPaths(done.filter((_, i) => tasks[i]!.region === region)));
}

const batches = (count: number): [number, number][] =>
  Array.from({ length: Math.ceil(count / BATCH) }, (_, i) => [
    i * BATCH,
    Math.min(count, (i + 1) * BATCH),
  ]);

/** Runs tasks side by side, results in the order of the tasks. */
async function runAll<T extends Parameters<RunTask>[0]>(
  stage: string,
  tasks: readonly T[],
  { run, watch }: SliceTools,
): Promise<Awaited<ReturnType<typeof run<T>>>[]> {
  let done = 0;
  return Promise.all(
    tasks.map(async (task) => {
      const result = await run(task, watch?.signal);
      step(watch, stage, ++done, tasks.length);
      return result;
    }),
  );
}
