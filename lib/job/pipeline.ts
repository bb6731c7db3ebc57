/**
 * The pipeline: a mesh is split into regions by overhang analysis, each region has a build direction
 * that the machine reaches, layers and paths are made as tasks that may run on other threads, and the
 * paths are merged, in an order in which what stands on something comes after it, into a motion program
 * that is read back and checked.
 */
import { Fault, type Finding } from '../base/fault.js';
import { DEG } from '../base/vector.js';
import { type ErrorBudget, budgetOf } from '../budget/budget.js';
import { firstBeadFindings, firstBeads } from '../footing/first-beads.js';
import { bridgeFindings } from '../layers/bridge-findings.js';
import type { Layers } from '../layers/layers.js';
import { type PlannedJob, planJob } from './choose-form.js';
import type { SliceInput, SliceTools } from './lay-out.js';
import { materialDoubts } from '../machine/read-files.js';
import { sizeOf } from '../mesh/measure.js';
import type { Mesh } from '../mesh/mesh.js';
import { type ReadPart, readPart } from '../formats/read-part.js';
import { doubtfulUnit } from '../mesh/units.js';
import type { Motion } from '../motion/motion.js';
import { withRounding } from '../motion/rules.js';
import { pathFindings } from '../paths/figures.js';
import type { PlannedPaths } from '../paths/plan-paths.js';
import { checkPlace, place } from './place-part.js';
import { writeProgram } from '../program/write-program.js';
import type { RegionPlan } from '../regions/plan-regions.js';
import { type RegionAir, airByRegion, airFindings } from '../report/air.js';
import { errorFigures } from '../report/error-picture.js';
import type { PageMap, TurnedBlocks } from '../page/data/page-head.js';
import { pageMap } from '../page/data/page-map.js';
import { type Report, makeReport } from '../report/report.js';
import { plannedLayers, plannedTimes } from '../report/times.js';
import { curvedReport } from '../report/curved.js';
import { Stages } from './stages.js';
import { checkingBy } from './tasks.js';
import { footingFindings } from './footing-remedy.js';
import { type Surface, type Trace, type Verdict, verify, verifyBy } from '../verify/verify.js';

/** The result of a job: plan, layers, paths, motion, program, check and report. */
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
  /** The stages so far, for those in which the files are made and written. */
  readonly stages: Stages;
  /** What the program does, block by block, as the check read it; absent if the check is turned off. */
  readonly trace?: Trace;
  /** When each block of `trace` ends by the plan's reckoning, s. */
  readonly time?: Float64Array;
  /** Of a program in which the head turns while it lays. */
  readonly turned?: TurnedBlocks;
  /** Samples of the part's surface with the shape error at each, as the check found it. */
  readonly surface?: Surface;
  /** How far the tip is to be expected off, place by place; absent if the check is turned off. */
  readonly budget?: ErrorBudget;
  /** The map of build directions, if the page is wanted and there is a trace to show on it. */
  readonly map?: PageMap;
}

/**
 * The main job.
 * @throws Fault with a code of the stage that refuses; the signal's reason when cancelled
 */
export async function slice(input: SliceInput, tools: SliceTools): Promise<SliceResult> {
  const { job } = input;
  const stages = new Stages(tools);
  const { unit, strict, deviation } = job.place;
  const options = { heal: !strict, deviation, ...(unit ? { unit } : {}) };
  const { placed, ...read } = stages.now('read', () => {
    const given = readPart(input.partBytes, input.partName, tools.solid, options);
    return { ...given, placed: place(given.mesh, job.place) };
  });
  const doubt = doubtfulUnit(sizeOf(placed));
  try {
    return await sliceRead({ ...read, placed, doubt }, input, tools, stages);
  } catch (error) {
    if (!doubt || !(error instanceof Fault)) throw error;
    // A part in the wrong unit is refused for another reason first: it misses the table, or has no layer.
    throw new Fault(error.code, `${error.message}; ${doubt.message}`, error.at, error.problems);
  }
}

/** The part as read and as it stands on the table, with doubts about its unit. */
interface GivenPart extends ReadPart {
  readonly placed: Mesh;
  readonly doubt: Finding | undefined;
}

async function sliceRead(
  read: GivenPart,
  input: SliceInput,
  tools: SliceTools,
  stages: Stages,
): Promise<SliceResult> {
  const { machine, material, job } = input;
  const { placed } = read;
  if (job.regions.pose === 'given') checkPlace(placed, machine, job.layers.first);
  // The plan keeps its distance even where the controller rounds a corner of the program.
  const wider = withRounding(machine, job.motion);
  const planned = await planJob(placed, { ...input, machine: wider }, tools, stages);
  const { laidOut, moves } = planned;
  const { plan, layers, paths } = laidOut;
  const plannedVolumeMm3 = laidVolume(paths);
  if (!(plannedVolumeMm3 > 0)) throw nothingLaid(placed, layers, input);
  const written = stages.now('program', () =>
    writeProgram(moves.motion, machine, material, {
      part: input.partName.split(/[\\/]/).at(-1)!,
      directions: plan.regions.map((r) => r.direction),
    }),
  );
  const checked = job.check.run
    ? await checkedBack(written, { ...planned, plannedVolumeMm3 }, input, tools, stages)
    : undefined;
  return stages.now('report', () => ({
    plan,
    layers,
    paths,
    motion: moves.motion,
    program: written.chunks,
    ...(checked ? seenBy(checked, moves.motion, written.lineOf) : {}),
    report: reportOf(read, planned, written, checked, input, tools, stages),
    stages,
  }));
}

