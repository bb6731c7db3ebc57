/**
 * Tokens of those who may use the service from other machines. A token is 32 random bytes and is shown
 * once; what is stored is its SHA-256, which is enough for a secret that nobody can guess.
 */
import { createHash, randomBytes, timingSafeEqual } from 'node:crypto';
import { Fault } from '../../lib/index.js';
import type { Db } from './database.js';

export class Tokens {
  readonly #db: Db;

  constructor(db: Db) {
    this.#db = db;
  }

  /** The new token. @throws Fault `token/known` */
  add(name: string, now: number): string {
    const token = newToken();
    this.addHash(name, hash(token), now);
    return token;
  }

  /** A token of which only the digest is known here. @throws Fault `token/known` */
  addHash(name: string, digest: string, now: number): void {
    if (this.names().includes(name))
      throw new Fault('token/known', `there is a token named ${JSON.stringify(name)} already`);
    this.#db.run('insert into tokens (name, hash, made) values (?, ?, ?)', name, digest, now);
  }

  names(): string[] {
    return this.#db.rows('select name from tokens order by name').map((r) => String(r['name']));
  }

  /** @throws Fault `token/unknown` */
  remove(name: string): void {
    if (!this.#db.run('delete from tokens where name = ?', name))
      throw new Fault('token/unknown', `no token named ${JSON.stringify(name)}`);
  }

  /** Whose token it is, or nothing. Compares with every stored one in constant time. */
  owner(token: string): string | undefined {
    const given = Buffer.from(hash(token));
    let found: string | undefined;
    for (const row of this.#db.rows('select name, hash from tokens'))
      if (timingSafeEqual(given, Buffer.from(String(row['hash'])))) found = String(row['name']);
    return found;
  }
}

export const newToken = (): string => randomBytes(32).toString('base64url');

export const hash = (token: string): string => createHash('sha256').update(token).digest('hex');
