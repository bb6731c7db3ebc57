/**
 * The SQLite engines, behind the few calls that the store makes. Two connections that write or
 * checkpoint at once can damage a database in write-ahead mode in every SQLite before 3.51.3 (its
 * release notes, "WAL-reset bug"). One process at a time holds the store, with one connection, so that
 * cannot happen here; still the runtime's own SQLite is taken where it is that new, and else the
 * package libsql (3.45.1), which Node 20 needs: Node has SQLite of its own from version 22 on. libsql
 * takes 19 MB, so it is for those who need it to install (a peer that may be absent).
 */
import { createRequire, isBuiltin } from 'node:module';
import type Libsql from 'libsql';
import { Fault } from '../../lib/index.js';

export type Value = string | number | null;
export type Row = Record<string, Value>;

/** An open database. What it refuses is an Error with the code of SQLite, such as `SQLITE_FULL`. */
export interface Connection {
  exec(sql: string): void;
  rows(sql: string, values: readonly Value[]): Row[];
  /** Number of rows changed. */
  run(sql: string, values: readonly Value[]): number;
  inTransaction(): boolean;
  close(): void;
}

export interface Engine {
  readonly name: 'node:sqlite' | 'libsql';
  /** Of SQLite. */
  readonly version: string;
  open(path: string): Connection;
}

/** The first SQLite without the bug that two writers can meet. */
const SOUND = [3, 51, 3] as const;

/** The engines of this runtime that the store may use, the one it uses first. */
export function engines(): readonly Engine[] {
  return [nodeEngine(), libsqlEngine()].filter((engine) => engine !== undefined);
}

/** @throws Fault `data/no-engine` where there is none: an older runtime, without libsql beside us */
export function standardEngine(): Engine {
  const engine = nodeEngine() ?? libsqlEngine();
  if (engine) return engine;
  throw new Fault(
    'data/no-engine',
    `the job server keeps its data in SQLite ${SOUND.join('.')} or later, which Node ${process.versions.node} does not bring: npm install libsql, or run it with Node 22.23 or 24.21 or later`,
  );
}

const require = createRequire(import.meta.url);

/** The part of node:sqlite that is used here; the types of Node 20 do not have it. */
interface NodeStatement {
  all(...values: Value[]): Row[];
  run(...values: Value[]): { changes: number | bigint };
}
interface NodeDatabase {
  exec(sql: string): void;
  prepare(sql: string): NodeStatement;
  readonly isTransaction: boolean;
  close(): void;
}

function nodeEngine(): Engine | undefined {
  const version = process.versions['sqlite'];
  if (!isBuiltin('node:sqlite') || version === undefined || !isSound(version)) return undefined;
  const { DatabaseSync } = quietly(
    () =>
      require('node:sqlite') as {
        DatabaseSync: new (path: string) => NodeDatabase;
      },
  );
  return {
    name: 'node:sqlite',
    version,
    open(path) {
      const db = named(() => new DatabaseSync(path));
      const statement = remembered((sql) => db.prepare(sql));
      return {
        exec: (sql) => named(() => db.exec(sql)),
        rows: (sql, values) => named(() => statement(sql).all(...values)),
        run: (sql, values) => named(() => Number(statement(sql).run(...values).changes)),
        inTransaction: () => db.isTransaction,
        close: () => db.close(),
      };
    },
  };
}

function isSound(version: string): boolean {
  const numbers = version.split('.').map(Number);
  for (const [i, least] of SOUND.entries())
    if (numbers[i] !== least) return (numbers[i] ?? 0) > least;
  return true;
}

/** Loads without the note that the module is experimental in Node 22: nobody here can act on it. */
function quietly<T>(load: () => T): T {
  const { emitWarning } = process;
  process.emitWarning = () => {};
  try {
    return load();
  } finally {
    process.emitWarning = emitWarning;
  }
}

/** Result codes of SQLite (sqlite.org/rescode.html) that the store distinguishes. */
const CODES: Readonly<Record<number, string>> = {
  5: 'SQLITE_BUSY',
  8: 'SQLITE_READONLY',
  10: 'SQLITE_IOERR',
  11: 'SQLITE_CORRUPT',
  13: 'SQLITE_FULL',
  14: 'SQLITE_CANTOPEN',
  26: 'SQLITE_NOTADB',
};

/** Node gives the number of a result, in whose low byte the code stands. */
function named<T>(work: () => T): T {
  try {
    return work();
  } catch (error) {
    const code = CODES[((error as { errcode?: number }).errcode ?? 0) & 0xff];
    if (code !== undefined) (error as { code: string }).code = code;
    throw error;
  }
}

function libsqlEngine(): Engine | undefined {
  let Database: typeof Libsql;
  try {
    Database = require('libsql') as typeof Libsql;
  } catch {
    return undefined;
  }
  const open = (path: string): Connection => {
    const db = new Database(path);
    const statement = remembered((sql) => db.prepare(sql));
    return {
      exec: (sql) => void db.exec(sql),
      rows: (sql, values) => statement(sql).all(values) as Row[],
      run: (sql, values) => statement(sql).run(values).changes,
      inTransaction: () => db.inTransaction,
      close: () => void db.close(),
    };
  };
  const probe = open(':memory:');
  const [row] = probe.rows('select sqlite_version() as v', []);
  probe.close();
  return { name: 'libsql', version: String(row!['v']), open };
}

/** Statements are prepared once each. */
function remembered<T>(prepare: (sql: string) => T): (sql: string) => T {
  const known = new Map<string, T>();
  return (sql) => {
    const statement = known.get(sql) ?? prepare(sql);
    known.set(sql, statement);
    return statement;
  };
}
