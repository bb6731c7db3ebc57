/**
 * Where store and runner meet, and nothing else does: a shared queue on another engine takes the
 * embedded store's place by giving these. Every change names its hold and fails if that was lost.
 */
import type { FaultData } from '../../lib/index.js';
import type { Order, Progress, Result } from './job.js';

/** The right to work on a job until the lease ends. */
export interface Hold {
  readonly id: number;
  readonly owner: string;
  /** Counts the claims of this job; no two claims share one, so no two write the same files. */
  readonly attempt: number;
}

export interface Claim {
  readonly hold: Hold;
  readonly order: Order;
  /** When the job was made, ms since 1970, and the key that it came with. */
  readonly made: number;
  readonly key?: { readonly key: string; readonly digest: string };
}

export interface Queue {
  /** The waiting job that is due, of highest priority and then oldest, or nothing. */
  claim(owner: string): Promise<Claim | undefined>;
  /** Makes the lease last from now; false if the hold was lost (taken back, cancelled). */
  renew(hold: Hold): Promise<boolean>;
  progress(hold: Hold, progress: Progress): Promise<boolean>;
  finish(hold: Hold, result: Result): Promise<boolean>;
  /** Ends the job: trying again would end alike. */
  fail(hold: Hold, reason: FaultData): Promise<boolean>;
  /** A try is used up: the job waits for the next after a pause that grows, or fails after the last. */
  again(hold: Hold, reason: FaultData): Promise<boolean>;
  /** Hands the job back as it was, to start after `pauseMs`; no try is used up. */
  release(hold: Hold, pauseMs: number, reason?: FaultData): Promise<boolean>;
  /** Jobs whose lease ran out wait again. Gives their number. */
  takeBack(): Promise<number>;
  /** Milliseconds that a lease lasts. */
  readonly leaseMs: number;
  /** Called when a job may be waiting, or a hold may be lost. Gives the way to stop. */
  onChange(listener: (what: 'waiting' | 'lost') => void): () => void;
}
