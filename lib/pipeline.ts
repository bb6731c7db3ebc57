/**
 * The sentence of the project, as code: a mesh is split into regions by overhang analysis, each
 * region has a build direction that the machine reaches, layers and paths are made as tasks that
 * may run on other threads, and the paths are merged, in an order in which what stands on something
 * comes after it, into a motion program that is read back and checked.
 */
import type { Finding } from './base/fault.js';
import { type Watch, step } from './base/watch.js';
import type { Job } from './job.js';
import { type PolygonKernel, loadPolygonKernel } from './kernel/polygon.js';
import { type SolidKernel, loadSolidKernel } from './kernel/solid.js';
import type { Layers } from './layers/layers.js';
import { unsupportedFromLayers } from './layers/unsupported.js';
import type { Machine } from './machine/machine.js';
import type { Material } from './machine/material.js';
import type { Mesh } from './mesh/mesh.js';
import { type ReadPart, readPart } from './mesh/read.js';
import { planMotion } from './motion/plan.js';
import { orderRuns } from './order/order.js';
import { type PlannedPaths, joinPaths } from './paths/plan.js';
import { checkPlace, place } from './place.js';
import { writeProgram } from './program/write.js';
import { searchLimits } from './regions/limits.js';
import { type RegionPlan, planRegions } from './regions/plan.js';
import type { Region } from './regions/region.js';
import { type Report, type StageTime, makeReport } from './report/report.js';
import type { RunTask } from './tasks.js';
import { verify } from './verify/verify.js';

export interface SliceInput {
  readonly partName: string;
  readonly partBytes: Uint8Array;
  readonly machine: Machine;
  readonly material: Material;
  readonly job: Job;
}

export interface SliceTools {
  readonly solid: SolidKernel;
  readonly polygon: PolygonKernel;
  /** Runs one slice task: `serialRunner()` or a pool's. */
  readonly run: RunTask;
  /** Seconds since any fixed moment; lib never reads a clock itself. */
  readonly clock: () => number;
  readonly version: string;
  readonly watch?: Watch;
}

export interface SliceResult {
  readonly plan: RegionPlan;
  readonly layers: readonly Layers[];
  readonly paths: readonly PlannedPaths[];
  /** RS-274 text. */
  readonly program: string;
  readonly report: Report;
}

export async function loadKernels(): Promise<Pick<SliceTools, 'solid' | 'polygon'>> {
  const [solid, polygon] = await Promise.all([loadSolidKernel(), loadPolygonKernel()]);
  return { solid, polygon };
}
