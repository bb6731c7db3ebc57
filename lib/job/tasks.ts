/**
 * The pieces of work that may run on another thread: plain records in and out, each a pure function of
 * its input, so that serial and pooled results are the same bit for bit.
 */
import { type PolygonKernel, loadPolygonKernel } from '../kernel/polygon.js';
import { type Under, limitsFor } from '../directions/changed-limits.js';
import type { SearchingUnder } from '../directions/needs.js';
import { type Footing, type FootingInput, judgeFooting } from '../footing/footing.js';
import type { FieldMap } from '../field/field-map.js';
import { type FieldRules, type PlannedField, planField } from '../field/plan-field.js';
import type { BaseRoughness } from '../layers/interface.js';
import { bentMap } from '../layers/layer-map.js';
import { type Layers, layOut } from '../layers/layers.js';
import type { LayerRules } from '../layers/rules.js';
import {
  type Bridge,
  type HangingPlace,
  type RegionHanging,
  type SupportRules,
  hangingOf,
} from '../layers/unsupported.js';
import type { Mesh } from '../mesh/mesh.js';
import { type HangingInput, hangingBeads } from '../paths/hanging/planned-beads.js';
import { bentPlan } from '../paths/bend-paths.js';
import { planPaths } from '../paths/plan-paths.js';
import type { PlannedPaths } from '../paths/plan-paths.js';
import type { PathRules } from '../paths/rules.js';
import { type NearestQuery, type Nears, nearestOf } from '../motion/lay/nearest-approach.js';
import type { Machine } from '../machine/machine.js';
import {
  type FoundPlan,
  type ReplaySpec,
  type SearchSpec,
  type SimplifySpec,
  searchedPlan,
  replayed,
  simplified,
} from '../regions/plan-regions.js';
import type { Plan } from '../regions/search/plan-state.js';
import type { Region } from '../regions/region.js';
import {
  type CheckTask,
  type CheckTaskResult,
  type RunCheckTask,
  doCheckTask,
} from '../verify/check-tasks.js';

export interface SearchTask extends SearchSpec {
  readonly kind: 'search';
  readonly machine: Machine;
  /** The machine with one limit set to a value; left out: as it is. */
  readonly under?: Under;
}

export interface ReplayTask extends ReplaySpec {
  readonly kind: 'replay';
  readonly machine: Machine;
}

export interface SimplifyTask extends SimplifySpec {
  readonly kind: 'simplify';
}

/** The field of a whole part. */
export interface FieldTask {
  readonly kind: 'field';
  readonly mesh: Mesh;
  readonly machine: Machine;
  readonly rules: FieldRules;
}

export interface LayersTask {
  readonly kind: 'layers';
  readonly region: Region;
  readonly part: Mesh;
  readonly rules: LayerRules;
  readonly nozzleDiameter: number;
  readonly roughness: BaseRoughness;
  /** How many layers beyond the region's ends caps look at. */
  readonly beyond: number;
  /** The field whose sheets are the layers of a region that is the whole part; left out: flat layers. */
  readonly field?: FieldMap;
}

export interface HangingTask {
  readonly kind: 'hanging';
  /** In printing order. */
  readonly regions: readonly Region[];
  readonly index: number;
  readonly layers: Layers;
  readonly rules: SupportRules;
}

export interface PathsTask {
  readonly kind: 'paths';
  readonly layers: Layers;
  /** Layers from .. to (exclusive). */
  readonly from: number;
  readonly to: number;
  readonly rules: PathRules;
  readonly nozzleDiameter: number;
  readonly onTable: boolean;
  /** Whether other regions stand on this one; left out: none. */
  readonly carries?: boolean;
  /** Of these layers; left out: none. */
  readonly bridges?: readonly Bridge[];
}

export interface FootingTask extends FootingInput {
  readonly kind: 'footing';
}

/** What of a region's planned beads hangs. */
export interface BeadsTask extends HangingInput {
  readonly kind: 'beads';
}

export interface NearestTask extends NearestQuery {
  readonly kind: 'nearest';
}

