/** Looks at uploads one after the other in a child process, so that none can harm the service. */
import { Fault } from '../../lib/base/fault.js';
import { type Bench, Ended, openBench } from '../runner/bench.js';
import type { Done, InspectWork } from '../runner/messages.js';

/** Uploads that wait to be looked at; each holds a file. */
const MOST_WAITING = 32;

export class Inspector {
  readonly #bench: Bench;
  readonly #seconds: number;
  #last: Promise<unknown> = Promise.resolve();
  #waiting = 0;

  constructor(limits: { readonly memoryMb: number; readonly seconds: number }) {
    this.#bench = openBench({ memoryMb: limits.memoryMb, threads: 0 });
    this.#seconds = limits.seconds;
  }

  /** @throws Fault of the readers, `part/*` for one that goes over the limits, `service/busy` */
  async inspect(part: string, partName: string): Promise<Done<InspectWork>> {
    if (this.#waiting >= MOST_WAITING)
      throw new Fault(
        'service/busy',
        `${MOST_WAITING} uploads are waiting already; try again in a while`,
      );
    this.#waiting++;
    const turn = this.#last.then(() =>
      this.#bench.perform({ kind: 'inspect', part, partName }, this.#seconds),
    );
    this.#last = turn.catch(() => {}).finally(() => this.#waiting--);
    return turn.catch((error: unknown) => {
      throw asFault(error);
    });
  }

  end(): void {
    this.#bench.end();
  }
}

function asFault(error: unknown): Fault {
  if (error instanceof Fault) return error;
  const { message } = error as Error;
  if (!(error instanceof Ended))
    return new Fault('part/defect', `the part met a defect of the program: ${message}`);
  switch (error.why) {
    case 'memory':
      return new Fault('part/too-much-memory', `looking at the part ${message}`);
    case 'time':
      return new Fault('part/too-long', `looking at the part ${message}`);
    case 'crash':
      return new Fault('part/crashed', `looking at the part failed: ${message}`);
    case 'stopped':
      return new Fault('service/stopping', 'the service is stopping');
  }
}
