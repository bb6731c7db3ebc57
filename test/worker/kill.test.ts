/**
 * The service is killed (SIGKILL) at random moments while jobs come in and run. Every job that was
 * accepted ends once, with a whole result, and the data folder opens clean each time. What a whole
 * result is comes from the library, which is run by itself.
 */
import { existsSync, mkdtempSync, readFileSync, readdirSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { writeStl } from '../../lib/mesh/write.js';
import { seeded } from '../../lib/base/random.js';
import { openDatabase } from '../../worker/store/database.js';
import { jobOf, runJob } from '../support/jobs.js';
import { countOf } from '../support/proof.js';
import { type Server, serve, until } from '../support/server.js';
import { quick } from '../support/service.js';
import { cuboid } from '../support/shapes.js';

const SEED = 20261125;
const KILLS = countOf(6, 100);
const JOBS = countOf(24, 200);
const mesh = cuboid([10, 10, 6]);
const settings = { ...quick, page: false };
const flags = ['--jobs', '2', '--lease', '5', '--pause', '0.05', '--grace', '0'];

test(
  `${KILLS} kills over ${JOBS} jobs, seed ${SEED}`,
  { timeout: countOf(120, 3600) * 1000 },
  async () => {
    const folder = mkdtempSync(join(tmpdir(), 'tiltwright-kill-'));
    const random = seeded(SEED);
    const accepted = new Map<string, number>();
    const { id: part } = await uploadOnce(folder);
    for (let kill = 0; kill < KILLS; kill++) {
      const server = await serve(folder, flags);
      const most = Math.ceil((JOBS * (kill + 1)) / KILLS);
      const submitting = submitUpTo(server, part, accepted, most);
      await killAtRandom(server, random);
      await submitting;
      expectClean(folder);
    }
    const last = await serve(folder, flags);
    await submitUpTo(last, part, accepted, JOBS);
    await until(() => counts(folder).waiting + counts(folder).running === 0);
    expect(await last.end('SIGTERM')).toBe(0);

    const program = (
      await runJob({ ...jobOf(mesh, 'table-table-ac', settings), partName: 'cube.stl' })
    ).program;
    expectAll(folder, accepted, program.join(''));
    rmSync(folder, { recursive: true });
  },
);

async function uploadOnce(folder: string): Promise<{ id: string }> {
  const server = await serve(folder, flags);
  const answer = await fetch(`${server.url}/v1/parts?name=cube.stl`, {
    method: 'POST',
    headers: { 'content-type': 'application/octet-stream' },
    body: writeStl(mesh) as never,
  });
  expect(answer.status).toBe(201);
  const { id } = (await answer.json()) as { id: string };
  await server.end('SIGKILL');
  return { id };
}

/** Submits with keys until `most` were accepted or the service is gone; unanswered keys come again. */
async function submitUpTo(
  { url }: Server,
  part: string,
  accepted: Map<string, number>,
  most: number,
): Promise<void> {
  while (accepted.size < most) {
    const key = `job ${accepted.size}`;
    const answer = await post(url, key, part);
    if (!answer) return;
    accepted.set(key, answer.id);
  }
}

async function post(url: string, key: string, part: string): Promise<{ id: number } | undefined> {
  try {
    const answer = await fetch(`${url}/v1/jobs`, {
      method: 'POST',
      headers: { 'content-type': 'application/json', 'idempotency-key': key },
      body: JSON.stringify({ part, machine: 'table-table-ac', material: 'pla', settings }),
    });
    expect([200, 201]).toContain(answer.status);
    return (await answer.json()) as { id: number };
  } catch (error) {
    if (error instanceof TypeError) return undefined;
    throw error;
  }
}

/** After some number of changes of jobs (so that slow machines are killed at work, too) and a moment. */
async function killAtRandom(server: Server, random: () => number): Promise<void> {
  const changes = Math.floor(random() * 9);
  const moment = random() * 120;
  let patience = 250;
  await until(() => server.output().split('\njob ').length > changes || patience-- <= 0);
  await new Promise((resolve) => setTimeout(resolve, moment));
  expect(await server.end('SIGKILL')).toBe('SIGKILL');
}

function expectClean(folder: string): void {
  const db = openDatabase(folder);
  expect(db.rows('select integrity_check as c from pragma_integrity_check')).toEqual([{ c: 'ok' }]);
  expect(db.rows('select "table" from pragma_foreign_key_check')).toEqual([]);
  db.close();
}

function counts(folder: string): { waiting: number; running: number } {
  const db = openDatabase(folder);
  const of = (state: string): number =>
    Number(db.rows('select count(*) as n from jobs where state = ?', state)[0]!['n']);
  const result = { waiting: of('waiting'), running: of('running') };
  db.close();
  return result;
}

function expectAll(folder: string, accepted: ReadonlyMap<string, number>, program: string): void {
  expectClean(folder);
  const db = openDatabase(folder);
  const jobs = db.rows('select id, idem, state, attempt, reason from jobs order by id');
  expect(new Map(jobs.map((j) => [String(j['idem']), Number(j['id'])]))).toEqual(accepted);
  expect(accepted.size).toBe(JOBS);
  for (const { id, state, attempt, reason } of jobs) {
    expect([id, state, reason]).toEqual([id, 'finished', null]);
    const result = join(folder, 'results', `${id}-${attempt}`);
    expect(readFileSync(join(result, 'program.ngc'), 'utf8')).toBe(program);
    for (const f of db.rows('select name, bytes from files where job = ?', id!))
      expect(statSync(join(result, String(f['name']))).size).toBe(f['bytes']);
    const ends = db.rows(
      `select kind from events where job = ? and kind in ('finished', 'failed', 'cancelled')`,
      id!,
    );
    expect(ends).toEqual([{ kind: 'finished' }]);
  }
  db.close();
  // One result a job and nothing half-done.
  expect(readdirSync(join(folder, 'results')).length).toBe(JOBS);
  for (const name of ['work', 'incoming'])
    expect(existsSync(join(folder, name)) && readdirSync(join(folder, name))).toEqual([]);
}
