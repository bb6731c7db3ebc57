/**
 * The sentence of the project, as code: a mesh is split into regions by overhang analysis, each
 * region has a build direction that the machine reaches, layers and paths are made as tasks that
 * may run on other threads, and the paths are merged, in an order in which what stands on something
 * comes after it, into a motion program that is read back and checked.
 */
import type { Finding } from './base/fault.js';
import { DEG } from './base/vector.js';
import { type Watch, step } from './base/watch.js';
import { type ErrorBudget, budgetOf } from './budget/budget.js';
import type { Job } from './job.js';
import { type Keep, kept } from './keep.js';
import type { SolidKernel } from './kernel/solid.js';
import { type Layers, footing } from './layers/layers.js';
import { thinnest } from './layers/rules.js';
import { NOTHING, bridgeFindings } from './layers/bridge-findings.js';
import { ceilingsOf } from './layers/ceilings.js';
import { type Bridge, type Hanging, gathered } from './layers/unsupported.js';
import type { Machine } from './machine/machine.js';
import type { Material } from './machine/material.js';
import type { Mesh } from './mesh/mesh.js';
import { readPart } from './mesh/read.js';
import type { Motion } from './motion/motion.js';
import { planMotionBy } from './motion/plan.js';
import { withRounding } from './motion/rules.js';
import { orderRuns } from './order/order.js';
import { type PlannedPaths, joinPaths } from './paths/plan.js';
import { checkPlace, place } from './place.js';
import { writeProgram } from './program/write.js';
import type { Ceilings } from './regions/ceilings.js';
import { type SearchLimits, searchLimits } from './regions/limits.js';
import { type RegionPlan, planRegions } from './regions/plan.js';
import type { RegionRules } from './regions/rules.js';
import { errorFigures } from './report/errors.js';
import { airByRegion, airFindings } from './report/air.js';
import type { PageMap } from './report/page-head.js';
import { pageMap } from './report/page-map.js';
import { type Report, type StageTime, makeReport } from './report/report.js';
import { type LayersTask, type PathsTask, type RunTask, searchingBy } from './tasks.js';
import { untangled } from './untangle.js';
import { type Surface, type Trace, verify } from './verify/verify.js';

export interface SliceInput {
  /** For messages and the program's heading. */
  readonly partName: string;
  readonly partBytes: Uint8Array;
  readonly machine: Machine;
  readonly material: Material;
  readonly job: Job;
}

export interface SliceTools {
  readonly solid: SolidKernel;
  /** Runs one slice task: `serialRunner()` or a pool's. */
  readonly run: RunTask;
  /** Seconds since any fixed moment; lib never reads a clock itself. */
  readonly clock: () => number;
  readonly version: string;
  readonly watch?: Watch;
  /** Where finished stages are kept; left out: nowhere. */
  readonly keep?: Keep;
}

export interface SliceResult {
  readonly plan: RegionPlan;
  /** Of each region. */
  readonly layers: readonly Layers[];
  /** Of each region. */
  readonly paths: readonly PlannedPaths[];
  readonly motion: Motion;
  /** RS-274 text, in pieces of whole lines. */
  readonly program: readonly string[];
  readonly report: Report;
  /** What the program does, block by block, as the check read it; absent if the check is turned off. */
  readonly trace?: Trace;
  /** Samples of the part's surface with the shape error at each, as the check found it. */
  readonly surface?: Surface;
  /** How far the tip is to be expected off, place by place; absent if the check is turned off. */
  readonly budget?: ErrorBudget;
  /** The map of build directions, if the page is wanted and there is a trace to show on it. */
  readonly map?: PageMap;
}

/** Layers a paths task: small enough to share the work evenly, the same on any number of threads. */
const BATCH = 12;

/**
 * The main job.
 * @throws Fault with a code of the stage that refuses; the signal's reason when cancelled
 */
