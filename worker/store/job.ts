/** Records of the job store: parts, what is asked for, the state of a job, what it left. */
import { z } from 'zod';
import type { FaultData } from '../../lib/base/fault.js';

export const STATES = ['waiting', 'running', 'finished', 'failed', 'cancelled'] as const;
/** How a job stands. */
export type State = (typeof STATES)[number];

/** What is asked for. Machine and material are copies, so later changes of a library touch no job. */
export interface Order {
  readonly name: string;
  /** Name of an uploaded part: the SHA-256 of its bytes. */
  readonly part: string;
  /** The name that its file had. */
  readonly partName: string;
  /** Machine, material and job file contents, checked. */
  readonly machine: unknown;
  readonly material: unknown;
  readonly settings: unknown;
  /** The higher, the sooner. */
  readonly priority: number;
}

/** How far a running job has come. */
export interface Progress {
  readonly stage: string;
  readonly done: number;
  readonly total: number;
  /** Of the whole job, 0 to 1: an estimate that never falls while a try lasts. */
  readonly share: number;
}

/** Figures of a finished job for lists; the report has them all. */
export const summarySchema = z.object({
  regions: z.number(),
  seconds: z.number().describe('estimated printing time'),
  massG: z.number(),
  unsupportedMm2: z.number().describe('counted from the layers'),
  errors: z.number().describe('findings of severity error'),
  warnings: z.number(),
});
/** Figures of a finished job. */
export type Summary = z.infer<typeof summarySchema>;

/** A file of a result. */
export interface ResultFile {
  readonly name: string;
  readonly bytes: number;
  /** SHA-256, hexadecimal; results of early versions have none. */
  readonly sha256?: string;
}

export interface Result {
  readonly summary: Summary;
  readonly files: readonly ResultFile[];
}

/** A job as it stands. Times are milliseconds since 1970. */
export interface JobRecord {
  readonly id: number;
  readonly state: State;
  readonly name: string;
  readonly part: string;
  readonly partName: string;
  readonly machineName: string;
  readonly materialName: string;
  readonly priority: number;
  readonly made: number;
  readonly started?: number;
  readonly ended?: number;
  /** When a waiting job may start. */
  readonly due?: number;
  /** Tries that ended in a crash of the job, and runners that were lost under it. */
  readonly tries: number;
  readonly losses: number;
  readonly progress?: Progress;
  /** Why it failed, or what its last try ended in. */
  readonly reason?: FaultData;
  readonly summary?: Summary;
  /** What the command would have ended with: 0, 3 with findings of severity error, 1 if it failed. */
  readonly exit?: number;
}

/** Something that happened to a job. */
export interface JobEvent {
  /** Rises through all events of a store; listeners resume after the last one they saw. */
  readonly seq: number;
  readonly job: number;
  readonly at: number;
  readonly kind: State | 'progress' | 'removed';
  readonly data?: unknown;
}

/** An uploaded part. */
export interface PartRecord {
  /** SHA-256 of its bytes. */
  readonly id: string;
  readonly name: string;
  readonly bytes: number;
  readonly format: string;
  /** Figures and findings of the mesh. */
  readonly inspection: unknown;
  readonly made: number;
}
