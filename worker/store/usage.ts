/** What is kept in the name of a token: its open jobs, and the bytes of its parts and results. */
import { Fault } from '../../lib/index.js';
import type { Db } from './database.js';

/** What a token may have; who works on the machine itself has no token and no quota. */
export interface Quota {
  /** Jobs that wait or run. */
  readonly jobs: number;
  /** Bytes of parts and results. */
  readonly bytes: number;
}

export class Usage {
  readonly #db: Db;

  constructor(db: Db) {
    this.#db = db;
  }

  /** The part was brought in the name of this token, too. */
  hold(token: string, part: string): void {
    this.#db.run('insert or ignore into holdings (token, part) values (?, ?)', token, part);
  }

  jobs(token: string): number {
    const [row] = this.#db.rows(
      `select count(*) as n from jobs where token = ? and state in ('waiting', 'running')`,
      token,
    );
    return Number(row!['n']);
  }

  bytes(token: string): number {
    const [row] = this.#db.rows(
      `select
         (select coalesce(sum(bytes), 0) from parts
            where id in (select part from holdings where token = ?1))
         + (select coalesce(sum(bytes), 0) from files
              where job in (select id from jobs where token = ?1)) as n`,
      token,
    );
    return Number(row!['n']);
  }

  /** Bytes that the token may still bring. @throws Fault `quota/bytes` when there are none */
  bytesLeft(token: string, { bytes }: Quota): number {
    const left = bytes - this.bytes(token);
    if (left > 0) return left;
    const mb = (n: number): string => (n / 1e6).toFixed(1);
    throw new Fault(
      'quota/bytes',
      `the parts and results of ${token} hold ${mb(bytes - left)} MB; the limit is ${mb(bytes)} MB: remove jobs that are no longer needed (parts without a job go after a day)`,
    );
  }

  /** @throws Fault `quota/jobs` */
  checkJobs(token: string, { jobs }: Quota): void {
    const open = this.jobs(token);
    if (open >= jobs)
      throw new Fault(
        'quota/jobs',
        `${open} jobs of ${token} are waiting or running; the limit is ${jobs}: wait until some have ended`,
      );
  }
}
