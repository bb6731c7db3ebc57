/**
 * Takes jobs from a queue and has them done at benches, a few at once. It renews its holds while it works,
 * ends work whose hold was lost, and hands back what it cannot finish.
 */
import { randomUUID } from 'node:crypto';
import { rm } from 'node:fs/promises';
import { Fault } from '../../lib/index.js';
import { diskFault } from '../store/database.js';
import { settle } from '../disk.js';
import { describe } from '../store/describe.js';
import { type Folder, trim } from '../store/folder.js';
import type { Progress, Result } from '../store/job.js';
import type { Claim, Hold, Queue } from '../store/queue.js';
import { type Bench, openBench } from './bench.js';
import { advancing } from './advance.js';
import type { SliceWork } from './messages.js';
import { withoutPaths } from './paths.js';
import { Share } from './share.js';
import { Trouble } from './trouble.js';
import { asFault, verdictOf } from './verdict.js';

export interface RunnerSettings {
  /** Jobs at once. */
  readonly jobs: number;
  /** Threads for slice tasks of all jobs together; 0: each job runs on one thread. */
  readonly threads: number;
  /** Limits of a job. */
  readonly memoryMb: number;
  readonly seconds: number;
  /** Room for kept stages. */
  readonly keptMb: number;
  /** Tells this code from other code, see `codeDigest`. */
  readonly code: string;
}

/** Looks for due jobs and ended leases at least this often, also when nothing was heard. */
const POLL_MS = 1000;
/** Writes at most one progress event of a stage a job in this time. */
const PROGRESS_MS = 1000;
const TIDY_MS = 60_000;

interface Place {
  readonly bench: Bench;
  hold?: Hold;
  done?: Promise<void>;
}

export class Runner {
  readonly #queue: Queue;
  readonly #folder: Folder;
  readonly #settings: RunnerSettings;
  readonly #owner = randomUUID();
  readonly #places: readonly Place[];
  readonly #timers: readonly NodeJS.Timeout[];
  readonly #deaf: () => void;
  readonly #trouble: Trouble;
  /** Moment of the process clock, ms. */
  #renewed = 0;
  #stopping = false;
  #filling = false;

