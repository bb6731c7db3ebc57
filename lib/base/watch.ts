/**
 * How long work is watched: progress goes out, a wish to stop comes in. Stages call `step` between
 * pieces of work that take at most about a second.
 */
export interface Progress {
  readonly stage: string;
  readonly done: number;
  readonly total: number;
}

export interface Watch {
  readonly signal?: AbortSignal;
  readonly progress?: (event: Progress) => void;
}

/** Reports progress; throws the signal's reason if the work is no longer wanted. */
export function step(watch: Watch | undefined, stage: string, done: number, total: number): void {
  watch?.signal?.throwIfAborted();
  watch?.progress?.({ stage, done, total });
}
