/**
 * Continuing with a store that lost its database, or a part of it: what is damaged or belongs to another
 * store goes to quarantine, numbers of jobs and events continue above every one that may have been given,
 * so none is given twice, and results that describe themselves are taken in as the finished jobs that they
 * are. Jobs that were waiting and uploads that no job used cannot be recovered this way.
 */
import { existsSync } from 'node:fs';
import { mkdir, readdir, rename } from 'node:fs/promises';
import { join } from 'node:path';
import { Fault } from '../../lib/index.js';
import { DATABASE, type Db, type Lock, lockFolder, openLocked, readDatabase } from './database.js';
import { type Described, describedIn, flaws } from './describe.js';
import { damageOf } from './doctor.js';
import { type Engine, standardEngine } from './engine.js';
import { makeFolders } from './folder.js';
import {
  Mark,
  RESTORING,
  bearIdentity,
  identityIn,
  lastEvent,
  notedEvents,
  readCard,
  writeCard,
} from './identity.js';
import { columnsOf, keepOrder } from './jobs.js';
import { Journal } from './journal.js';
import { QUARANTINE, quarantine } from './stock.js';

export interface Adoption {
  /** Numbers of jobs that were taken in. */
  readonly jobs: readonly number[];
  /** What was done, in lines. */
  readonly notes: readonly string[];
}

/** @throws Fault `data/in-use`, `data/half-restored` */
export async function adopt(path: string, engine: Engine = standardEngine()): Promise<Adoption> {
  makeFolders(path);
  if (existsSync(join(path, RESTORING)))
    throw new Fault('data/half-restored', `restore the backup in ${path} to its end first`, {
      file: path,
    });
  const lock = lockFolder(path, engine);
  const notes: string[] = [];
  let db: Db;
  try {
    db = await soundDatabase(path, lock, engine, notes);
  } catch (error) {
    lock.close();
    throw error;
  }
  try {
    const seen = notedEvents(path);
    const candidates = await candidatesIn(path);
    goOnAbove(db, seen, candidates, notes);
    const jobs = await takeIn(path, db, candidates, notes);
    const mark = new Mark(path);
    mark.note(lastEvent(db));
    mark.sync();
    mark.close();
    return { jobs, notes };
  } finally {
    db.close();
  }
}

/** The database of the folder if it is one and of this store, else a new one. */
async function soundDatabase(
  path: string,
  lock: Lock,
  engine: Engine,
  notes: string[],
): Promise<Db> {
  const why = whyUnsound(path, engine);
  if (why !== undefined) {
    for (const end of ['', '-wal', '-shm']) {
      if (!existsSync(join(path, DATABASE + end))) continue;
      const to = await quarantine(path, '.', DATABASE + end);
      notes.push(`${DATABASE + end} ${why}: moved to ${to}`);
    }
    notes.push('a new database was made');
  }
  const db = openLocked(path, lock, engine);
  const known = attemptCard(path);
  const card = known ?? writeCard(path, identityIn(db));
  if (!known) notes.push(`the store was given its card again, identity ${card.identity}`);
  if (identityIn(db) === undefined) bearIdentity(db, card);
  return db;
}

function attemptCard(path: string): ReturnType<typeof readCard> {
  try {
    return readCard(path);
  } catch {
    return undefined;
  }
}

function whyUnsound(path: string, engine: Engine): string | undefined {
  if (!existsSync(join(path, DATABASE))) return 'is absent';
  try {
    const db = readDatabase(path, engine);
    try {
      if (db.rows(`select name from sqlite_schema where name = 'jobs'`).length === 0)
        return 'is empty';
      if (damageOf(db).length > 0) return 'is damaged';
      const stores = db.rows(`select name from sqlite_schema where name = 'store'`).length > 0;
      const [card, inside] = [attemptCard(path), stores ? identityIn(db) : undefined];
      return card && inside !== undefined && card.identity !== inside
        ? 'is of another store'
        : undefined;
    } finally {
      db.close();
    }
  } catch (error) {
    if (error instanceof Fault) return 'is damaged';
    throw error;
  }
}

interface Candidate extends Described {
  /** Within the folder. */
  readonly place: string;
}

