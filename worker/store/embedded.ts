/**
 * The queue in the embedded database. Each change of state is one transaction, guarded by the state,
 * the owner and the attempt that it changes from.
 */
import type { FaultData } from '../../lib/base/fault.js';
import type { Db } from './database.js';
import type { Progress, Result } from './job.js';
import type { Journal } from './journal.js';
import type { Claim, Hold, Queue } from './queue.js';
import { claimOf } from './rows.js';

export interface Times {
  readonly leaseMs: number;
  /** The pause before the second try; four times as long before the third. */
  readonly pauseMs: number;
}

export const STANDARD_TIMES: Times = { leaseMs: 15_000, pauseMs: 5_000 };

/** A job that crashes is tried this often. */
const TRIES = 3;
/** A power cut is not the job's doing, but a job that takes its machine down must end some day. */
const LOSSES = 20;
const HELD = `id = ? and state = 'running' and owner = ? and attempt = ?`;

export class EmbeddedQueue implements Queue {
  readonly leaseMs: number;
  readonly #db: Db;
  readonly #journal: Journal;
  readonly #times: Times;

  constructor(journal: Journal, times: Times = STANDARD_TIMES) {
    this.#db = journal.db;
    this.#journal = journal;
    this.#times = times;
    this.leaseMs = times.leaseMs;
  }

  onChange(listener: (what: 'waiting' | 'lost') => void): () => void {
    return this.#journal.onEvent(({ kind }) => {
      if (kind === 'waiting') listener('waiting');
      else if (kind === 'cancelled') listener('lost');
    });
  }

  async claim(owner: string): Promise<Claim | undefined> {
    return this.#journal.change((note) => {
      const now = this.#journal.now();
      const [row] = this.#db.rows(
        `update jobs set state = 'running', owner = ?, lease = ?, attempt = attempt + 1, started = ?,
           progress = null
         where id = (select id from jobs where state = 'waiting' and due <= ?
                     order by priority desc, id limit 1) returning *`,
        owner,
        now + this.leaseMs,
        now,
        now,
      );
      if (!row) return undefined;
      note(Number(row['id']), 'running');
      return claimOf(row, owner);
    });
  }

  async renew(hold: Hold): Promise<boolean> {
    return (
      this.#db.run(`update jobs set lease = ? where ${HELD}`, this.#lease(), ...held(hold)) > 0
    );
  }

  async progress(hold: Hold, progress: Progress): Promise<boolean> {
    return this.#journal.change((note) => {
      const done = this.#db.run(
        `update jobs set progress = ?, lease = ? where ${HELD}`,
        JSON.stringify(progress),
        this.#lease(),
        ...held(hold),
      );
      if (done) note(hold.id, 'progress', progress);
      return done > 0;
    });
  }

  async finish(hold: Hold, { summary, files }: Result): Promise<boolean> {
    return this.#end(hold, 'finished', undefined, () => {
      this.#db.run('update jobs set summary = ? where id = ?', JSON.stringify(summary), hold.id);
      for (const f of files)
        this.#db.run(
          'insert into files (job, name, bytes) values (?, ?, ?)',
          hold.id,
          f.name,
          f.bytes,
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
    return this.#takeBack(this.#journal.now());
  }

  /** Takes back every running job: whoever opens the folder alone knows that no runner is left. */
  takeBackAll(): number {
    return this.#takeBack(Number.MAX_SAFE_INTEGER);
  }

  #takeBack(until: number): number {
    const rows = this.#db.rows(
      `select id, owner, attempt, losses from jobs where state = 'running' and lease < ?`,
      until,
    );
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
        this.#wait(hold, this.#times.pauseMs * Math.min(losses - 1, 12), lost, count);
      else {
        const message = `gave up: the runner was lost ${LOSSES} times while it worked on the job`;
        this.#end(hold, 'failed', { ...lost, message }, count);
      }
    }
    return rows.length;
  }

  #lease(): number {
    return this.#journal.now() + this.leaseMs;
  }

  #wait(hold: Hold, pauseMs: number, reason: FaultData | undefined, also?: () => void): boolean {
    return this.#journal.change((note) => {
      const done = this.#db.run(
        `update jobs set state = 'waiting', due = ?, owner = null, lease = null, progress = null,
           reason = ? where ${HELD}`,
        this.#journal.now() + pauseMs,
        reason ? JSON.stringify(reason) : null,
        ...held(hold),
      );
      if (!done) return false;
      also?.();
      note(hold.id, 'waiting', reason);
      return true;
    });
  }

  #end(hold: Hold, state: 'finished' | 'failed', reason?: FaultData, also?: () => void): boolean {
    return this.#journal.change((note) => {
      const done = this.#db.run(
        `update jobs set state = ?, ended = ?, owner = null, lease = null, reason = ? where ${HELD}`,
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
  }
}

const held = (hold: Hold): [number, string, number] => [hold.id, hold.owner, hold.attempt];
