/**
 * Backup and restore of a store. The database is copied by `VACUUM INTO` (one consistent reading of it,
 * also while a service writes), and the files that this copy names after it: results and parts never change
 * once they are in their place, so they match however late they are copied. If one was removed meanwhile,
 * the copy of the database is taken again. (Files first and database last would miss the results that came
 * in between.) A backup lists all its files with their digests; it is written under another name and
 * renamed, so it is whole or absent.
 */
import {
  copyFile,
  mkdir,
  mkdtemp,
  open,
  readFile,
  readdir,
  rename,
  rm,
  stat,
} from 'node:fs/promises';
import { basename, dirname, join, resolve } from 'node:path';
import { z } from 'zod';
import { Fault } from '../../lib/index.js';
import { type FileMark, sha256Of, syncFolder, writeSynced } from '../disk.js';
import { MANIFEST } from '../manifest.js';
import { version } from '../version.js';
import { DATABASE, type Db, diskFault, readDatabase } from './database.js';
import { type Engine, standardEngine } from './engine.js';
import { makeFolders } from './folder.js';
import { CARD, MARK, RESTORING, identityIn, lastEvent, markText } from './identity.js';

const LIST = 'backup.json';
/** Readings of the database, while jobs are being removed under it. */
const READINGS = 5;

const list = z.object({
  tiltwright: z.literal('backup'),
  version: z.string(),
  date: z.string(),
  identity: z.string(),
  /** Number of the last event in it. */
  event: z.number(),
  files: z.record(z.string(), z.object({ bytes: z.number(), sha256: z.string() })),
});
type List = z.infer<typeof list>;

export interface BackupReport {
  readonly jobs: number;
  readonly files: number;
  readonly bytes: number;
  /** What the store itself lacks or holds damaged: the backup is no better. */
  readonly flaws: readonly string[];
}

/**
 * @param path data folder; a service may be running on it
 * @throws Fault `store/none`, `backup/not-empty`, `data/*`
 */
export async function backUp(
  path: string,
  to: string,
  engine: Engine = standardEngine(),
): Promise<BackupReport> {
  const known = await stat(join(path, CARD)).catch(() => undefined);
  if (!known || !(await stat(join(path, DATABASE)).catch(() => undefined)))
    throw new Fault('store/none', `${path} holds no store, or one of a version without identity`, {
      file: path,
    });
  const target = resolve(to);
  await refuseFull(target);
  let work: string | undefined;
  try {
    await mkdir(dirname(target), { recursive: true });
    work = await mkdtemp(join(dirname(target), `.${basename(target)}-`));
    const report = await fill(path, work, engine);
    await rename(work, target);
    await syncFolder(dirname(target));
    return report;
  } catch (error) {
    throw diskFault(error, dirname(target)) ?? error;
  } finally {
    if (work !== undefined) await rm(work, { recursive: true, force: true });
  }
}

async function refuseFull(folder: string): Promise<void> {
  const names = await readdir(folder).catch((error: NodeJS.ErrnoException) => {
    if (error.code === 'ENOENT') return [];
    throw new Fault('backup/unwritable', `cannot write ${folder}: ${error.code}`, { file: folder });
  });
  if (names.length > 0)
    throw new Fault(
      'backup/not-empty',
      `${folder} holds ${names.length} files: give an empty folder`,
      {
        file: folder,
      },
    );
}

async function fill(path: string, work: string, engine: Engine): Promise<BackupReport> {
  const marks = new Map<string, FileMark>();
  for (let reading = 1; ; reading++) {
    const named = await snapshot(path, join(work, DATABASE), engine);
    const flaws: string[] = [];
    for (const [name, sha256] of named.files) {
      const mark = marks.get(name) ?? (await take(join(path, name), join(work, name)));
      if (!mark) {
        flaws.push(`${name} is missing in the store`);
        continue;
      }
      marks.set(name, mark);
      if (sha256 !== undefined && sha256 !== mark.sha256)
        flaws.push(`${name} in the store does not have the digest that it was written with`);
    }
    const lost = flaws.some((flaw) => flaw.endsWith('is missing in the store'));
    if (lost && reading < READINGS) continue;
    // What was removed between two readings.
    for (const name of marks.keys())
      if (!named.files.has(name)) {
        marks.delete(name);
        await rm(join(work, name), { force: true });
      }
    await finish(path, work, named, marks);
    const bytes = [...marks.values()].reduce((sum, mark) => sum + mark.bytes, 0);
    return { jobs: named.jobs, files: marks.size, bytes, flaws };
  }
}

interface Named {
  readonly identity: string;
  readonly event: number;
  readonly jobs: number;
  /** Every file that the database names, with its digest where that is known. */
  readonly files: ReadonlyMap<string, string | undefined>;
}

/** A copy of the database by itself, checked, and what it names. */
async function snapshot(path: string, copy: string, engine: Engine): Promise<Named> {
  await rm(copy, { force: true });
  const live = readDatabase(path, engine);
  try {
    live.copyTo(copy);
  } finally {
    live.close();
  }
  const db = readDatabase(dirname(copy), engine);
  try {
    const [check] = db.rows('select integrity_check as c from pragma_integrity_check');
    if (check!['c'] !== 'ok')
      throw new Fault('data/damaged', `the database in ${path} is damaged: ${check!['c']}`);
    return {
      identity: identityIn(db)!,
      event: lastEvent(db),
      jobs: Number(db.rows('select count(*) as n from jobs')[0]!['n']),
      files: filesOf(db),
    };
  } finally {
    db.close();
  }
}

