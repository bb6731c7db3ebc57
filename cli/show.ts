/** How progress is shown: a bar on a terminal, plain lines otherwise, nothing when JSON is asked for. */
import { SingleBar } from 'cli-progress';
import type { Progress, Watch } from '../lib/index.js';
import { forwardOnly } from '../lib/base/watch.js';
import { sayLines } from './streams.js';
import { ifStopped } from './wire.js';

export interface Show {
  readonly watch: Watch;
  /** Ends the display, so that results can be printed. */
  stop(): void;
}

/**
 * Progress goes to the error stream, results to the output stream.
 * @param stopped what a person reads if the command is stopped
 */
export function showProgress(quiet: boolean, stopped?: string): Show {
  if (stopped !== undefined) ifStopped(stopped);
  const display = quiet
    ? { progress: () => {}, stop: () => {} }
    : process.stderr.isTTY
      ? bar()
      : lines();
  return { watch: { progress: forwardOnly(display.progress) }, stop: () => display.stop() };
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
      if (line !== last) sayLines([line]);
      last = line;
    },
    stop() {},
  };
}
