/** The inputs of a job, and the tools that it works with. */
import type { Job } from './job-file.js';
import type { SolidKernel } from '../kernel/solid.js';
import type { Machine } from '../machine/machine.js';
import type { Material } from '../machine/material.js';
import type { StageTools } from './stages.js';
import type { RunTask } from './tasks.js';

/** What a job is made from. */
export interface SliceInput {
  /** For messages and the program's heading. */
  readonly partName: string;
  readonly partBytes: Uint8Array;
  readonly machine: Machine;
  readonly material: Material;
  readonly job: Job;
}

/** What a job works with: kernels, a runner of tasks, a clock. */
export interface SliceTools extends StageTools {
  readonly solid: SolidKernel;
  /** Runs one slice task: `serialRunner()` or a pool's. */
  readonly run: RunTask;
  readonly version: string;
}