export async function slice(input: SliceInput, tools: SliceTools): Promise<SliceResult> {
  const { machine, material, job } = input;
  const { watch } = tools;
  const stages = new Stages(tools);
  const read = stages.now('read', () =>
    readPart(
      input.partBytes,
      input.partName,
      tools.solid,
      job.place.unit ? { unit: job.place.unit } : {},
    ),
  );
  const placed = place(read.mesh, job.place);
  if (job.regions.pose === 'given') checkPlace(placed, machine, job.layers.first);
  // What is planned keeps its distance even where the controller rounds a corner of the program.
  const { cornerDeviation } = job.motion;
  const wider = withRounding(machine, job.motion);
  const limits = searchLimits(wider, job.regions.tilt);
  const { laidOut, findings: tangles } = await untangled(async (forbidden) => {
    const { steer } = job.regions;
    const regions = {
      ...job.regions,
      steer: { ...steer, forbid: [...steer.forbid, ...forbidden] },
    };
    const asked = { ...input, machine: wider, job: { ...job, regions } };
    const from = inputsOf(asked);
    const plan = await stages.kept('regions', from.regions, () =>
      regionsOf(placed, limits, asked, tools),
    );
    checkPlace(plan.part, machine, job.layers.first);
    const layers = await stages.kept('layers', from.layers, () => layersOf(plan, input, tools));
    const hanging = await stages.kept('support', from.layers, () =>
      hangingOf(plan, layers, job, tools),
    );
    const paths = await stages.kept('paths', from.paths, () =>
      pathsOf(plan, layers, hanging.bridges, input, tools),
    );
    const lay = paths.map((p) => p.paths);
    const sequence = stages.now('order', () => orderRuns(wider, plan.regions, lay));
    return { plan, layers, hanging, paths, sequence };
  });
  const { plan, layers, hanging, paths, sequence } = laidOut;
  const moves = await stages.later('motion', () =>
    planMotionBy(
      (ask) => tools.run({ kind: 'nearest', ...ask }, watch?.signal),
      {
        machine: wider,
        material,
        regions: plan.regions,
        layersOf: layers,
        pathsOf: paths.map((p) => p.paths),
        sequence,
        rules: job.motion,
      },
      watch,
    ),
  );
  const written = stages.now('program', () =>
    writeProgram(moves.motion, machine, material, {
      part: input.partName.split(/[\\/]/).at(-1)!,
      directions: plan.regions.map((r) => r.direction),
    }),
  );
  const plannedVolumeMm3 = laidVolume(paths);
  const verdict = job.check
    ? stages.now('check', () =>
        verify(
          written.chunks,
          machine,
          {
            plannedVolumeMm3,
            flow: material.flow,
            part: plan.part,
            bridge: job.layers.bridge,
          },
          watch,
        ),
      )
    : undefined;
  const check = verdict?.check;
  const budget =
    verdict &&
    stages.now('errors', () =>
      budgetOf(verdict.trace, machine, { ...job.motion, density: material.density }, watch),
    );
  const errorBudget = budget && check?.print && errorFigures(budget, verdict.trace, check.print);
  const plannedAir = { hanging, layers, theta: job.regions.overhang * DEG };
  const air =
    verdict && airByRegion(verdict.trace, verdict.inAir, moves.motion, written.lineOf, plannedAir);
  const map =
    job.page && verdict
      ? stages.now('map', () => pageMap(plan.part, machine, job.regions, watch))
      : undefined;
  const report = makeReport({
    version: tools.version,
    partName: input.partName,
    part: plan.part,
    healed: read.healed,
    machine,
    material,
    regions: plan.regions,
    layerCounts: layers.map((l) => l.top.length),
    unsupported: plan.unsupported,
    hanging,
    bridge: job.layers.bridge,
    motion: moves.motion,
    leastGap: moves.leastGap && { ...moves.leastGap, gap: moves.leastGap.gap - cornerDeviation },
    ...(check ? { check } : {}),
    ...(errorBudget ? { errorBudget } : {}),
    ...(air ? { air } : {}),
    findings: [
      ...bridgeFindings(plan.findings, hanging),
      ...paths.flatMap((p) => p.findings),
      ...sequence.findings,
      ...tangles,
      ...withLines(moves.findings, written.lineOf),
      ...written.findings,
      ...(check?.findings ?? []),
      ...(air ? airFindings(air, plannedAir) : []),
    ],
    stages: stages.times,
  });
  return {
    plan,
    layers,
    paths,
    motion: moves.motion,
    program: written.chunks,
    report,
    ...(verdict ? { trace: verdict.trace } : {}),
    ...(budget ? { budget } : {}),
    ...(verdict?.surface ? { surface: verdict.surface } : {}),
    ...(map ? { map } : {}),
  };
}

/** What the kept stages follow from; each holds what the one before it follows from. */
function inputsOf({
  partBytes,
  machine,
  job,
}: SliceInput): Record<'regions' | 'layers' | 'paths', unknown> {
  const bridging = job.layers.bridge > 0 ? { layers: job.layers, cap: job.paths.cap } : undefined;
  const regions = { partBytes, place: job.place, machine, rules: job.regions, bridging };
  const layers = { regions, rules: job.layers, cap: job.paths.cap };
  return { regions, layers, paths: { layers, rules: job.paths } };
}

