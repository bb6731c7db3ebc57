/**
 * Progress and cancellation of long work. Stages call `step` between pieces of work that take at most
 * about a second.
 */
export interface Progress {
  readonly stage: string;
  readonly done: number;
  readonly total: number;
}

/** How a caller follows and ends long work. */
export interface Watch {
  /** Ends the work; what it throws is the signal's reason. */
  readonly signal?: AbortSignal;
  /** Called about once a second, with what is done. */
  readonly progress?: (event: Progress) => void;
}

/**
 * Progress that never runs backwards: a stage that was left does not come back (nested work would bring it
 * back), and within a stage the share that is done does not fall.
 */
export function forwardOnly(
  progress: NonNullable<Watch['progress']>,
): NonNullable<Watch['progress']> {
  const left = new Set<string>();
  let last: Progress | undefined;
  return (event) => {
    if (left.has(event.stage)) return;
    if (last && last.stage !== event.stage) left.add(last.stage);
    else if (last && share(event) < share(last)) return;
    last = event;
    progress(event);
  };
}

/**
 * The watch of work that is a piece of a stage: whatever the work reports counts as the way from one share
 * of the stage to another.
 */
export function portion(watch: Watch | undefined, stage: string, from: number, to: number): Watch {
  const progress = watch?.progress;
  if (!progress) return { ...watch };
  return {
    ...watch,
    progress: (event) => {
      const done = Math.floor(100 * (from + (to - from) * share(event)));
      progress({ stage, done, total: 100 });
    },
  };
}

const share = ({ done, total }: Progress): number => (total > 0 ? done / total : 0);

/** Reports progress; throws the signal's reason if the work is no longer wanted. */
export function step(watch: Watch | undefined, stage: string, done: number, total: number): void {
  watch?.signal?.throwIfAborted();
  watch?.progress?.({ stage, done, total });
}