  constructor(queue: Queue, folder: Folder, settings: RunnerSettings) {
    this.#queue = queue;
    this.#folder = folder;
    this.#settings = settings;
    // No claim has these numbers.
    this.#trouble = new Trouble(folder.path, folder.work(0, 0));
    const share = new Share(Math.max(1, settings.threads));
    const place = (): Place => ({ bench: openBench(settings, share) });
    this.#places = Array.from({ length: settings.jobs }, place);
    this.#deaf = queue.onChange((what) => (what === 'lost' ? this.#keepHolds() : this.#fill()));
    this.#timers = [
      setInterval(() => this.#poll(), Math.min(POLL_MS, queue.leaseMs / 3)),
      setInterval(() => this.#tidy(), TIDY_MS),
    ];
    this.#fill();
  }

  /** What keeps work from going on, such as a full disk. */
  get trouble(): Fault | undefined {
    return this.#trouble.fault;
  }

  /** Takes no more jobs, waits for those that run, and hands back what is not done in time. */
  async stop(graceMs: number): Promise<void> {
    this.#stopping = true;
    this.#deaf();
    const running = Promise.all(this.#places.map((p) => p.done));
    let timer: NodeJS.Timeout | undefined;
    await Promise.race([running, new Promise((r) => (timer = setTimeout(r, graceMs)))]);
    clearTimeout(timer);
    for (const { bench } of this.#places) bench.end();
    await running;
    for (const t of this.#timers) clearInterval(t);
  }

  #poll(): void {
    // First our own: a process that stood still for a while has not lost them.
    if (performance.now() - this.#renewed > this.#queue.leaseMs / 3) this.#keepHolds();
    this.#watch(this.#queue.takeBack());
    this.#fill();
  }

  /** Renews all holds; work whose hold was lost ends. */
  #keepHolds(): void {
    this.#renewed = performance.now();
    for (const { bench, hold } of this.#places)
      if (hold)
        this.#watch(this.#queue.renew(hold).then((mine) => (mine ? undefined : bench.end())));
  }

  #tidy(): void {
    this.#watch(trim(this.#folder.kept, this.#settings.keptMb * 1e6));
  }

  #watch(work: Promise<unknown>): void {
    work.catch((error: unknown) => this.#refused(error));
  }

  #refused(error: unknown): void {
    this.#trouble.met(diskFault(error, this.#folder.path) ?? asFault(error));
  }

  /** Begins due jobs at free places. */
  #fill(): void {
    if (this.#filling) return;
    this.#filling = true;
    this.#watch(this.#claimAll().finally(() => (this.#filling = false)));
  }

  async #claimAll(): Promise<void> {
    for (const place of this.#places) {
      if (this.#stopping || !this.#trouble.mayGoOn()) return;
      if (place.hold) continue;
      const claim = await this.#queue.claim(this.#owner);
      if (!claim) return;
      place.hold = claim.hold;
      place.done = this.#perform(place, claim)
        .catch((error: unknown) => this.#refused(error))
        .finally(() => {
          delete place.hold;
          delete place.done;
          this.#fill();
        });
    }
  }

  async #perform({ bench }: Place, claim: Claim): Promise<void> {
    const { hold } = claim;
    const out = this.#folder.work(hold.id, hold.attempt);
    const advance = advancing();
    const tell = thinned((p) => this.#watch(this.#queue.progress(hold, p)));
    try {
      const result = await bench.perform(this.#work(claim, out), this.#settings.seconds, {
        progress: (step) => tell(advance(step)),
      });
      await this.#publish(claim, out, result);
      this.#trouble.over();
    } catch (error) {
      // First, so that the room that it took is free again when the disk is looked at.
      await rm(out, { recursive: true, force: true });
      await this.#conclude(hold, error);
    }
  }

  #work({ order }: Claim, out: string): SliceWork {
    const { partName, machine, material, settings } = order;
    return {
      kind: 'slice',
      part: this.#folder.part(order.part),
      partName,
      machine,
      material,
      settings,
      out,
      kept: this.#folder.kept,
      code: this.#settings.code,
    };
  }

  /** The result is in its place before the job is finished; if the job is not ours, it goes. */
  async #publish(claim: Claim, out: string, result: Result): Promise<void> {
    const { hold } = claim;
    const place = this.#folder.result(hold.id, hold.attempt);
    let finished = false;
    try {
      await describe(out, claim, result, this.#folder.identity);
      await settle(out, place);
      finished = await this.#queue.finish(hold, result);
    } finally {
      if (!finished) await rm(place, { recursive: true, force: true });
    }
  }

  async #conclude(hold: Hold, error: unknown): Promise<void> {
    const fault = diskFault(error, this.#folder.path) ?? error;
    if (fault instanceof Fault && fault.code.startsWith('data/')) {
      this.#refused(fault);
      // Kept stages are worth less than results.
      if (fault.code === 'data/full') await trim(this.#folder.kept, 0);
      await this.#queue.release(hold, 0, withoutPaths(fault.toData(), this.#folder.path));
      return;
    }
    const verdict = verdictOf(fault);
    const reason = withoutPaths(verdict.reason, this.#folder.path);
    const { next } = verdict;
    if (next === 'release') await this.#queue.release(hold, 0);
    else if (next === 'again') await this.#queue.again(hold, reason);
    else await this.#queue.fail(hold, reason);
  }
}

/** Lets a stage's first event through and then one a while. */
function thinned(report: (p: Progress) => void): (p: Progress) => void {
  let stage = '';
  let last = 0;
  return (p) => {
    const now = performance.now();
    if (p.stage === stage && now - last < PROGRESS_MS) return;
    stage = p.stage;
    last = now;
    report(p);
  };
}