type WrittenProgram = ReturnType<typeof writeProgram>;

/** What the check found in the text of a program, and what follows from that. */
interface CheckedProgram {
  readonly verdict: Verdict;
  readonly budget: ErrorBudget | undefined;
  readonly air: readonly RegionAir[];
  readonly map?: PageMap;
}

async function checkedBack(
  { chunks, lineOf }: WrittenProgram,
  { laidOut, moves, plannedVolumeMm3 }: PlannedJob & { readonly plannedVolumeMm3: number },
  { machine, material, job }: SliceInput,
  { run, watch }: SliceTools,
  stages: Stages,
): Promise<CheckedProgram> {
  const { plan, layers, hanging } = laidOut;
  const facts = {
    plannedVolumeMm3,
    flow: material.flow,
    density: material.density,
    part: plan.part,
    bridge: job.layers.bridge,
    bounds: job.check,
    overhang: job.regions.overhang * DEG,
  };
  const verdict = await stages.later('check', () =>
    run.serial
      ? Promise.resolve(verify(chunks, machine, facts, watch))
      : verifyBy(checkingBy(run, watch?.signal), chunks, machine, facts, watch),
  );
  const { trace, inAir } = verdict;
  const budget = stages.now('errors', () =>
    budgetOf(trace, machine, { ...job.motion, density: material.density }, watch),
  );
  const air = airByRegion(trace, inAir, moves.motion, lineOf, { hanging, layers });
  return {
    verdict,
    budget,
    air,
    ...(job.page && {
      map: stages.now('map', () => pageMap(plan.part, machine, job.regions, watch)),
    }),
  };
}

/** The parts of the result that are made of what the check read. */
function seenBy(
  { verdict: { trace, height, surface }, budget, map }: CheckedProgram,
  motion: Motion,
  lineOf: Uint32Array,
): Pick<SliceResult, 'trace' | 'time' | 'turned' | 'budget' | 'surface' | 'map'> {
  return {
    trace,
    time: plannedTimes(trace, motion, lineOf),
    ...(height ? { turned: { height, layer: plannedLayers(trace, motion, lineOf) } } : {}),
    ...(budget ? { budget } : {}),
    ...(surface ? { surface } : {}),
    ...(map ? { map } : {}),
  };
}

function reportOf(
  read: GivenPart,
  { laidOut, moves, findings, flat }: PlannedJob,
  written: WrittenProgram,
  checked: CheckedProgram | undefined,
  { machine, material, job, partName }: SliceInput,
  { version }: SliceTools,
  stages: Stages,
): Report {
  const { plan, layers, footing, hanging, paths, sequence, field } = laidOut;
  const { motion, leastGap } = moves;
  const lay = paths.map((p) => p.paths);
  const beads = firstBeads(plan.regions, layers, lay);
  const check = checked?.verdict.check;
  const errorBudget =
    checked?.budget &&
    check?.print &&
    errorFigures(checked.budget, checked.verdict.trace, check.print);
  return makeReport({
    version,
    partName,
    part: plan.part,
    healed: read.healed,
    machine,
    material,
    regions: plan.regions,
    layerCounts: layers.map((l) => l.top.length),
    unsupported: plan.unsupported,
    hanging,
    footing,
    hold: job.regions,
    firstBeads: beads,
    bridge: job.layers.bridge,
    motion,
    leastGap: leastGap && { ...leastGap, gap: leastGap.gap - job.motion.cornerDeviation },
    ...(check ? { check } : {}),
    ...(errorBudget ? { errorBudget } : {}),
    ...(checked ? { air: checked.air } : {}),
    ...(field ? { curved: curvedReport(field, lay[0]!, flat) } : {}),
    findings: [
      ...machine.doubts,
      ...materialDoubts(material),
      ...(read.doubt ? [read.doubt] : []),
      ...bridgeFindings(plan.findings, hanging),
      ...footingFindings(footing),
      ...firstBeadFindings(plan.regions, layers, beads),
      ...pathFindings(paths),
      ...sequence.findings,
      ...findings,
      ...withLines(moves.findings, written.lineOf),
      ...written.findings,
      ...(check?.findings ?? []),
      ...(checked ? airFindings(checked.air, { hanging, layers }) : []),
    ],
    timing: stages.timing(),
  });
}

/** Findings about a block of the motion name the line of the program that says it. */
function withLines(findings: readonly Finding[], lineOf: Uint32Array): Finding[] {
  return findings.map((finding) => {
    const { block, ...at } = finding.at ?? {};
    return block === undefined ? finding : { ...finding, at: { ...at, line: lineOf[block]! } };
  });
}

/** Walls thinner than a bead, or a part lower than a layer, leave nothing to lay. */
function nothingLaid(
  placed: Mesh,
  layers: readonly Layers[],
  { machine, job }: Pick<SliceInput, 'machine' | 'job'>,
): Fault {
  const count = layers.reduce((sum, l) => sum + l.top.length, 0);
  const size = sizeOf(placed).map((x) => Number(x.toPrecision(3)));
  return new Fault(
    'job/lays-nothing',
    `the job lays no bead: the part measures ${size.join(' x ')} mm and gives ${count} layers, the nozzle is ${machine.nozzle.diameter} mm and a layer ${job.layers.thickness} mm`,
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
