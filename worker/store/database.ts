/**
 * The embedded database: opened whole or not at all, by one process at a time. Write-ahead logging
 * with full synchronisation, so what was accepted outlives a crash and a power cut.
 *
 * Drivers tried (Node 20): libsql installs a prebuilt file of its own npm package on x64 and ARM, two
 * seconds, no compiler, and opens clean after kill -9; a WebAssembly build of SQLite leaves its lock
 * folder behind when killed and then refuses to open; better-sqlite3 12 compiles for two minutes where
 * no prebuilt file can be fetched.
 */
import { join } from 'node:path';
import Database from 'libsql';
import { Fault } from '../../lib/base/fault.js';

const TABLES = `
create table jobs (
  id integer primary key autoincrement,
  state text not null,
  name text not null,
  part text not null,
  part_name text not null,
  machine text not null,
  machine_name text not null,
  material text not null,
  material_name text not null,
  settings text not null,
  priority integer not null,
  idem text unique,
  idem_digest text,
  made integer not null,
  due integer not null,
  started integer,
  ended integer,
  owner text,
  lease integer,
  attempt integer not null default 0,
  tries integer not null default 0,
  losses integer not null default 0,
  progress text,
  reason text,
  summary text
);
create index jobs_waiting on jobs (priority desc, id) where state = 'waiting';
create index jobs_state on jobs (state, id);
create index jobs_part on jobs (part);
create table files (
  job integer not null references jobs (id) on delete cascade,
  name text not null,
  bytes integer not null,
  primary key (job, name)
) without rowid;
create table events (
  seq integer primary key autoincrement,
  job integer not null,
  at integer not null,
  kind text not null,
  data text
);
create index events_job on events (job, seq);
create table parts (
  id text primary key,
  name text not null,
  bytes integer not null,
  format text not null,
  inspection text not null,
  made integer not null
) without rowid;
create table library (
  kind text not null,
  name text not null,
  value text not null,
  made integer not null,
  primary key (kind, name)
) without rowid;
create table tokens (
  name text primary key,
  hash text not null unique,
  made integer not null
) without rowid;
`;

/**
 * What each version adds to the one before it; a folder of an older version is brought up in one
 * transaction. Version 2: leases are no longer stored; jobs and parts know in whose name they came
 * (no token: from this machine); a browser has a session of its own.
 */
const VERSIONS = [
  TABLES,
  `
alter table jobs drop column lease;
alter table jobs add column token text;
create index jobs_token on jobs (token, state) where token is not null;
create table holdings (
  token text not null,
  part text not null references parts (id) on delete cascade,
  primary key (token, part)
) without rowid;
create table sessions (
  hash text primary key,
  token text not null references tokens (name) on delete cascade,
  made integer not null,
  ends integer not null
) without rowid;
`,
];

export type Row = Record<string, string | number | null>;

export interface Db {
  rows(sql: string, ...values: (string | number | null)[]): Row[];
  /** Number of rows changed. */
  run(sql: string, ...values: (string | number | null)[]): number;
  /** All of it or nothing. */
  whole<T>(work: () => T): T;
  close(): void;
}

/** @throws Fault `data/*` when the folder cannot be used, and from every call when the disk refuses */
export function openDatabase(folder: string): Db {
  return refusing(folder, () => {
    const db = new Database(join(folder, 'tiltwright.db'));
    db.exec('pragma journal_mode = WAL');
    db.exec('pragma synchronous = FULL');
    db.exec('pragma foreign_keys = ON');
    db.exec('pragma busy_timeout = 5000');
    migrate(db);
    return wrap(db, folder);
  });
}

/** Holds the folder for this process; the system lets go when the process ends, however it ends. */
export function lockFolder(folder: string): { close(): void } {
  return refusing(folder, () => {
    const db = new Database(join(folder, 'lock.db'));
    try {
      db.exec('begin exclusive');
    } catch (error) {
      if ((error as { code?: string }).code !== 'SQLITE_BUSY') throw error;
      throw new Fault('data/in-use', `${folder} is in use by another tiltwright service`, {
        file: folder,
      });
    }
    return { close: () => void db.close() };
  });
}

function migrate(db: Database.Database): void {
  const [row] = db.prepare('select user_version as v from pragma_user_version').all() as Row[];
  const version = Number(row!['v']);
  const known = VERSIONS.length;
  if (version > known)
    throw new Fault(
      'data/newer',
      `the data folder is of version ${version}; this program knows up to version ${known}`,
    );
  if (version === known) return;
  const steps = VERSIONS.slice(version).join('');
  db.exec(`begin immediate; ${steps} pragma user_version = ${known}; commit;`);
}

function wrap(db: Database.Database, folder: string): Db {
  const statements = new Map<string, Database.Statement>();
  const prepared = (sql: string): Database.Statement => {
    const known = statements.get(sql) ?? db.prepare(sql);
    statements.set(sql, known);
    return known;
  };
  return {
    rows: (sql, ...values) => refusing(folder, () => prepared(sql).all(values) as Row[]),
    run: (sql, ...values) => refusing(folder, () => prepared(sql).run(values).changes),
    whole: (work) => refusing(folder, () => whole(db, work)),
    close: () => void db.close(),
  };
}

/**
 * One transaction. (The driver's own hides why it failed when the database has rolled back by itself,
 * as it does on a full disk.)
 */
function whole<T>(db: Database.Database, work: () => T): T {
  db.exec('begin immediate');
  try {
    const result = work();
    db.exec('commit');
    return result;
  } catch (error) {
    if (db.inTransaction) db.exec('rollback');
    throw error;
  }
}

/** What the database or the disk refuses becomes a Fault that a person can act on. */
function refusing<T>(folder: string, work: () => T): T {
  try {
    return work();
  } catch (error) {
    throw diskFault(error, folder) ?? error;
  }
}

/** The Fault for an error of the disk or the database, or nothing for other errors. */
export function diskFault(error: unknown, folder: string): Fault | undefined {
  if (error instanceof Fault) return undefined;
  const { code = '', message } = error as { code?: string; message: string };
  const at = { file: folder };
  if (code === 'ENOSPC' || code === 'EDQUOT' || code === 'SQLITE_FULL')
    return new Fault('data/full', `no room left in ${folder}: free some and go on`, at);
  if (code === 'EROFS' || code === 'EACCES' || code === 'EPERM' || /readonly/.test(message))
    return new Fault('data/read-only', `${folder} cannot be written to (${code || message})`, at);
  if (/unable to open/i.test(message))
    return new Fault('data/unopened', `cannot open the data in ${folder}: ${message}`, at);
  if (code === 'EIO' || /^SQLITE_(IOERR|CORRUPT|NOTADB)/.test(code))
    return new Fault('data/damaged', `the data in ${folder} cannot be read: ${message}`, at);
  return undefined;
}