function filesOf(db: Db): Map<string, string | undefined> {
  const files = new Map<string, string | undefined>();
  for (const { id, attempt } of db.rows(
    `select id, attempt from jobs where state = 'finished' and exists
       (select 1 from files where job = id and sha256 is not null)`,
  ))
    files.set(`results/${id}-${attempt}/${MANIFEST}`, undefined);
  for (const r of db.rows(
    `select id, attempt, files.name, sha256 from jobs join files on job = id where state = 'finished'`,
  )) {
    const digest = r['sha256'] === null ? undefined : String(r['sha256']);
    files.set(`results/${r['id']}-${r['attempt']}/${r['name']}`, digest);
  }
  // Parts of jobs that have ended may be gone: they are kept for a day after the last job.
  for (const r of db.rows(
    `select id from parts union select part from jobs where state in ('waiting', 'running')`,
  ))
    files.set(`parts/${r['id']}`, String(r['id']));
  return files;
}

/** Copies a file down to the disk; nothing if there is none. */
async function take(from: string, to: string): Promise<FileMark | undefined> {
  await mkdir(dirname(to), { recursive: true });
  try {
    await copyFile(from, to);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return undefined;
    throw error;
  }
  const file = await open(to, 'r+');
  try {
    await file.sync();
    return { bytes: (await file.stat()).size, sha256: await sha256Of(to) };
  } finally {
    await file.close();
  }
}

async function finish(
  path: string,
  work: string,
  { identity, event }: Named,
  marks: Map<string, FileMark>,
): Promise<void> {
  for (const name of await readdir(work)) if (/-(wal|shm)$/.test(name)) await rm(join(work, name));
  const database = await open(join(work, DATABASE), 'r+');
  await database.sync();
  const { size } = await database.stat();
  await database.close();
  marks.set(DATABASE, { bytes: size, sha256: await sha256Of(join(work, DATABASE)) });
  const card = await take(join(path, CARD), join(work, CARD));
  if (card) marks.set(CARD, card);
  marks.set(MARK, await writeSynced(join(work, MARK), markText(event)));
  const content: List = {
    tiltwright: 'backup',
    ...{ version, date: new Date().toISOString(), identity, event },
    files: Object.fromEntries([...marks].sort(([a], [b]) => (a < b ? -1 : 1))),
  };
  await writeSynced(join(work, LIST), `${JSON.stringify(content, null, 2)}\n`);
  await syncAll(work);
}

async function syncAll(folder: string): Promise<void> {
  for (const entry of await readdir(folder, { withFileTypes: true }))
    if (entry.isDirectory()) await syncAll(join(folder, entry.name));
  await syncFolder(folder);
}

/**
 * Restores a backup into an empty folder. Its files are all compared with their digests before anything
 * is written. A restore that was cut short leaves a folder that no service opens, and can be run again.
 * @throws Fault `backup/none`, `backup/damaged`, `backup/not-empty`, `data/*`
 */
export async function restore(from: string, path: string): Promise<BackupReport> {
  const { files, identity, date } = await readList(from);
  const names = Object.keys(files);
  for (const name of names) {
    const whole = (await sha256Of(join(from, name)).catch(() => undefined)) === files[name]!.sha256;
    if (!whole)
      throw new Fault('backup/damaged', `${name} in ${from} is absent or not as it was backed up`, {
        file: from,
      });
  }
  const note = `${identity} ${date}\n`;
  const begun = await readFile(join(path, RESTORING), 'utf8').catch(() => undefined);
  if (begun === note)
    for (const name of await readdir(path))
      if (name !== RESTORING) await rm(join(path, name), { recursive: true });
  if (begun !== note) await refuseFull(path);
  try {
    await mkdir(path, { recursive: true });
    if (begun !== note) await writeSynced(join(path, RESTORING), note);
    await syncFolder(path);
    makeFolders(path);
    for (const name of names) {
      const mark = await take(join(from, name), join(path, name));
      if (mark?.sha256 !== files[name]!.sha256)
        throw new Fault('backup/damaged', `${name} changed while it was copied`, { file: from });
    }
    await syncAll(path);
    await rm(join(path, RESTORING));
    await syncFolder(path);
  } catch (error) {
    throw diskFault(error, path) ?? error;
  }
  const bytes = names.reduce((sum, name) => sum + files[name]!.bytes, 0);
  const jobs = new Set(names.filter((n) => n.startsWith('results/')).map((n) => n.split('/')[1]));
  return { jobs: jobs.size, files: names.length, bytes, flaws: [] };
}

async function readList(from: string): Promise<List> {
  const text = await readFile(join(from, LIST), 'utf8').catch(() => undefined);
  try {
    const read = list.parse(JSON.parse(text ?? ''));
    for (const name of Object.keys(read.files))
      if (name.startsWith('/') || name.split('/').includes('..')) throw new Error(name);
    return read;
  } catch {
    throw new Fault('backup/none', `${from} holds no backup: ${LIST} is absent or damaged`, {
      file: from,
    });
  }
}
