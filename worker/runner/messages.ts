/** What a service process and the child processes that do its work say to each other. */
import type { FaultData } from '../../lib/index.js';
import type { Result } from '../store/job.js';
import type { Step } from './advance.js';

export interface SliceWork {
  readonly kind: 'slice';
  /** Path of the part's bytes. */
  readonly part: string;
  readonly partName: string;
  /** Contents of machine, material and job file. */
  readonly machine: unknown;
  readonly material: unknown;
  readonly settings: unknown;
  /** Folder to make and write the result into. */
  readonly out: string;
  /** Folder of kept stages, and what identifies this version of the code. */
  readonly kept: string;
  readonly code: string;
}

export interface InspectWork {
  readonly kind: 'inspect';
  readonly part: string;
  readonly partName: string;
}

export type Work = SliceWork | InspectWork;
export type Done<W extends Work> = W extends SliceWork
  ? Result
  : { readonly format: string; readonly inspection: unknown };

export type ToChild = { readonly kind: 'work'; readonly work: Work } | { readonly kind: 'granted' };

export type FromChild =
  | { readonly kind: 'progress'; readonly progress: Step }
  /** The child wants to run a task on its threads; it does so once granted, then gives back. */
  | { readonly kind: 'want' }
  | { readonly kind: 'giveBack' }
  | { readonly kind: 'done'; readonly result: unknown }
  | { readonly kind: 'fault'; readonly fault: FaultData }
  | { readonly kind: 'defect'; readonly message: string };

/** Set by the parent for the child. */
export interface ChildSettings {
  readonly memoryMb: number;
  /** Threads for slice tasks; 0 runs them on the child's main thread. */
  readonly threads: number;
}

/** Stands on the error stream of a child that went over its memory limit. */
export const OVER_MEMORY = 'tiltwright: over the memory limit';
