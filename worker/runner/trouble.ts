/**
 * What prevents work from going on, such as a full disk, and when it is over.
 *
 * Nothing notifies a program that a disk has room again, so a small file is written now and then. That it
 * can be written is not enough after a full disk: the same result might need the room that is still
 * missing, and be made in vain again and again. So the trouble counts as over once there is clearly more
 * room than when it began; until then an attempt is allowed after pauses that double.
 */
import { closeSync, fsyncSync, openSync, rmSync, statfsSync, writeSync } from 'node:fs';
import type { Fault } from '../../lib/index.js';

/** Looks at the disk no more often than this. */
const LOOK_MS = 1000;
/** The first pause until work is tried although nothing has changed, and the longest. */
const FIRST_MS = 5000;
const LONGEST_MS = 10 * 60_000;
/** What can be written if the disk takes anything. */
const PROBE_BYTES = 262_144;
/** So much more room than when it began ends a trouble of room; so much is room in any case. */
const GROWN_BYTES = 1_000_000;
const AMPLE_BYTES = 1_000_000_000;

export class Trouble {
  readonly #probe: string;
  readonly #folder: string;
  readonly #clock: () => number;
  #fault: Fault | undefined;
  #free = 0;
  #pause = FIRST_MS;
  /** Moments of the clock, ms. */
  #tryAt = 0;
  #lookAt = 0;

  /**
   * @param folder whose disk it is about
   * @param probe path of a file that may be written there
   * @param clock moments in ms, by a clock that is never set
   */
  constructor(folder: string, probe: string, clock: () => number = () => performance.now()) {
    this.#folder = folder;
    this.#probe = probe;
    this.#clock = clock;
  }

  get fault(): Fault | undefined {
    return this.#fault;
  }

  /** Something was refused; whatever took room for it has been removed already. */
  met(fault: Fault): void {
    const now = this.#clock();
    const pausing = this.#fault && now < this.#tryAt;
    // A try that was allowed after a pause has failed as well: the next pause is longer.
    if (!pausing) this.#pause = this.#fault ? Math.min(LONGEST_MS, 2 * this.#pause) : FIRST_MS;
    this.#fault = fault;
    if (pausing) return;
    this.#free = freeIn(this.#folder);
    this.#tryAt = now + this.#pause;
    this.#lookAt = now + LOOK_MS;
  }

  /** Work went well to its end. */
  over(): void {
    this.#fault = undefined;
  }

  /** Whether work may begin; looks at the disk itself while there is trouble. */
  mayGoOn(): boolean {
    if (!this.#fault) return true;
    const now = this.#clock();
    if (now >= this.#lookAt) {
      this.#lookAt = now + LOOK_MS;
      if (this.#mended()) this.over();
    }
    return !this.#fault || now >= this.#tryAt;
  }

  #mended(): boolean {
    if (!canWrite(this.#probe)) return false;
    if (this.#fault!.code !== 'data/full') return true;
    const free = freeIn(this.#folder);
    return free >= this.#free + GROWN_BYTES || free >= AMPLE_BYTES;
  }
}

/** Bytes that may still be written, 0 where the system does not say. */
function freeIn(folder: string): number {
  try {
    const { bavail, bsize } = statfsSync(folder);
    return bavail * bsize;
  } catch {
    return 0;
  }
}

function canWrite(path: string): boolean {
  try {
    const file = openSync(path, 'w');
    try {
      writeSync(file, new Uint8Array(PROBE_BYTES));
      fsyncSync(file);
    } finally {
      closeSync(file);
      rmSync(path, { force: true });
    }
    return true;
  } catch {
    return false;
  }
}
