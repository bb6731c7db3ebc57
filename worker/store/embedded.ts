/**
 * The queue in the embedded database. Each change of state is one transaction, guarded by the state,
 * the owner and the attempt that it changes from.
 *
 * Leases and pauses run by a monotonic clock and live in this process, which is the only one that
 * holds the folder: somebody who sets the clock of the machine, or a machine that learns the time
 * after its start, neither ends a lease nor lets a job wait for a day. What the database holds of
 * times (`due` among them) are stamps for people; `takeOver` reads pauses from them once, clamped.
 */
import type { FaultData } from '../../lib/index.js';
import type { Db } from './database.js';
import type { Progress, Result } from './job.js';
import type { Journal } from './journal.js';
import type { Claim, Hold, Queue } from './queue.js';
import { WITH_ORDER } from './jobs.js';
import { claimOf } from './rows.js';

export interface Times {
  readonly leaseMs: number;
  /** The pause before the second try; four times as long before the third. */
  readonly pauseMs: number;
}

export const STANDARD_TIMES: Times = { leaseMs: 15_000, pauseMs: 5_000 };

/** A job that crashes is tried this often. */
const TRIES = 3;
/** After a start no job waits longer than this, or the longest of the pauses, whatever its stamp says. */
const LONGEST_MS = 60_000;
/** Pauses after lost runners grow up to this many times the first. */
const MOST_PAUSES = 12;
/** A power cut is not the job's doing, but a job that takes its machine down must end some day. */
const LOSSES = 20;
const HELD = `id = ? and state = 'running' and owner = ? and attempt = ?`;

export class EmbeddedQueue implements Queue {
  readonly leaseMs: number;
  readonly #db: Db;
  readonly #journal: Journal;
  readonly #times: Times;
  readonly #clock: () => number;
  /** Of running jobs: which claim of them has a lease, and the moment of the clock when it ends. */
  readonly #leases = new Map<number, { readonly attempt: number; readonly ends: number }>();
  /** Of waiting jobs that may not start yet: the moment of the clock from which they may. */
  readonly #pauses = new Map<number, number>();

  /** @param clock moments in ms, by a clock that is never set */
  constructor(
    journal: Journal,
    times: Times = STANDARD_TIMES,
    clock: () => number = () => performance.now(),
  ) {
    this.#db = journal.db;
    this.#journal = journal;
    this.#times = times;
    this.#clock = clock;
    this.leaseMs = times.leaseMs;
  }

