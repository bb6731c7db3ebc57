/**
 * The motion of the whole job: every block as joint values, with the filament it meters and the time it
 * takes. Rotary joints stand still inside a region whose layer map is a rigid turn; between runs the head
 * leaves, turns and comes back clear of everything. Every joint value is inside its travel, or the job is
 * refused or a finding says where; flow follows the length of the tip's path, not the joints.
 */
import { applyPoints } from '../base/frame.js';
import { Fault, type Finding } from '../base/fault.js';
import { DEG, type Vec3, pointAt } from '../base/vector.js';
import { firstAtLeast } from '../base/sorted.js';
import { type Watch, step } from '../base/watch.js';
import { settingOf } from '../clearance/scene.js';
import { pathFrame } from '../layers/layer-map.js';
import type { Layers } from '../layers/layers.js';
import type { Machine } from '../machine/machine.js';
import type { Material } from '../machine/material.js';
import type { RegionRun, Sequence } from '../order/order.js';
import { skylineOf } from '../order/skyline.js';
import type { Paths } from '../paths/paths.js';
import type { Region } from '../regions/region.js';
import { BlockList, NO_PATH, type Tag } from './lay/blocks.js';
import { reportBacklash } from './lay/report-backlash.js';
import { bulkOf } from './transfer/swept-bounds.js';
import { Feeder, flatMover, layRun, turnAt, turningMover, wipe } from './lay/lay-run.js';
import { roomAmong } from './lay/keep-aside.js';
import { leanHead } from './lay/lean-head.js';
import type { Mover } from './lay/mover.js';
import { type GrowingSheets, growingSheets } from './lay/sheet-links.js';
import { type Motion, MoveKind } from './motion.js';
import {
  type Asking,
  type LeastGap,
  type BlockSpan,
  answered,
  answeredBy,
  checkSpans,
} from './lay/check-clearance.js';
import { GrowingPart } from './lay/growing-part.js';
import { setTimes } from './timing/block-feeds.js';
import { tipLength } from './lay/follow-direction.js';
import { checkLimits } from './timing/check-limits.js';
import { compensatesBacklash, toldBlocks, withRoom } from './lay/compensate-backlash.js';
import type { NearestQuery, Nears } from './lay/nearest-approach.js';
import type { MotionRules } from './rules.js';
import { type RunSolution, chooseSolutions, linearViolations } from './lay/run-solutions.js';
import { takeUpBacklash } from './transfer/take-up-backlash.js';
import {
  type TransferEnds,
  type Transfer,
  planRetreat,
  planTransfer,
} from './transfer/transfer.js';
import { Complaints, spell } from './transfer/travel-limits.js';

export interface MotionInput {
  readonly machine: Machine;
  readonly material: Material;
  readonly regions: readonly Region[];
  /** Of each region. */
  readonly layersOf: readonly Pick<Layers, 'map' | 'top'>[];
  /** Of each region. */
  readonly pathsOf: readonly Paths[];
  readonly sequence: Pick<Sequence, 'runs'>;
  readonly rules: MotionRules;
  /** How far the head may lean from the direction in which curved layers grow, rad; left out: 5 deg. */
  readonly lean?: number;
}

export interface PlannedMotion {
  readonly motion: Motion;
  /** Where the job comes nearest while it lays; undefined if nothing comes within three clearances. */
  readonly leastGap: LeastGap | undefined;
  readonly findings: readonly Finding[];
}

const HEAD_LEAN = 5 * DEG;

/** A run with its paths and how the joints stand in it. */
interface SolvedRun extends RegionRun {
  readonly pathFrom: number;
  readonly pathTo: number;
  readonly solution: RunSolution;
}

/**
 * All of it on the calling thread.
 * @throws Fault `motion/unreachable`, `motion/travel` or `motion/transfer`, naming joint, value and
 *   limit, region and layer
 */
export const planMotion = (input: MotionInput, watch?: Watch): PlannedMotion =>
  answered(planning(input, watch));

/** The same; `ask` finds, on whichever thread, what comes near while a chunk of a run is laid. */
export const planMotionBy = (
  ask: (one: NearestQuery) => Promise<Nears>,
  input: MotionInput,
  watch?: Watch,
): Promise<PlannedMotion> => answeredBy(ask, planning(input, watch));