/** Whole results of this store, wherever they lie, the latest claim of a job first. */
async function candidatesIn(path: string): Promise<Candidate[]> {
  const identity = attemptCard(path)!.identity;
  const found: Candidate[] = [];
  for (const area of ['results', join(QUARANTINE, 'results')])
    for (const name of await readdir(join(path, area)).catch(() => [])) {
      const place = join(area, name);
      const told = await describedIn(join(path, place));
      if (told?.store !== identity) continue;
      if ((await flaws(join(path, place), told.files)).length === 0) found.push({ ...told, place });
    }
  return found.sort((a, b) => a.id - b.id || b.attempt - a.attempt);
}

/** Lost events are at least as many as lost jobs, so their number bounds the numbers given to jobs. */
function goOnAbove(db: Db, seen: number, candidates: readonly Candidate[], notes: string[]): void {
  const lost = Math.max(0, seen - lastEvent(db));
  if (lost > 0) notes.push(`${lost} events are lost; those to come are numbered from ${seen + 1}`);
  const atLeast = (table: string, seq: number): void => {
    const [row] = db.rows('select seq from sqlite_sequence where name = ?', table);
    if (!row) db.run('insert into sqlite_sequence (name, seq) values (?, ?)', table, seq);
    else if (Number(row['seq']) < seq)
      db.run('update sqlite_sequence set seq = ? where name = ?', seq, table);
  };
  const [jobs] = db.rows(
    `select coalesce(max(seq), 0) as n from sqlite_sequence where name = 'jobs'`,
  );
  const highest = Math.max(0, ...candidates.map((c) => c.id));
  db.whole(() => {
    atLeast('events', seen);
    atLeast('jobs', Math.max(Number(jobs!['n']) + lost, highest));
  });
}

async function takeIn(
  path: string,
  db: Db,
  candidates: readonly Candidate[],
  notes: string[],
): Promise<number[]> {
  const journal = new Journal(db);
  const taken: number[] = [];
  for (const candidate of candidates) {
    const { id, attempt, place } = candidate;
    const [row] = db.rows('select state, attempt from jobs where id = ?', id);
    const state = row && String(row['state']);
    if (state !== undefined && !['waiting', 'running'].includes(state)) continue;
    const to = join('results', `${id}-${attempt}`);
    if (place !== to) {
      if (existsSync(join(path, to))) continue;
      await rename(join(path, place), join(path, to));
    }
    journal.change((note) => {
      record(db, candidate);
      note(id, 'finished');
    });
    await partBack(path, candidate.order.part);
    taken.push(id);
    notes.push(`job ${id} (${candidate.order.name}) was taken in from ${place}`);
  }
  return taken;
}

function record(db: Db, { id, attempt, order, made, ended, key, summary, files }: Candidate): void {
  const free =
    key && db.rows('select id from jobs where idem = ? and id <> ?', key.key, id).length === 0;
  db.run(
    `insert into jobs (id, state, name, part, part_name, machine_name, material_name, priority,
       idem, idem_digest, made, due, started, ended, attempt, summary)
     values (?, 'finished', ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
     on conflict (id) do update set state = 'finished', owner = null, progress = null, reason = null,
       ended = excluded.ended, attempt = excluded.attempt, summary = excluded.summary`,
    id,
    ...columnsOf(order),
    ...[free ? key.key : null, free ? key.digest : null],
    ...[made, made, made, ended, attempt, JSON.stringify(summary)],
  );
  keepOrder(db, id, order);
  db.run('delete from files where job = ?', id);
  for (const { name, bytes, sha256 } of files)
    db.run(
      'insert into files (job, name, bytes, sha256) values (?, ?, ?, ?)',
      ...[id, name, bytes, sha256],
    );
}

/** The part of a job that is known again comes out of quarantine. */
async function partBack(path: string, part: string): Promise<void> {
  const aside = join(path, QUARANTINE, 'parts', part);
  if (!existsSync(aside) || existsSync(join(path, 'parts', part))) return;
  await mkdir(join(path, 'parts'), { recursive: true });
  await rename(aside, join(path, 'parts', part));
}
