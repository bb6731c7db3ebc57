/**
 * Examination of a store on which no service is running: does the database belong to the folder, is it
 * whole, is everything there that it names and as it was written, and what is there that it does not know.
 * Nothing is changed; `adopt.ts` is the cure.
 */
import { existsSync } from 'node:fs';
import { readdir } from 'node:fs/promises';
import { join } from 'node:path';
import { Fault } from '../../lib/index.js';
import { sha256Of } from '../disk.js';
import { DATABASE, type Db, lockFolder, readDatabase, versionOf } from './database.js';
import { describedIn, flaws } from './describe.js';
import { type Engine, standardEngine } from './engine.js';
import { CARD, type Outside, checkOutside, disagreement, lastEvent, lookAt } from './identity.js';
import { verdicts, QUARANTINE, quarantined } from './stock.js';

export interface Examination {
  readonly engine: string;
  readonly identity?: string;
  /** Last event in the database, and the last that the folder noted. */
  readonly events: { readonly database?: number; readonly folder: number };
  readonly jobs: Readonly<Record<string, number>>;
  /** Why no service opens the store, if none does. */
  readonly refused?: string;
  /** What SQLite finds wrong in the database. */
  readonly damaged: readonly string[];
  /** What the database names and is not there as it was written. */
  readonly missing: readonly string[];
  /** What is there and the database does not know; the next start moves it to quarantine. */
  readonly unknown: readonly string[];
  readonly quarantined: readonly string[];
  /** Of the last two, results that describe themselves, are whole, and can be taken in again. */
  readonly adoptable: readonly string[];
}

export const isWell = (e: Examination): boolean =>
  e.refused === undefined &&
  [e.damaged, e.missing, e.unknown, e.quarantined].every((list) => list.length === 0);

/** @throws Fault `store/none`, `data/in-use` */
export async function examine(
  path: string,
  engine: Engine = standardEngine(),
): Promise<Examination> {
  if (![CARD, DATABASE, 'results'].some((name) => existsSync(join(path, name))))
    throw new Fault('store/none', `${path} holds no store`, { file: path });
  const lock = lockFolder(path, engine);
  try {
    return await look(path, engine);
  } finally {
    lock.close();
  }
}

async function look(path: string, engine: Engine): Promise<Examination> {
  const name = `${engine.name} ${engine.version}`;
  const aside = await quarantined(path);
  const before = attempt(() => {
    const outside = lookAt(path);
    checkOutside(path, outside);
    return outside;
  });
  const bare = {
    ...{ engine: name, jobs: {}, damaged: [], missing: [], unknown: [], quarantined: aside },
    events: { folder: 0 },
  };
  if ('refused' in before || before.database !== 'there') {
    const adoptable = await describedOf(path, [...(await resultsIn(path)), ...aside], undefined);
    return { ...bare, ...before, adoptable };
  }
  const opened = attempt(() => readDatabase(path, engine));
  if ('refused' in opened)
    return { ...bare, refused: opened.refused, damaged: [opened.refused], adoptable: [] };
  try {
    const inside = await attemptAll(() => lookInside(path, before, opened, aside));
    if (!('refused' in inside)) return { ...bare, ...inside };
    const adoptable = await describedOf(path, [...(await resultsIn(path)), ...aside], undefined);
    return { ...bare, refused: inside.refused, damaged: [inside.refused], adoptable };
  } finally {
    opened.close();
  }
}

async function lookInside(
  path: string,
  outside: Outside,
  db: Db,
  aside: readonly string[],
): Promise<Omit<Examination, 'engine' | 'quarantined'>> {
  const damaged = damageOf(db);
  const old = versionOf(db) < 3;
  const refused = old ? undefined : disagreement(path, outside, db)?.message;
  const verdict = verdicts(db);
  const unknown: string[] = [];
  for (const area of ['results', 'parts', 'work', 'incoming'])
    for (const name of await readdir(join(path, area)).catch(() => []))
      if (verdict[area]!(name) === 'unknown') unknown.push(`${area}/${name}`);
  const jobs: Record<string, number> = {};
  for (const r of db.rows('select state, count(*) as n from jobs group by state order by state'))
    jobs[String(r['state'])] = Number(r['n']);
  return {
    ...(outside.card ? { identity: outside.card.identity } : {}),
    events: { database: lastEvent(db), folder: Math.max(0, outside.generation - 1) },
    jobs,
    ...(refused === undefined ? {} : { refused }),
    damaged,
    missing: await lackOf(path, db),
    unknown,
    adoptable: await describedOf(path, [...unknown, ...aside], outside.card?.identity),
  };
}

/** What SQLite itself finds; nothing if all is well. */
export function damageOf(db: Db): string[] {
  const found = db.rows('select integrity_check as c from pragma_integrity_check');
  const strays = db.rows(
    'select "table" as t, count(*) as n from pragma_foreign_key_check group by 1',
  );
  return [
    ...found.map((r) => String(r['c'])).filter((c) => c !== 'ok'),
    ...strays.map((r) => `${r['n']} rows of ${r['t']} refer to rows that are absent`),
  ];
}

async function lackOf(path: string, db: Db): Promise<string[]> {
  const found: string[] = [];
  for (const job of db.rows(`select id, attempt from jobs where state = 'finished' order by id`)) {
    const rows = db.rows('select * from files where job = ?', job['id']!);
    const files = rows.map((r) => ({
      name: String(r['name']),
      bytes: Number(r['bytes']),
      ...(typeof r['sha256'] === 'string' ? { sha256: r['sha256'] } : {}),
    }));
    const name = `results/${job['id']}-${job['attempt']}`;
    if (!existsSync(join(path, name))) found.push(`${name} is absent`);
    else found.push(...(await flaws(join(path, name), files)).map((f) => `${name}/${f}`));
  }
  for (const row of db.rows(
    `select id from parts union select part from jobs where state in ('waiting', 'running')`,
  )) {
    const digest = await sha256Of(join(path, 'parts', String(row['id']))).catch(() => undefined);
    if (digest === undefined) found.push(`parts/${row['id']} is absent`);
    else if (digest !== row['id']) found.push(`parts/${row['id']} is not the part of this digest`);
  }
  return found;
}

const resultsIn = async (path: string): Promise<string[]> =>
  (await readdir(join(path, 'results')).catch(() => [])).map((name) => `results/${name}`);

/** Places whose result describes itself, is of this store and whole. */
async function describedOf(
  path: string,
  places: readonly string[],
  identity: string | undefined,
): Promise<string[]> {
  const found: string[] = [];
  for (const place of places) {
    if (!place.startsWith('results/') && !place.startsWith(`${QUARANTINE}/results/`)) continue;
    const told = await describedIn(join(path, place));
    if (!told || (identity !== undefined && told.store !== identity)) continue;
    if ((await flaws(join(path, place), told.files)).length === 0) found.push(place);
  }
  return found;
}

/** A Fault of a store is what the examination is for. */
function attempt<T>(work: () => T): T | { refused: string } {
  try {
    return work();
  } catch (error) {
    if (error instanceof Fault) return { refused: error.message };
    throw error;
  }
}

async function attemptAll<T>(work: () => Promise<T>): Promise<T | { refused: string }> {
  try {
    return await work();
  } catch (error) {
    if (error instanceof Fault) return { refused: error.message };
    throw error;
  }
}