function* planning(given: MotionInput, watch?: Watch): Asking<PlannedMotion> {
  const { machine, rules } = given;
  const input = compensatesBacklash(machine) ? { ...given, machine: withRoom(machine) } : given;
  const complaints = new Complaints(input.rules);
  const { runs, saved } = solveRuns(input);
  if (saved > 0) complaints.add(woundStart(machine, runs[0]!, saved));
  if (input.rules.outOfTravel === 'refuse') runs.forEach((run) => refuseOutside(input, run));
  const blocks = new BlockList(input.machine.ready);
  const feeder = new Feeder(blocks, input.material.retract);
  const growth = new GrowingPart({
    ...input,
    setting: settingOf(input.machine, rules.cornerDeviation),
  });
  const spans: BlockSpan[] = [];
  runs.forEach((run, i) => {
    step(watch, 'motion', i, runs.length);
    const laying = { input, growth, blocks, feeder, complaints };
    const sheets = sheetsOf(laying, run);
    const mover = sheets?.mover ?? moverOf(input, blocks, run);
    const ends = { from: runs[i - 1]?.region ?? -1, to: run.region };
    const begin = mover.jointsAt(firstPoint(input, run), turnAt({ sheets }, firstOf(input, run)));
    toRun(laying, run, ends, begin);
    const { layerFromPart } = pathFrame(input.layersOf[run.region]!.map);
    const skyline = skylineOf(input.machine, layerFromPart, growth.boxes());
    const from = blocks.count;
    const toLay = { ...runInput(input, run, skyline), ...(sheets && { sheets }) };
    layRun(toLay, mover, feeder);
    feeder.draw(run.region, run.lastLayer);
    wipe(toLay, mover);
    const span = { from, to: blocks.count, region: run.region };
    if (sheets) {
      const scene = growth.sceneOnSheets(run.region, run.pathTo);
      spans.push({ ...span, scene, grown: sheets.grown(blocks.count) });
    } else spans.push({ ...span, scene: growth.scene() });
    growth.add(run);
  });
  const last = runs.at(-1);
  if (last) {
    const bulk = bulkOf(input.machine, growth.boxes());
    const scene = input.pathsOf[last.region]!.directions
      ? growth.sceneOnSheets(last.region, last.pathTo)
      : growth.scene();
    const retreat = planRetreat(scene, bulk, blocks.now.slice(), last.region);
    push(input, retreat, blocks, last, last.lastLayer, complaints);
    // What was drawn back is given back, so that the next job begins with a full nozzle.
    feeder.prime(last.region, last.lastLayer);
  }
  step(watch, 'motion', runs.length, runs.length);
  const made = blocks.take();
  const leastGap = yield* checkSpans(made, spans, complaints, watch);
  const compensated = toldBlocks(machine, made, input.material, rules);
  if (compensated) complaints.renumber(compensated.at);
  const motion = setTimes(machine, input.material, compensated?.blocks ?? made, rules, complaints);
  checkLimits(machine, motion, complaints);
  reportBacklash(machine, motion, rules.cornerDeviation, complaints);
  return { motion, leastGap, findings: complaints.findings };
}

/** @returns the runs, and the time that a start more than half a turn away saves, s */
function solveRuns(input: MotionInput): { runs: SolvedRun[]; saved: number } {
  const { machine, regions, layersOf, pathsOf } = input;
  const spans = input.sequence.runs.flatMap((run) => {
    const paths = pathsOf[run.region]!;
    const pathFrom = firstAtLeast(paths.layer, run.firstLayer);
    const pathTo = firstAtLeast(paths.layer, run.lastLayer + 1);
    return pathFrom < pathTo ? [{ ...run, pathFrom, pathTo }] : [];
  });
  const { runs: solutions, saved } = chooseSolutions(
    machine,
    spans.map((run) => ({
      direction: regions[run.region]!.direction,
      points: partPoints(
        pathsOf[run.region]!,
        run,
        pathFrame(layersOf[run.region]!.map).partFromLayer,
      ),
    })),
    machine.ready,
  );
  const runs = spans.map((run, i) => {
    const solution = solutions[i];
    if (!solution) throw unreachable(machine, run.region, regions[run.region]!.direction);
    return { ...run, solution };
  });
  return { runs, saved };
}

