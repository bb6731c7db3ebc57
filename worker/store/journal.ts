/** Every change of a job is one transaction together with the events that report it. */
import type { Db } from './database.js';
import type { JobEvent } from './job.js';
import { eventOf } from './rows.js';

/** Notes an event of a job within a change. */
export type Note = (job: number, kind: JobEvent['kind'], data?: unknown) => void;

export class Journal {
  readonly db: Db;
  readonly now: () => number;
  readonly #undelivered: JobEvent[] = [];
  #telling = false;
  readonly #listeners = new Set<(event: JobEvent) => void>();

  readonly #kept: (seq: number) => void;

  /** @param kept called with the number of the last event of each change once it is on the disk */
  constructor(db: Db, now: () => number = Date.now, kept: (seq: number) => void = () => {}) {
    this.db = db;
    this.now = now;
    this.#kept = kept;
  }

  /** Runs `work` in one transaction; listeners hear its events once they are on the disk. */
  change<T>(work: (note: Note) => T): T {
    const events: JobEvent[] = [];
    const result = this.db.whole(() =>
      work((job, kind, data) => {
        const [row] = this.db.rows(
          'insert into events (job, at, kind, data) values (?, ?, ?, ?) returning *',
          job,
          this.now(),
          kind,
          data === undefined ? null : JSON.stringify(data),
        );
        events.push(eventOf(row!));
      }),
    );
    const last = events.at(-1);
    if (last) this.#kept(last.seq);
    this.#undelivered.push(...events);
    this.#deliver();
    return result;
  }

  /** In order, also when a listener makes further changes. */
  #deliver(): void {
    if (this.#telling) return;
    this.#telling = true;
    try {
      for (let event = this.#undelivered.shift(); event; event = this.#undelivered.shift())
        for (const listener of this.#listeners) listener(event);
    } finally {
      this.#telling = false;
    }
  }

  /** Events after `seq`, of one job or of all. */
  after(seq: number, limit: number, job?: number): JobEvent[] {
    const rows =
      job === undefined
        ? this.db.rows('select * from events where seq > ? order by seq limit ?', seq, limit)
        : this.db.rows(
            'select * from events where job = ? and seq > ? order by seq limit ?',
            job,
            seq,
            limit,
          );
    return rows.map(eventOf);
  }

  /** The last event's number. */
  last(): number {
    return Number(this.db.rows('select coalesce(max(seq), 0) as n from events')[0]!['n']);
  }

  onEvent(listener: (event: JobEvent) => void): () => void {
    this.#listeners.add(listener);
    return () => void this.#listeners.delete(listener);
  }
}
