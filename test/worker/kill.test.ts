/**
 * The service is killed (SIGKILL) at random moments while jobs come in and run: the server, the child
 * process that does a job, or both at once; and now and then the disk is full. Every job that was
 * accepted ends once, with a whole result, and the data folder opens clean each time. What a whole
 * result is comes from the library, which is run by itself. The disk is a small file system in memory;
 * where none can be mounted, it is never full, and the name of the test says so.
 */
import { spawnSync } from 'node:child_process';
import {
  mkdtempSync,
  readFileSync,
  readdirSync,
  rmSync,
  statSync,
  statfsSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { writeStl } from '../../lib/formats/write-mesh.js';
import { seeded } from '../../lib/base/random.js';
import { readDatabase } from '../../worker/store/database.js';
import { examine, isWell } from '../../worker/store/doctor.js';
import { jobOf, runJob } from '../support/jobs.js';
import { countOf } from '../support/proof.js';
import { type Server, serve, until } from '../support/server.js';
import { quick } from '../support/service.js';
import { cuboid } from '../support/shapes.js';

const SEED = 20261125;
const KILLS = countOf(9, 300);
const JOBS = countOf(24, 300);
const mesh = cuboid([10, 10, 6]);
const settings = { ...quick, page: false };
const flags = ['--jobs', '2', '--lease', '5', '--pause', '0.05', '--grace', '0', '--kept', '5'];

const folder = mkdtempSync(join(tmpdir(), 'tiltwright-kill-'));
const small = spawnSync('mount', ['-t', 'tmpfs', '-o', 'size=96m', 'tmpfs', folder]).status === 0;
const FILLS = small ? countOf(2, 20) : 0;
/** Kills during which the disk is full: evenly spread. */
const isFull = (kill: number): boolean =>
  Math.floor(((kill + 1) * FILLS) / KILLS) > Math.floor((kill * FILLS) / KILLS);
const victims = ['server', 'runner', 'both'] as const;
const count = { server: 0, runner: 0, both: 0, full: 0, refused: 0 };

test(
  `${KILLS} kills over ${JOBS} jobs, disk full ${FILLS} times${small ? '' : ' (no right to mount)'}, seed ${SEED}`,
  { timeout: countOf(600, 7200) * 1000 },
  async () => {
    const random = seeded(SEED);
    const accepted = new Map<string, number>();
    const { id: part } = await uploadOnce();
    let server = await serve(folder, flags);
    for (let kill = 0; kill < KILLS; kill++) {
      await until(() => worst('losses') < 15);
      const most = Math.ceil((JOBS * (kill + 1)) / KILLS);
      const submitting = submitUpTo(server, part, accepted, most);
      if (isFull(kill)) fill();
      const victim = victims[Math.floor(random() * 3)]!;
      const dead = await killAtRandom(server, random, victim);
      if (isFull(kill)) free();
      await submitting;
      if (!dead) continue;
      await expectClean();
      server = await serve(folder, flags);
    }
    await submitUpTo(server, part, accepted, JOBS);
    await until(() => counts().waiting + counts().running === 0);
    expect(await server.end('SIGTERM')).toBe(0);

    const program = (
      await runJob({ ...jobOf(mesh, 'table-table-ac', settings), partName: 'cube.stl' })
    ).program;
    await expectAll(accepted, program.join(''));
    process.stdout.write(`${JSON.stringify(count)}\n`);
    if (small) spawnSync('umount', ['-l', folder]);
    rmSync(folder, { recursive: true });
  },
);

async function uploadOnce(): Promise<{ id: string }> {
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

/** Leaves no room. Something may be freed at any time, so it is done again after each look. */
function fill(): void {
  count.full++;
  const { bavail, bsize } = statfsSync(folder);
  try {
    writeFileSync(join(folder, 'filler'), new Uint8Array(bavail * bsize));
  } catch (error) {
    // The service takes room meanwhile: what is left of it is full all the same.
    if ((error as NodeJS.ErrnoException).code !== 'ENOSPC') throw error;
  }
}
const free = (): void => rmSync(join(folder, 'filler'), { force: true });

/** Submits with keys until `most` were accepted or the service is gone; unanswered keys come again. */
async function submitUpTo(
  server: Server,
  part: string,
  accepted: Map<string, number>,
  most: number,
): Promise<void> {
  while (accepted.size < most) {
    const key = `job ${accepted.size}`;
    const answer = await post(server.url, key, part);
    if (answer === 'gone') return;
    if (answer !== 'full') accepted.set(key, answer.id);
    else await new Promise((resolve) => setTimeout(resolve, 20));
  }
}

async function post(
  url: string,
  key: string,
  part: string,
): Promise<{ id: number } | 'gone' | 'full'> {
  try {
    const answer = await fetch(`${url}/v1/jobs`, {
      method: 'POST',
      headers: { 'content-type': 'application/json', 'idempotency-key': key },
      body: JSON.stringify({ part, machine: 'table-table-ac', material: 'pla', settings }),
    });
    if (answer.status === 507) count.refused++;
    if (answer.status === 507) return 'full';
    expect([200, 201]).toContain(answer.status);
    return (await answer.json()) as { id: number };
  } catch (error) {
    if (error instanceof TypeError) return 'gone';
    throw error;
  }
}

/**
 * After some number of changes of jobs (so that slow machines are killed at work, too) and a moment.
 * A job is given up after three crashes, so no runner is killed a third time under the same job: the
 * server is, instead. It is also given up after twenty lost runners, which a busy machine brings about
 * for the job that is always first: one that was lost fifteen times may end before the next kill.
 * Gives whether the server is dead.
 */
async function killAtRandom(
  server: Server,
  random: () => number,
  victim: (typeof victims)[number],
): Promise<boolean> {
  const before = server.output().split('\njob ').length;
  const changes = Math.floor(random() * 9);
  const moment = random() * 120;
  let patience = 250;
  await until(() => server.output().split('\njob ').length > before + changes || patience-- <= 0);
  await new Promise((resolve) => setTimeout(resolve, moment));
  const spared = victim === 'runner' && worst('tries') > 1;
  count[spared ? 'server' : victim]++;
  if (victim !== 'server' && !spared)
    for (const child of childrenOf(server.process.pid!)) kill(child);
  if (victim === 'runner' && !spared) return false;
  expect(await server.end('SIGKILL')).toBe('SIGKILL');
  return true;
}

function childrenOf(pid: number): number[] {
  const text = readFileSync(`/proc/${pid}/task/${pid}/children`, 'utf8');
  return text.split(' ').filter(Boolean).map(Number);
}

function kill(pid: number): void {
  try {
    process.kill(pid, 'SIGKILL');
  } catch {
    // It had ended by itself.
  }
}

/** The most crashes, or lost runners, that a job that has not ended has had. */
function worst(what: 'tries' | 'losses'): number {
  const db = readDatabase(folder);
  const [row] = db.rows(`select coalesce(max(${what}), 0) as n from jobs where ended is null`);
  db.close();
  return Number(row!['n']);
}

/** Between two services: the database is whole, all that it names is there. */
async function expectClean(): Promise<void> {
  const { refused, damaged, missing, quarantined } = await examine(folder);
  expect({ refused, damaged, missing, quarantined }).toEqual({
    ...{ refused: undefined, damaged: [], missing: [], quarantined: [] },
  });
}

function counts(): { waiting: number; running: number } {
  const db = readDatabase(folder);
  const of = (state: string): number =>
    Number(db.rows('select count(*) as n from jobs where state = ?', state)[0]!['n']);
  const result = { waiting: of('waiting'), running: of('running') };
  db.close();
  return result;
}

async function expectAll(accepted: ReadonlyMap<string, number>, program: string): Promise<void> {
  const found = await examine(folder);
  expect(isWell(found), JSON.stringify(found)).toBe(true);
  const db = readDatabase(folder);
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
  for (const name of ['work', 'incoming']) expect(readdirSync(join(folder, name))).toEqual([]);
}