/** Reports why the first run is more than half a turn from where the machine is ready. */
function woundStart({ joints, ready }: Machine, run: SolvedRun, saved: number): Finding {
  const { rotaries } = run.solution.map;
  const wound = joints.flatMap(({ letter, kind }, j) =>
    kind === 'rotary' && Math.abs(rotaries[j]! - ready[j]!) > Math.PI
      ? [`${letter} at ${(rotaries[j]! / DEG).toFixed(1)} deg`]
      : [],
  );
  return {
    code: 'motion/wound-start',
    severity: 'note',
    message: `region ${run.region + 1} is printed with ${wound.join(' and ')}, more than half a turn from where the machine is ready: the transfers of the job so take ${saved.toFixed(1)} s less, because less has to be unwound between regions`,
    at: { region: run.region, layer: run.firstLayer },
  };
}

function partPoints(
  paths: Paths,
  span: { pathFrom: number; pathTo: number },
  partFromLayer: Float64Array,
): Float64Array {
  const from = 3 * paths.start[span.pathFrom]!;
  const to = 3 * paths.start[span.pathTo]!;
  return applyPoints(partFromLayer, paths.points.subarray(from, to));
}

function unreachable(machine: Machine, region: number, d: Vec3): Fault {
  const letters = machine.joints.filter((j) => j.kind === 'rotary').map((j) => j.letter);
  return new Fault(
    'motion/unreachable',
    `region ${region + 1} builds along ${d.map((x) => x.toFixed(4)).join(' ')}, where the joints ${letters.join(' and ')} cannot point within their travel`,
    { region },
  );
}

/** @throws Fault `motion/travel` before any block is made, for the first layer that leaves a travel */
function refuseOutside({ machine, pathsOf, layersOf }: MotionInput, run: SolvedRun): void {
  const { region, solution } = run;
  const first = solution.violations[0];
  if (!first) return;
  const paths = pathsOf[region]!;
  const at = (i: number): Float64Array =>
    partPoints(
      paths,
      { pathFrom: i, pathTo: i + 1 },
      pathFrame(layersOf[region]!.map).partFromLayer,
    );
  const leaves = (points: Float64Array): boolean =>
    linearViolations(machine, solution.map, points).some((v) => v.joint === first.joint);
  let i = run.pathFrom;
  if (machine.joints[first.joint]!.kind === 'linear') {
    while (i < run.pathTo - 1 && !leaves(at(i))) i++;
  }
  const layer = paths.layer[i]!;
  throw new Fault(
    'motion/travel',
    `in region ${region + 1}, from layer ${layer + 1} on, ${spell(machine, first)}`,
    { region, layer },
  );
}

/** Flat layers leave the rotary joints as the run's solution has them. */
function moverOf({ layersOf }: MotionInput, blocks: BlockList, run: SolvedRun): Mover {
  const { map } = layersOf[run.region]!;
  if (map.kind === 'flat') return flatMover(blocks, map, run.solution.map);
  throw new Error(`region ${run.region + 1} is curved, and its paths have no directions`);
}

/**
 * How a run of curved layers turns the head and goes from path to path; undefined where layers are flat.
 * @throws Fault `motion/unreachable` where the joints cannot point along the growth
 */
function sheetsOf(laying: Laying, run: SolvedRun): GrowingSheets | undefined {
  const { input, growth, blocks, complaints } = laying;
  const { machine, rules } = input;
  const paths = input.pathsOf[run.region]!;
  if (!paths.directions) return undefined;
  const lean = input.lean ?? HEAD_LEAN;
  const { region, pathFrom, pathTo } = run;
  const room = roomAmong(growth, region);
  const turns = leanHead(machine, paths, pathFrom, pathTo, lean, blocks.now, room);
  if (turns.unreachable >= 0) {
    throw unreachable(machine, run.region, pointAt(paths.directions, turns.unreachable));
  }
  if (turns.turnedBack > 0) complaints.add(turnedBack(run, turns.turnedBack));
  const mover = turningMover(machine, blocks, rules.chordError);
  return growingSheets(run, turns, mover, blocks, growth, rules.lift, room, (path, end) => {
    const scene = growth.sceneOnSheets(run.region, path);
    const bulk = bulkOf(machine, growth.boxes());
    const ends = { from: run.region, to: run.region };
    const link = planTransfer(scene, bulk, blocks.now.slice(), end, rules.chordError, ends);
    complainOf(input, link, run, paths.layer[path]!, 'a link in', complaints);
    return link.knots;
  });
}