/** A piece of the check. */
export interface CheckPieceTask<T extends CheckTask = CheckTask> {
  readonly kind: 'check';
  readonly task: T;
}

export type SliceTask =
  | SearchTask
  | ReplayTask
  | SimplifyTask
  | FieldTask
  | LayersTask
  | HangingTask
  | PathsTask
  | FootingTask
  | BeadsTask
  | NearestTask
  | CheckPieceTask;
export type TaskResult<T extends SliceTask> = T extends SearchTask
  ? FoundPlan
  : T extends ReplayTask
    ? Plan
    : T extends SimplifyTask
      ? Mesh
      : T extends FieldTask
        ? PlannedField
        : T extends LayersTask
          ? Layers
          : T extends HangingTask
            ? RegionHanging
            : T extends BeadsTask
              ? HangingPlace[]
              : T extends NearestTask
                ? Nears
                : T extends FootingTask
                  ? Footing
                  : T extends CheckPieceTask<infer C>
                    ? CheckTaskResult<C>
                    : PlannedPaths;

/** Runs one task, on any thread; rejects with a Fault or the signal's reason. */
export interface RunTask {
  <T extends SliceTask>(task: T, signal?: AbortSignal): Promise<TaskResult<T>>;
  /** Whether tasks run one after another: then none is made that only pays side by side with others. */
  readonly serial?: boolean;
}

export function doTask(task: SliceTask, kernel: PolygonKernel): TaskResult<SliceTask> {
  switch (task.kind) {
    case 'search':
      return searchedPlan(task, limitsFor(task.machine, task.setting.rules.tilt, task.under));
    case 'replay':
      return replayed(task, limitsFor(task.machine, task.setting.rules.tilt));
    case 'simplify':
      return simplified(task);
    case 'field':
      return planField(task.mesh, task.machine, task.rules);
    case 'layers':
      return layOut(
        task.region,
        task.part,
        task.rules,
        task,
        kernel,
        undefined,
        task.field && bentMap(task.field),
      );
    case 'hanging':
      return hangingOf(task.regions, task.index, task.layers, task.rules, kernel);
    case 'paths':
      return pathsOf(task, kernel);
    case 'footing':
      return judgeFooting(task, kernel);
    case 'beads':
      return hangingBeads(task);
    case 'nearest':
      return nearestOf(task);
    case 'check':
      return doCheckTask(task.task);
  }
}

/** Paths of flat layers in layer space, of curved ones in the part. */
function pathsOf(task: PathsTask, kernel: PolygonKernel): PlannedPaths {
  const { layers, from, to, rules } = task;
  const planned = planPaths(layers, from, to, rules, task, kernel);
  return layers.map.kind === 'field' ? bentPlan(planned, layers.map) : planned;
}

/** The searches of a plan, or of what a part needs, as tasks. */
export const searchingBy = (
  run: RunTask,
  machine: Machine,
  signal?: AbortSignal,
): SearchingUnder => ({
  search: (spec, under) =>
    run({ kind: 'search', machine, ...spec, ...(under ? { under } : {}) }, signal),
  replay: (spec) => run({ kind: 'replay', machine, ...spec }, signal),
  simplify: (spec) => run({ kind: 'simplify', ...spec }, signal),
  grow: (mesh, rules) => run({ kind: 'field', mesh, machine, rules }, signal),
});

/** The check of a program as tasks. */
export const checkingBy =
  (run: RunTask, signal?: AbortSignal): RunCheckTask =>
  <T extends CheckTask>(task: T) =>
    run<CheckPieceTask<T>>({ kind: 'check', task }, signal) as Promise<CheckTaskResult<T>>;

/** Runs every task on the calling thread, letting other work in between. */
export async function serialRunner(): Promise<RunTask> {
  const kernel = await loadPolygonKernel();
  const run = async <T extends SliceTask>(
    task: T,
    signal?: AbortSignal,
  ): Promise<TaskResult<T>> => {
    await new Promise((resolve) => setImmediate(resolve));
    signal?.throwIfAborted();
    return doTask(task, kernel) as TaskResult<T>;
  };
  return Object.assign(run, { serial: true });
}
