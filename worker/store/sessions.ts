/**
 * Sessions of browsers: what a cookie holds is a secret of its own, good for as long as the token in
 * whose name it was made, and stored as its SHA-256. The token itself stays with the person.
 */
import { createHash, randomBytes } from 'node:crypto';
import type { Db } from './database.js';

/** A session ends after this even if the browser keeps its cookie. */
export const SESSION_MS = 30 * 24 * 3600_000;
/** Of one token; with more the oldest end. */
const MOST = 100;

export class Sessions {
  readonly #db: Db;

  constructor(db: Db) {
    this.#db = db;
  }

  /** Begins a session in the name of a token. Gives its secret. */
  begin(token: string, now: number): string {
    const secret = randomBytes(32).toString('base64url');
    this.#db.whole(() => {
      this.#db.run('delete from sessions where ends < ?', now);
      this.#db.run(
        `delete from sessions where token = ?1 and hash not in
           (select hash from sessions where token = ?1 order by made desc limit ${MOST - 1})`,
        token,
      );
      this.#db.run(
        'insert into sessions (hash, token, made, ends) values (?, ?, ?, ?)',
        hash(secret),
        token,
        now,
        now + SESSION_MS,
      );
    });
    return secret;
  }

  /** In whose name the session runs; nothing if there is none, or none any more. */
  owner(secret: string, now: number): string | undefined {
    const [row] = this.#db.rows(
      'select token from sessions where hash = ? and ends >= ?',
      hash(secret),
      now,
    );
    return row && String(row['token']);
  }

  end(secret: string): void {
    this.#db.run('delete from sessions where hash = ?', hash(secret));
  }
}

const hash = (secret: string): string => createHash('sha256').update(secret).digest('hex');
