/** How work shows itself: a bar on a terminal, plain lines otherwise, nothing when asked for JSON. */
import { SingleBar } from 'cli-progress';
import { type Progress, type Watch, forwardOnly } from '../lib/base/watch.js';

export interface Show {
  readonly watch: Watch;
  /** Ends the display, so that results can be printed. */
  stop(): void;
}

const NOTHING_WRITTEN = 'cancelled; nothing was written';

/** Ctrl-C asks the work to stop; progress goes to the error stream, results to the output stream. */
export function showProgress(quiet: boolean, stopped = NOTHING_WRITTEN): Show {
  const abort = new AbortController();
  const interrupt = (): void => abort.abort(new Cancelled(stopped));
  process.once('SIGINT', interrupt);
  process.once('SIGTERM', interrupt);
  const display = quiet
    ? { progress: () => {}, stop: () => {} }
    : process.stderr.isTTY
      ? bar()
      : lines();
  return {
    watch: { signal: abort.signal, progress: forwardOnly(display.progress) },
    stop() {
      process.off('SIGINT', interrupt);
      process.off('SIGTERM', interrupt);
      display.stop();
    },
  };
}

/** The work was stopped by the person or the system. */
export class Cancelled extends Error {
  constructor(message = NOTHING_WRITTEN) {
    super(message);
    this.name = 'Cancelled';
  }
}

interface Display {
  progress(event: Progress): void;
  stop(): void;
}

function bar(): Display {
  const single = new SingleBar({
    format: '{stage} [{bar}] {value}/{total}',
    hideCursor: true,
    stream: process.stderr,
  });
  let stage = '';
  return {
    progress(event) {
      if (event.stage !== stage) {
        if (stage) single.stop();
        stage = event.stage;
        single.start(event.total, event.done, { stage: stage.padEnd(12) });
      } else {
        single.setTotal(event.total);
        single.update(event.done);
      }
    },
    stop() {
      if (stage) single.stop();
    },
  };
}

/** A line when a stage begins and at each further tenth. */
function lines(): Display {
  let last = '';
  return {
    progress({ stage, done, total }) {
      const tenth = total > 0 ? Math.floor((10 * done) / total) : 0;
      const line = `${stage}: ${10 * tenth}%`;
      if (line !== last) process.stderr.write(`${line}\n`);
      last = line;
    },
    stop() {},
  };
}
