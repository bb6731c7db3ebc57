/**
 * Taking stock of a data folder that was just opened. A crash leaves uploads and results half-way;
 * what the database accounts for is finished or cleared. What it does not know may be all that is left
 * of something, so it goes to quarantine, under its own name, and is reported: nothing that is not
 * known to be superseded is ever removed.
 */
import { existsSync } from 'node:fs';
import { mkdir, readdir, rename, rm } from 'node:fs/promises';
import { join } from 'node:path';
import type { Db } from './database.js';
import { describedIn, flaws } from './describe.js';
import type { Folder } from './folder.js';
import type { State } from './job.js';
import type { Queue } from './queue.js';

export const QUARANTINE = 'quarantine';
const AREAS = ['incoming', 'work', 'results', 'parts'];
const UUID = /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/;
const CLAIM = /^(\d+)-(\d+)$/;

/** A job as far as its files are concerned. */
interface Standing {
  readonly state: State;
  readonly attempt: number;
}

/**
 * Ends jobs whose result had been put in its place, but not yet been noted as finished when the
 * service was stopped. Called before running jobs are taken back. Gives their numbers.
 */
export async function finishPublished(db: Db, queue: Queue, folder: Folder): Promise<number[]> {
  const finished: number[] = [];
  for (const row of db.rows(`select id, owner, attempt from jobs where state = 'running'`)) {
    const hold = {
      ...{ id: Number(row['id']), owner: String(row['owner']), attempt: Number(row['attempt']) },
    };
    const path = folder.result(hold.id, hold.attempt);
    const told = existsSync(path) ? await describedIn(path) : undefined;
    if (!told || told.store !== folder.identity || (await flaws(path, told.files)).length > 0)
      continue;
    if (await queue.finish(hold, told)) finished.push(hold.id);
  }
  return finished;
}

type Verdict = 'keep' | 'clear' | 'unknown';

/** What is to become of an entry of a folder of the store, by its name. */
export function verdicts(db: Db): Readonly<Record<string, (name: string) => Verdict>> {
  const jobs = standings(db);
  const removed = new Set(
    db.rows(`select job from events where kind = 'removed'`).map((r) => Number(r['job'])),
  );
  const parts = new Set(
    db.rows('select id from parts union select part from jobs').map((r) => String(r['id'])),
  );
  return {
    incoming: (name) => (UUID.test(name) ? 'clear' : 'unknown'),
    // Half-done work of a claim that is no more.
    work: (name) => (CLAIM.test(name) ? 'clear' : 'unknown'),
    results: (name) => ofResult(name, jobs, removed),
    parts: (name) => (parts.has(name) ? 'keep' : 'unknown'),
  };
}

/** Clears what a crash left, quarantines what nobody knows. Gives a line about each such thing. */
export async function takeStock(db: Db, folder: Folder): Promise<string[]> {
  const notes: string[] = [];
  for (const [area, judge] of Object.entries(verdicts(db)))
    for (const name of await readdir(join(folder.path, area))) {
      const path = join(folder.path, area, name);
      const what = judge(name);
      if (what === 'clear') await rm(path, { recursive: true, force: true });
      if (what === 'unknown') {
        const to = await quarantine(folder.path, area, name);
        notes.push(`${area}/${name} is of no job or upload that the store knows: moved to ${to}`);
      }
    }
  return [...notes, ...(await missing(db, folder))];
}

function standings(db: Db): Map<number, Standing> {
  const rows = db.rows('select id, state, attempt from jobs');
  return new Map(
    rows.map((r) => [
      Number(r['id']),
      { state: r['state'] as State, attempt: Number(r['attempt']) },
    ]),
  );
}

function ofResult(
  name: string,
  jobs: ReadonlyMap<number, Standing>,
  removed: ReadonlySet<number>,
): Verdict {
  const [, id, attempt] = (CLAIM.exec(name) ?? []).map(Number);
  if (id === undefined || attempt === undefined) return 'unknown';
  const job = jobs.get(id);
  if (!job) return removed.has(id) ? 'clear' : 'unknown';
  if (attempt > job.attempt) return 'unknown';
  return job.state === 'finished' && attempt === job.attempt ? 'keep' : 'clear';
}

/** Moves something aside, under a name that is free. Gives its place in the folder. */
export async function quarantine(folder: string, area: string, name: string): Promise<string> {
  await mkdir(join(folder, QUARANTINE, area), { recursive: true, mode: 0o750 });
  for (let count = 1; ; count++) {
    const to = join(QUARANTINE, area, count === 1 ? name : `${name}~${count}`);
    if (existsSync(join(folder, to))) continue;
    await rename(join(folder, area, name), join(folder, to));
    return to;
  }
}

/** What the database names and the folder does not hold. */
export async function missing(db: Db, folder: Folder): Promise<string[]> {
  const results = new Set(await readdir(join(folder.path, 'results')));
  const parts = new Set(await readdir(join(folder.path, 'parts')));
  const notes: string[] = [];
  for (const r of db.rows(`select id, attempt from jobs where state = 'finished' order by id`))
    if (!results.has(`${r['id']}-${r['attempt']}`))
      notes.push(`the result of job ${r['id']} is missing: results/${r['id']}-${r['attempt']}`);
  for (const r of db.rows(
    `select part, min(id) as id, count(*) as n from jobs where state in ('waiting', 'running') group by part`,
  ))
    if (!parts.has(String(r['part'])))
      notes.push(`the part of job ${r['id']} (of ${r['n']} jobs) is missing: parts/${r['part']}`);
  return notes;
}

/** Everything in quarantine, by its place in the folder: what lies there or in a folder of an area. */
export async function quarantined(folder: string): Promise<string[]> {
  const found: string[] = [];
  for (const area of await readdir(join(folder, QUARANTINE)).catch(() => [])) {
    const inner = AREAS.includes(area) ? await readdir(join(folder, QUARANTINE, area)) : ['.'];
    found.push(...inner.map((name) => join(QUARANTINE, area, name)));
  }
  return found.sort();
}
