/**
 * The embedded database: opened whole or not at all, by one process at a time, which holds the lock of
 * the folder for as long. Write-ahead logging with full synchronisation, so what was accepted outlives
 * a crash and a power cut. Another process may read beside it (`readDatabase`), and never writes.
 */
import { join } from 'node:path';
import { Fault } from '../../lib/index.js';
import { type Connection, type Engine, type Row, type Value, standardEngine } from './engine.js';

export type { Row } from './engine.js';
export const DATABASE = 'tiltwright.db';

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
 * (no token: from this machine); a browser has a session of its own. Version 3: the store has an
 * identity, files of results have digests. Version 4: machine, material and settings, the bulk of a job,
 * lie beside the table that lists are read from, and names in it are no longer than lists show: behind a
 * machine file of 15 MB SQLite walks 3,700 pages to the columns of the list.
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
  `
alter table files add column sha256 text;
create table store (
  identity text not null,
  made integer not null
);
`,
  `
create table orders (
  job integer primary key references jobs (id) on delete cascade,
  machine text not null,
  material text not null,
  settings text not null
);
insert into orders select id, machine, material, settings from jobs;
alter table jobs drop column machine;
alter table jobs drop column material;
alter table jobs drop column settings;
update jobs set name = substr(name, 1, 200), part_name = substr(part_name, 1, 200),
  machine_name = substr(machine_name, 1, 200), material_name = substr(material_name, 1, 200);
`,
];

export interface Db {
  readonly engine: Engine;
  rows(sql: string, ...values: Value[]): Row[];
  /** Number of rows changed. */
  run(sql: string, ...values: Value[]): number;
  /** All of it or nothing. */
  whole<T>(work: () => T): T;
  /** Moves the log into the database and empties it; false while somebody reads beside. */
  checkpoint(): boolean;
  /** Writes the database, as it stands at this moment, into a new file. */
  copyTo(path: string): void;
  close(): void;
}

/** The right to write to a folder. The system lets go when the process ends, however it ends. */
export interface Lock {
  close(): void;
}

/**
 * Takes the folder for this process, and opens its database.
 * @throws Fault `data/*` when the folder cannot be used, and from every call when the disk refuses
 */
export function openDatabase(folder: string, engine = standardEngine()): Db {
  const lock = lockFolder(folder, engine);
  try {
    return openLocked(folder, lock, engine);
  } catch (error) {
    lock.close();
    throw error;
  }
}

/** @throws Fault `data/in-use` */
export function lockFolder(folder: string, engine = standardEngine()): Lock {
  return refusing(folder, () => {
    const db = engine.open(join(folder, 'lock.db'));
    try {
      db.exec('begin exclusive');
    } catch (error) {
      db.close();
      if ((error as { code?: string }).code !== 'SQLITE_BUSY') throw error;
      throw new Fault('data/in-use', `${folder} is in use by another tiltwright process`, {
        file: folder,
      });
    }
    return { close: () => db.close() };
  });
}

/** The database of a folder that this process holds; closing it lets go of the folder. */
export function openLocked(folder: string, lock: Lock, engine = standardEngine()): Db {
  return refusing(folder, () => {
    const db = engine.open(join(folder, DATABASE));
    try {
      db.exec('pragma journal_mode = WAL');
      db.exec('pragma synchronous = FULL');
      db.exec('pragma foreign_keys = ON');
      migrate(db);
    } catch (error) {
      db.close();
      throw error;
    }
    const close = (): void => {
      db.close();
      lock.close();
    };
    return { ...wrap(db, folder, engine), close };
  });
}

/** The database of a folder as it stands, also while another process writes; it changes nothing. */
export function readDatabase(folder: string, engine = standardEngine()): Db {
  return refusing(folder, () => {
    const db = engine.open(join(folder, DATABASE));
    db.exec('pragma query_only = ON');
    db.exec('pragma busy_timeout = 5000');
    return { ...wrap(db, folder, engine), close: () => db.close() };
  });
}

/** Version of the tables in a database: 0 for one without any. */
export function versionOf(db: { rows(sql: string): Row[] }): number {
  return Number(db.rows('select user_version as v from pragma_user_version')[0]!['v']);
}

function migrate(db: Connection): void {
  const version = versionOf({ rows: (sql) => db.rows(sql, []) });
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

function wrap(db: Connection, folder: string, engine: Engine): Omit<Db, 'close'> {
  return {
    engine,
    rows: (sql, ...values) => refusing(folder, () => db.rows(sql, values)),
    run: (sql, ...values) => refusing(folder, () => db.run(sql, values)),
    whole: (work) => refusing(folder, () => whole(db, work)),
    copyTo: (path) =>
      refusing(folder, () => {
        // What is written is the other file; the setting does not distinguish them.
        const [only] = db.rows('pragma query_only', []);
        db.exec('pragma query_only = OFF');
        db.exec(`vacuum into '${path.replaceAll("'", "''")}'`);
        db.exec(`pragma query_only = ${only!['query_only']}`);
      }),
    checkpoint: () =>
      refusing(folder, () => db.rows('pragma wal_checkpoint(TRUNCATE)', [])[0]!['busy'] === 0),
  };
}

/**
 * One transaction. (The libsql driver's own hides why it failed when the database has rolled back by
 * itself, as it does on a full disk.)
 */
function whole<T>(db: Connection, work: () => T): T {
  db.exec('begin immediate');
  try {
    const result = work();
    db.exec('commit');
    return result;
  } catch (error) {
    if (db.inTransaction()) db.exec('rollback');
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
    return new Fault(
      'data/damaged',
      `the data in ${folder} cannot be read: ${message}; see tiltwright store doctor, or restore a backup`,
      at,
    );
  return undefined;
}
