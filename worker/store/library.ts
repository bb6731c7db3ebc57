/** Machine and material files by name, checked before they are taken in. */
import { readFileSync, readdirSync } from 'node:fs';
import { Fault, readMachine, readMaterial } from '../../lib/index.js';
import { built } from '../built.js';
import type { Db } from './database.js';

export const KINDS = ['machine', 'material'] as const;
export type Kind = (typeof KINDS)[number];

const readers = { machine: readMachine, material: readMaterial } as const;

/** The checked content of a machine or material file. @throws Fault `machine/*`, `material/*` */
export function checked(kind: Kind, value: unknown): unknown {
  readers[kind](value);
  return value;
}

export class Library {
  readonly #db: Db;

  constructor(db: Db) {
    this.#db = db;
  }

  names(kind: Kind): string[] {
    const rows = this.#db.rows('select name from library where kind = ? order by name', kind);
    return rows.map((r) => String(r['name']));
  }

  /** @throws Fault `library/unknown` */
  get(kind: Kind, name: string): unknown {
    const [row] = this.#db.rows(
      'select value from library where kind = ? and name = ?',
      kind,
      name,
    );
    if (!row) throw unknown(kind, name);
    return JSON.parse(String(row['value']));
  }

  put(kind: Kind, name: string, value: unknown, now: number): void {
    this.#db.run(
      `insert into library (kind, name, value, made) values (?, ?, ?, ?)
       on conflict (kind, name) do update set value = excluded.value, made = excluded.made`,
      kind,
      name,
      JSON.stringify(checked(kind, value)),
      now,
    );
  }

  /** @throws Fault `library/unknown` */
  remove(kind: Kind, name: string): void {
    if (!this.#db.run('delete from library where kind = ? and name = ?', kind, name))
      throw unknown(kind, name);
  }

  /** Puts the machines and materials of the samples in where there are none. */
  begin(now: number): void {
    for (const kind of KINDS) {
      if (this.names(kind).length > 0) continue;
      const folder = new URL(`../../samples/${kind}s/`, built('.'));
      for (const file of readdirSync(folder)) {
        const value: unknown = JSON.parse(readFileSync(new URL(file, folder), 'utf8'));
        this.put(kind, file.replace(/\.json$/, ''), value, now);
      }
    }
  }
}

const unknown = (kind: Kind, name: string): Fault =>
  new Fault('library/unknown', `no ${kind} named ${JSON.stringify(name)} in the library`);
