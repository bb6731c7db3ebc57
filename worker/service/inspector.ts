/**
 * Inspects uploads in child processes, so that none can harm the service: two at once, so that one that
 * takes all its time does not hold up everybody else for as long, and in turns, so that nobody waits behind
 * all that one other has sent.
 */
import { Fault } from '../../lib/index.js';
import { type Bench, Ended, openBench } from '../runner/bench.js';
import type { Done, InspectWork } from '../runner/messages.js';
import { Turns } from './turns.js';

/** Uploads that are looked at at once. */
const AT_ONCE = 2;
/** Uploads that wait to be looked at, over all and of each sender; each holds a file. */
const MOST_WAITING = 64;
const MOST_EACH = 16;

export class Inspector {
  readonly #benches: readonly Bench[];
  readonly #free: Bench[];
  readonly #turns = new Turns(AT_ONCE);
  readonly #seconds: number;

  /** @param limits of one upload */
  constructor(limits: { readonly memoryMb: number; readonly seconds: number }) {
    this.#benches = Array.from({ length: AT_ONCE }, () =>
      openBench({ memoryMb: limits.memoryMb, threads: 0 }),
    );
    this.#free = [...this.#benches];
    this.#seconds = limits.seconds;
  }

  /**
   * @param who brought it
   * @throws Fault of the readers, `part/*` for one that goes over the limits, `service/busy`,
   *   `upload/too-many`
   */
  async inspect(part: string, partName: string, who: string): Promise<Done<InspectWork>> {
    if (this.#turns.waiting(who) >= MOST_EACH)
      throw new Fault(
        'upload/too-many',
        `${MOST_EACH} uploads of yours are waiting to be looked at; try again in a while`,
      );
    if (this.#turns.allWaiting >= MOST_WAITING)
      throw new Fault(
        'service/busy',
        `${MOST_WAITING} uploads are waiting already; try again in a while`,
      );
    return this.#turns.run(who, () => this.#look(part, partName));
  }

  async #look(part: string, partName: string): Promise<Done<InspectWork>> {
    const bench = this.#free.pop()!;
    try {
      return await bench.perform({ kind: 'inspect', part, partName }, this.#seconds);
    } catch (error) {
      throw asFault(error);
    } finally {
      this.#free.push(bench);
    }
  }

  end(): void {
    for (const bench of this.#benches) bench.end();
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
