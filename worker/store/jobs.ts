/**
 * Jobs as the service sees them: submitted, listed, shown, cancelled, removed. What works on them is
 * in queue.ts.
 */
import { Fault } from '../../lib/index.js';
import type { Db } from './database.js';
import type { JobRecord, Order, ResultFile, State } from './job.js';
import type { Journal } from './journal.js';
import { claimOf, recordOf } from './rows.js';

export interface Submission {
  readonly job: JobRecord;
  /** False if the same key had brought the same order before. */
  readonly fresh: boolean;
}

export interface Page {
  readonly states?: readonly State[];
  readonly limit: number;
  /** Jobs older than this one. */
  readonly before?: number;
}

/** Names are kept up to so many characters where lists are read from; the files have theirs in full. */
const LONGEST_NAME = 200;

export class Jobs {
  readonly #db: Db;
  readonly #journal: Journal;

  constructor(journal: Journal) {
    this.#db = journal.db;
    this.#journal = journal;
  }

  /**
   * @param key the same key brings the same job, however often it is sent
   * @param digest of what was sent with the key
   * @param sender in whose name it comes; nothing for this machine itself
   * @throws Fault `job/key-reused` when a key comes with another order, and what `sender.check` throws
   */
  submit(
    order: Order,
    key?: { readonly key: string; readonly digest: string },
    sender?: { readonly token: string; check(): void },
  ): Submission {
    return this.#journal.change((note) => {
      const known = key && this.#db.rows('select * from jobs where idem = ?', key.key)[0];
      if (known) {
        if (known['idem_digest'] === key.digest) return { job: recordOf(known), fresh: false };
        throw new Fault(
          'job/key-reused',
          `the idempotency key ${key.key} came with another job before (job ${known['id']})`,
        );
      }
      sender?.check();
      const now = this.#journal.now();
      const [row] = this.#db.rows(
        `insert into jobs (state, name, part, part_name, machine_name, material_name, priority,
           idem, idem_digest, token, made, due)
         values ('waiting', ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) returning *`,
        ...columnsOf(order),
        key?.key ?? null,
        key?.digest ?? null,
        sender?.token ?? null,
        now,
        now,
      );
      const id = Number(row!['id']);
      keepOrder(this.#db, id, order);
      note(id, 'waiting');
      return { job: recordOf(row!), fresh: true };
    });
  }

  show(id: number): JobRecord | undefined {
    const [row] = this.#db.rows('select * from jobs where id = ?', id);
    return row && recordOf(row);
  }

  settings(id: number): unknown {
    const [row] = this.#db.rows('select settings from orders where job = ?', id);
    return row && JSON.parse(String(row['settings']));
  }

  /** What was asked for, machine and material as the job has them. */
  order(id: number): Order | undefined {
    const [row] = this.#db.rows(WITH_ORDER, id);
    return row && claimOf(row, '').order;
  }

  files(id: number): ResultFile[] {
    const rows = this.#db.rows('select name, bytes from files where job = ? order by name', id);
    return rows.map((r) => ({ name: String(r['name']), bytes: Number(r['bytes']) }));
  }

  /** The claim whose files are the job's result. */
  attempt(id: number): number {
    return Number(this.#db.rows('select attempt from jobs where id = ?', id)[0]!['attempt']);
  }

  /** Newest first. */
  list({ states, limit, before }: Page): JobRecord[] {
    const marks = states?.map(() => '?').join(', ');
    const rows = this.#db.rows(
      `select * from jobs where id < ?${marks ? ` and state in (${marks})` : ''} order by id desc limit ?`,
      before ?? Number.MAX_SAFE_INTEGER,
      ...(states ?? []),
      limit,
    );
    return rows.map(recordOf);
  }

  counts(): Record<State, number> {
    const counts = { waiting: 0, running: 0, finished: 0, failed: 0, cancelled: 0 };
    for (const r of this.#db.rows('select state, count(*) as n from jobs group by state'))
      counts[r['state'] as State] = Number(r['n']);
    return counts;
  }

  /** False if the job had ended already. */
  cancel(id: number): boolean {
    return this.#journal.change((note) => {
      const done = this.#db.run(
        `update jobs set state = 'cancelled', ended = ?, owner = null
         where id = ? and state in ('waiting', 'running')`,
        this.#journal.now(),
        id,
      );
      if (done) note(id, 'cancelled');
      return done > 0;
    });
  }

  /** Forgets a job that has ended; false if it has not, or is not there. */
  remove(id: number): boolean {
    return this.#journal.change((note) => {
      const done = this.#db.run(
        `delete from jobs where id = ? and state in ('finished', 'failed', 'cancelled')`,
        id,
      );
      if (!done) return false;
      this.#db.run('delete from events where job = ?', id);
      note(id, 'removed');
      return true;
    });
  }
}

/** A job with what it was asked for. */
export const WITH_ORDER = 'select * from jobs join orders on job = id where id = ?';

/** name, part, part_name, machine_name, material_name, priority */
export const columnsOf = (order: Order): [string, string, string, string, string, number] => [
  shortened(order.name),
  order.part,
  shortened(order.partName),
  shortened((order.machine as { name: string }).name),
  shortened((order.material as { name: string }).name),
  order.priority,
];

const shortened = (name: string): string =>
  [...name.slice(0, 2 * LONGEST_NAME)].slice(0, LONGEST_NAME).join('');

/** Machine, material and settings, beside the table that lists are read from. */
export function keepOrder(db: Db, job: number, { machine, material, settings }: Order): void {
  db.run(
    'insert or replace into orders (job, machine, material, settings) values (?, ?, ?, ?)',
    job,
    ...[machine, material, settings].map((value) => JSON.stringify(value)),
  );
}