const firstOf = ({ pathsOf }: MotionInput, run: SolvedRun): number =>
  pathsOf[run.region]!.start[run.pathFrom]!;

const firstPoint = (input: MotionInput, run: SolvedRun): Vec3 =>
  pointAt(input.pathsOf[run.region]!.points, firstOf(input, run));

function runInput(
  input: MotionInput,
  run: SolvedRun,
  skyline: ReturnType<typeof skylineOf>,
): Parameters<typeof layRun>[0] {
  const onTable = input.regions[run.region]!.standsOn.length === 0;
  return {
    region: run.region,
    paths: input.pathsOf[run.region]!,
    from: run.pathFrom,
    to: run.pathTo,
    rules: input.rules,
    filamentDiameter: input.machine.filamentDiameter,
    speedLimit: (layer) => (onTable && layer === 0 ? input.material.first.speed : Infinity),
    skyline,
  };
}

/** Reports what a move between two places breaks. */
function complainOf(
  { machine }: MotionInput,
  { trouble, kept }: Transfer,
  { region }: RegionRun,
  layer: number,
  which: string,
  complaints: Complaints,
): void {
  const move = `${which} region ${region + 1}`;
  if (trouble) {
    const about = trouble.kind === 'travel' ? 'outOfTravel' : 'touch';
    const message = `${move} is not free: ${trouble.words}`;
    complaints.error(about, 'motion/transfer', message, { region, layer });
  } else if (kept < machine.clearance) {
    const message = `${move} keeps ${kept} mm clear, not ${machine.clearance} mm`;
    complaints.error('tooNear', 'motion/transfer', message, { region, layer });
  }
}

function turnedBack({ region, firstLayer }: SolvedRun, paths: number): Finding {
  return {
    code: 'motion/turned-back',
    severity: 'warning',
    message: `in region ${region + 1} a rotary joint comes to the end of its travel on ${paths === 1 ? 'one bead' : `${paths} beads`} and turns back while it lays: the filament heaps up there`,
    at: { region, layer: firstLayer },
  };
}

/** What grows while run after run is laid. */
interface Laying {
  readonly input: MotionInput;
  readonly growth: GrowingPart;
  readonly blocks: BlockList;
  readonly feeder: Feeder;
  readonly complaints: Complaints;
}

/** From where the tip is to the first point of a run, where the joints stand at `end`. */
function toRun(
  { input, growth, blocks, feeder, complaints }: Laying,
  run: SolvedRun,
  ends: TransferEnds,
  end: Float64Array,
): void {
  const first = blocks.count === 0;
  feeder.draw(run.region, run.firstLayer);
  const scene = growth.scene();
  const start = blocks.now.slice();
  const bulk = bulkOf(input.machine, growth.boxes());
  const planned = planTransfer(scene, bulk, start, end, input.rules.chordError, ends);
  const { transfer, missed } = takeUpBacklash(scene, start, planned, !first);
  for (const j of missed) complaints.add(playLeft(input.machine.joints[j]!, run));
  push(input, transfer, blocks, run, run.firstLayer, complaints);
}

function playLeft({ letter, backlash }: Machine['joints'][number], run: RegionRun): Finding {
  return {
    code: 'motion/play',
    severity: 'warning',
    message: `joint ${letter} comes to region ${run.region + 1} from above, there is no room to come from below: its play of ${Number((backlash / DEG).toFixed(4))} deg shows against the other regions`,
    at: { region: run.region, layer: run.firstLayer },
  };
}

function push(
  input: MotionInput,
  transfer: Transfer,
  blocks: BlockList,
  run: RegionRun,
  layer: number,
  complaints: Complaints,
): void {
  const { region } = run;
  const which = `the way ${run.firstLayer === layer ? 'to' : 'from'}`;
  complainOf(input, transfer, run, layer, which, complaints);
  const tag: Tag = {
    kind: MoveKind.transfer,
    region,
    layer,
    pathKind: NO_PATH,
    speed: input.rules.speed.transfer,
  };
  for (const knot of transfer.knots) {
    const moves = knot.some((v, j) => Math.abs(v - blocks.now[j]!) > 1e-12);
    if (moves) blocks.push(knot, tipLength(input.machine, blocks.now, knot), 0, 0, tag);
  }
}