/** Findings about a block of the motion name the line of the program that says it. */
function withLines(findings: readonly Finding[], lineOf: Uint32Array): Finding[] {
  return findings.map((finding) => {
    const { block, ...at } = finding.at ?? {};
    return block === undefined ? finding : { ...finding, at: { ...at, line: lineOf[block]! } };
  });
}

/** Times of the stages, in the order in which they ran. */
class Stages {
  readonly times: StageTime[] = [];
  readonly #tools: SliceTools;

  constructor(tools: SliceTools) {
    this.#tools = tools;
  }

  now<T>(name: string, work: () => T): T {
    const from = this.#begin(name);
    const result = work();
    this.#end(name, from);
    return result;
  }

  async later<T>(name: string, work: () => Promise<T>): Promise<T> {
    const from = this.#begin(name);
    const result = await work();
    this.#end(name, from);
    return result;
  }

  /** A stage whose record may have been kept by an earlier run with equal inputs. */
  async kept<T>(name: string, inputs: unknown, work: () => Promise<T>): Promise<T> {
    return this.later(name, () => kept(this.#tools.keep, name, inputs, work));
  }

  #begin(name: string): number {
    step(this.#tools.watch, name, 0, 1);
    return this.#tools.clock();
  }

  #end(name: string, from: number): void {
    this.times.push({ name, seconds: this.#tools.clock() - from });
    step(this.#tools.watch, name, 1, 1);
  }
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
  const planned = (rules: RegionRules, bridged?: Ceilings): Promise<RegionPlan> =>
    planRegions(placed, limits, rules, tools.solid, tools.watch, searching, bridged);
  if (job.layers.bridge === 0) return planned(job.regions);
  const sliced = async (plan: RegionPlan): Promise<{ layers: Layers[]; hanging: Hanging }> => {
    const layers = await layersOf(plan, input, tools);
    return { layers, hanging: await hangingOf(plan, layers, job, tools) };
  };
  const whole = await planned({ ...job.regions, most: 1 });
  const { layers, hanging } = await sliced(whole);
  if (hanging.bridges.length === 0) return planned(job.regions);
  const bridged = {
    partFromGiven: whole.partFromGiven,
    layers: ceilingsOf(layers[0]!, hanging.bridges, job.regions.overhang * DEG),
  };
  const most = hanging.totalMm2 < NOTHING ? 1 : job.regions.most;
  const plan = await planned({ ...job.regions, most }, bridged);
  const left = (await sliced(plan)).hanging.totalMm2;
  if (left < NOTHING) return plan;
  const plain = await planned(job.regions);
  return (await sliced(plain)).hanging.totalMm2 < left - NOTHING ? plain : plan;
}

/** The layers of every region of a plan. */
export function layersOf(
  plan: RegionPlan,
  { machine, job }: SliceInput,
  tools: SliceTools,
): Promise<Layers[]> {
  const nozzleDiameter = machine.nozzle.diameter;
  const beyond = Math.max(1, Math.ceil(job.paths.cap / thinnest(job.layers, nozzleDiameter)));
  const tasks = plan.regions.map((region, i): LayersTask => ({
    kind: 'layers',
    region,
    part: plan.part,
    rules: job.layers,
    nozzleDiameter,
    footing: footing(plan.regions, i, job.layers, nozzleDiameter),
    beyond,
  }));
  return runAll('layers', tasks, tools);
}

/** What the layers of a plan leave unsupported. */
export async function hangingOf(
  plan: RegionPlan,
  layers: readonly Layers[],
  job: Job,
  tools: SliceTools,
): Promise<Hanging> {
  const rules = { theta: job.regions.overhang * DEG, bridge: job.layers.bridge };
  const tasks = layers.map((l, index) => ({
    kind: 'hanging' as const,
    regions: plan.regions,
    index,
    layers: l,
    rules,
  }));
  return gathered(await runAll('support', tasks, tools));
}

/** Paths of every region, planned in batches of layers and joined in order. */
async function pathsOf(
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

function laidVolume(paths: readonly PlannedPaths[]): number {
  let sum = 0;
  for (const { figures } of paths) {
    for (const v of figures.laid) sum += v;
    for (const v of figures.brim) sum += v;
  }
  return sum;
}