  onChange(listener: (what: 'waiting' | 'lost') => void): () => void {
    return this.#journal.onEvent(({ kind }) => {
      if (kind === 'waiting') listener('waiting');
      else if (kind === 'cancelled') listener('lost');
    });
  }

  async claim(owner: string): Promise<Claim | undefined> {
    const now = this.#clock();
    for (const [id, due] of this.#pauses) if (due <= now) this.#pauses.delete(id);
    const claim = this.#journal.change((note) => {
      const [row] = this.#db.rows(
        `update jobs set state = 'running', owner = ?, attempt = attempt + 1, started = ?,
           progress = null
         where id = (select id from jobs where state = 'waiting'
                       and id not in (select value from json_each(?))
                     order by priority desc, id limit 1) returning id`,
        owner,
        this.#journal.now(),
        JSON.stringify([...this.#pauses.keys()]),
      );
      if (!row) return undefined;
      note(Number(row['id']), 'running');
      return claimOf(this.#db.rows(WITH_ORDER, row['id']!)[0]!, owner);
    });
    if (claim) this.#lease(claim.hold);
    return claim;
  }

  async renew(hold: Hold): Promise<boolean> {
    const mine = this.#db.rows(`select id from jobs where ${HELD}`, ...held(hold)).length > 0;
    if (mine) this.#lease(hold);
    return mine;
  }

  async progress(hold: Hold, progress: Progress): Promise<boolean> {
    const mine = this.#journal.change((note) => {
      const done = this.#db.run(
        `update jobs set progress = ? where ${HELD}`,
        JSON.stringify(progress),
        ...held(hold),
      );
      if (done) note(hold.id, 'progress', progress);
      return done > 0;
    });
    if (mine) this.#lease(hold);
    return mine;
  }

  async finish(hold: Hold, { summary, files }: Result): Promise<boolean> {
    return this.#end(hold, 'finished', undefined, () => {
      this.#db.run('update jobs set summary = ? where id = ?', JSON.stringify(summary), hold.id);
      for (const f of files)
        this.#db.run(
          'insert into files (job, name, bytes, sha256) values (?, ?, ?, ?)',
          hold.id,
          f.name,
          f.bytes,
          f.sha256 ?? null,
        );
    });
  }

  async fail(hold: Hold, reason: FaultData): Promise<boolean> {
    return this.#end(hold, 'failed', reason);
  }

  async again(hold: Hold, reason: FaultData): Promise<boolean> {
    const [row] = this.#db.rows(`select tries from jobs where ${HELD}`, ...held(hold));
    if (!row) return false;
    const tries = Number(row['tries']) + 1;
    const use = (): void =>
      void this.#db.run('update jobs set tries = ? where id = ?', tries, hold.id);
    if (tries < TRIES) return this.#wait(hold, this.#times.pauseMs * 4 ** (tries - 1), reason, use);
    const message = `gave up after ${TRIES} tries: ${reason.message}`;
    return this.#end(hold, 'failed', { ...reason, message }, use);
  }

  async release(hold: Hold, pauseMs: number, reason?: FaultData): Promise<boolean> {
    return this.#wait(hold, pauseMs, reason);
  }

  async takeBack(): Promise<number> {
    const now = this.#clock();
    return this.#takeBack((id) => (this.#leases.get(id)?.ends ?? 0) < now);
  }

  /**
   * For whoever opens the folder alone: no runner is left, so every running job waits again; and no
   * stamp of a clock that has been set since keeps a job waiting longer than the longest pause.
   */
  takeOver(): void {
    this.#takeBack(() => true);
    const longest = Math.max(LONGEST_MS, MOST_PAUSES * this.#times.pauseMs);
    const [now, clock] = [this.#journal.now(), this.#clock()];
    this.#db.run(
      `update jobs set due = ? where state = 'waiting' and due > ?`,
      now + longest,
      now + longest,
    );
    for (const row of this.#db.rows(
      `select id, due from jobs where state = 'waiting' and due > ?`,
      now,
    ))
      this.#pauses.set(Number(row['id']), clock + Number(row['due']) - now);
  }

  #takeBack(ended: (id: number) => boolean): number {
    const running = this.#db.rows(
      `select id, owner, attempt, losses from jobs where state = 'running'`,
    );
    const ids = new Set(running.map((row) => Number(row['id'])));
    // Of jobs that were cancelled meanwhile.
    for (const id of this.#leases.keys()) if (!ids.has(id)) this.#leases.delete(id);
    const rows = running.filter((row) => ended(Number(row['id'])));
    for (const row of rows) {
      const hold = {
        id: Number(row['id']),
        owner: String(row['owner']),
        attempt: Number(row['attempt']),
      };
      const losses = Number(row['losses']) + 1;
      const count = (): void =>
        void this.#db.run('update jobs set losses = ? where id = ?', losses, hold.id);
      const lost = {
        code: 'job/runner-lost',
        message: 'the runner stopped while it worked on the job',
      };
      if (losses < LOSSES)
        this.#wait(hold, this.#times.pauseMs * Math.min(losses - 1, MOST_PAUSES), lost, count);
      else {
        const message = `gave up: the runner was lost ${LOSSES} times while it worked on the job`;
        this.#end(hold, 'failed', { ...lost, message }, count);
      }
    }
    return rows.length;
  }

  /** A lease from now on. */
  #lease({ id, attempt }: Hold): void {
    this.#leases.set(id, { attempt, ends: this.#clock() + this.leaseMs });
  }

  /** The claim has no lease any more; one that came after it keeps its own. */
  #letGo({ id, attempt }: Hold): void {
    if (this.#leases.get(id)?.attempt === attempt) this.#leases.delete(id);
  }

  #wait(hold: Hold, pauseMs: number, reason: FaultData | undefined, also?: () => void): boolean {
    const mine = this.#journal.change((note) => {
      const done = this.#db.run(
        `update jobs set state = 'waiting', due = ?, owner = null, progress = null,
           reason = ? where ${HELD}`,
        this.#journal.now() + pauseMs,
        reason ? JSON.stringify(reason) : null,
        ...held(hold),
      );
      if (!done) return false;
      also?.();
      // Before the listeners hear of it, for they claim at once.
      if (pauseMs > 0) this.#pauses.set(hold.id, this.#clock() + pauseMs);
      note(hold.id, 'waiting', reason);
      return true;
    });
    if (mine) this.#letGo(hold);
    return mine;
  }

  #end(hold: Hold, state: 'finished' | 'failed', reason?: FaultData, also?: () => void): boolean {
    const mine = this.#journal.change((note) => {
      const done = this.#db.run(
        `update jobs set state = ?, ended = ?, owner = null, reason = ? where ${HELD}`,
        state,
        this.#journal.now(),
        reason ? JSON.stringify(reason) : null,
        ...held(hold),
      );
      if (!done) return false;
      also?.();
      // Progress of a job that has ended interests nobody.
      this.#db.run(`delete from events where job = ? and kind = 'progress'`, hold.id);
      note(hold.id, state, reason);
      return true;
    });
    if (mine) this.#letGo(hold);
    return mine;
  }
}

const held = (hold: Hold): [number, string, number] => [hold.id, hold.owner, hold.attempt];
