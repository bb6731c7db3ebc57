/**
 * The queue of the embedded store by its contract: one owner at a time, leases, tries, taking back.
 * Expected values are the contract's own words (three tries, pauses that grow); there is no outside
 * source for them.
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { type Db, openDatabase } from '../../worker/store/database.js';
import { EmbeddedQueue } from '../../worker/store/embedded.js';
import { Folder, makeFolders } from '../../worker/store/folder.js';
import { Jobs } from '../../worker/store/jobs.js';
import { Journal } from '../../worker/store/journal.js';
import { openData } from '../../worker/store/data.js';
import type { Order } from '../../worker/store/job.js';
import { Parts } from '../../worker/store/parts.js';
import { Tokens } from '../../worker/store/tokens.js';

const order = (name: string, priority = 0): Order => ({
  name,
  part: 'a'.repeat(64),
  partName: 'elbow.stl',
  machine: { name: 'A-C' },
  material: { name: 'PLA' },
  settings: {},
  priority,
});
const result = {
  summary: { regions: 1, seconds: 1, massG: 1, unsupportedMm2: 0, errors: 0, warnings: 0 },
  files: [{ name: 'program.ngc', bytes: 5 }],
};
const crash = { code: 'job/crashed', message: 'it crashed' };

let folder: string;
let db: Db;
/** What the machine's clock says, and what a clock says that nobody sets. */
let now: number;
let clock: number;
let journal: Journal;
let jobs: Jobs;
let queue: EmbeddedQueue;

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'tiltwright-store-'));
  db = openDatabase(folder);
  now = Date.UTC(2026, 2, 20);
  clock = 1000;
  journal = new Journal(db, () => now);
  jobs = new Jobs(journal);
  queue = newQueue();
});

const times = { leaseMs: 10_000, pauseMs: 1000 };
const newQueue = (): EmbeddedQueue => new EmbeddedQueue(journal, times, () => clock);
const pass = (ms: number): void => {
  now += ms;
  clock += ms;
};

afterEach(() => {
  db.close();
  rmSync(folder, { recursive: true });
});

describe('queue', () => {
  test('the highest priority first, then the oldest; each job to one owner', async () => {
    for (const [name, priority] of [
      ['cap', 0],
      ['elbow', 5],
      ['node', 0],
    ] as const)
      jobs.submit(order(name, priority));
    const names = [];
    for (const owner of ['one', 'two', 'one', 'two'])
      names.push((await queue.claim(owner))?.order.name);
    expect(names).toEqual(['elbow', 'cap', 'node', undefined]);
  });

  test('only the hold itself changes a running job', async () => {
    jobs.submit(order('cap'));
    const { hold } = (await queue.claim('one'))!;
    for (const other of [
      { ...hold, owner: 'two' },
      { ...hold, attempt: hold.attempt + 1 },
    ]) {
      expect(await queue.renew(other)).toBe(false);
      expect(await queue.finish(other, result)).toBe(false);
      expect(await queue.fail(other, crash)).toBe(false);
      expect(await queue.again(other, crash)).toBe(false);
      expect(await queue.release(other, 0)).toBe(false);
    }
    expect(await queue.finish(hold, result)).toBe(true);
    expect(await queue.finish(hold, result)).toBe(false);
    expect(jobs.show(hold.id)).toMatchObject({ state: 'finished', summary: result.summary });
    expect(jobs.files(hold.id)).toEqual(result.files);
  });

  test('a lease that ran out is taken back once; the old hold is worth nothing', async () => {
    jobs.submit(order('cap'));
    const { hold } = (await queue.claim('one'))!;
    pass(9_000);
    expect(await queue.takeBack()).toBe(0);
    expect(await queue.renew(hold)).toBe(true);
    pass(9_000);
    expect(await queue.takeBack()).toBe(0);
    pass(1_001);
    expect(await queue.takeBack()).toBe(1);
    expect(await queue.takeBack()).toBe(0);
    expect(await queue.finish(hold, result)).toBe(false);
    const next = (await queue.claim('two'))!;
    expect(next.hold).toMatchObject({ id: hold.id, attempt: hold.attempt + 1 });
  });

  test('three tries with pauses that grow, then failed with the reason', async () => {
    jobs.submit(order('cap'));
    const pauses = [];
    for (let i = 0; i < 2; i++) {
      await queue.again((await queue.claim('one'))!.hold, crash);
      const { due } = jobs.show(1)!;
      pauses.push(due! - now);
      pass(due! - now - 1);
      expect(await queue.claim('one')).toBeUndefined();
      pass(1);
    }
    await queue.again((await queue.claim('one'))!.hold, crash);
    expect(pauses[1]).toBeGreaterThan(pauses[0]!);
    expect(jobs.show(1)).toMatchObject({ state: 'failed', tries: 3, reason: { code: crash.code } });
    expect(jobs.show(1)!.reason!.message).toContain('it crashed');
  });

  test('losing its runner uses up no try, but not for ever', async () => {
    jobs.submit(order('cap'));
    let losses = 0;
    while (jobs.show(1)!.state !== 'failed') {
      pass(Math.max(0, jobs.show(1)!.due! - now));
      expect(await queue.claim(`runner ${losses}`)).toBeDefined();
      pass(10_001);
      losses += await queue.takeBack();
      expect(losses).toBeLessThan(100);
    }
    expect(jobs.show(1)).toMatchObject({ tries: 0, losses });
    expect(losses).toBeGreaterThan(3);
  });

  test('cancelling ends a waiting job and a running one; its runner learns it', async () => {
    jobs.submit(order('cap'));
    jobs.submit(order('elbow'));
    const { hold } = (await queue.claim('one'))!;
    const heard: string[] = [];
    queue.onChange((what) => heard.push(what));
    expect([jobs.cancel(1), jobs.cancel(2), jobs.cancel(2)]).toEqual([true, true, false]);
    expect(heard).toEqual(['lost', 'lost']);
    expect(await queue.finish(hold, result)).toBe(false);
    expect(jobs.counts()).toMatchObject({ cancelled: 2 });
  });
});

describe.each([
  ['two hours', 2],
  ['a day', 24],
])('the clock of the machine is set by %s', (_name, hours) => {
  const jumps = [hours * 3_600_000, -hours * 3_600_000];

  test.each(jumps)('a lease lasts as long as before (%d ms)', async (jump) => {
    jobs.submit(order('cap'));
    const { hold } = (await queue.claim('one'))!;
    pass(9_000);
    now += jump;
    expect(await queue.takeBack()).toBe(0);
    expect(await queue.renew(hold)).toBe(true);
    pass(9_000);
    expect(await queue.takeBack()).toBe(0);
    // Neither longer: a runner that is silent for its lease has lost the job.
    pass(1_001);
    expect(await queue.takeBack()).toBe(1);
  });

  test.each(jumps)('a pause lasts as long as before (%d ms)', async (jump) => {
    jobs.submit(order('cap'));
    await queue.again((await queue.claim('one'))!.hold, crash);
    now += jump;
    pass(999);
    expect(await queue.claim('one')).toBeUndefined();
    pass(1);
    expect(await queue.claim('one')).toBeDefined();
  });

  test.each(jumps)('a job submitted before starts at once (%d ms)', async (jump) => {
    jobs.submit(order('cap'));
    now += jump;
    expect(await queue.claim('one')).toBeDefined();
  });

  test.each(jumps)(
    'between two runs of the service no job waits over a minute (%d ms)',
    async (jump) => {
      jobs.submit(order('cap'));
      jobs.submit(order('elbow'));
      await queue.release((await queue.claim('one'))!.hold, 5000, crash);
      expect((await queue.claim('one'))!.hold.id).toBe(2);
      now += jump;
      queue = newQueue();
      queue.takeOver();
      expect(jobs.show(1)!.due! - now).toBeLessThanOrEqual(60_000);
      pass(60_000);
      expect([await queue.claim('two'), await queue.claim('two')]).toMatchObject([
        { hold: { id: 1 } },
        { hold: { id: 2 } },
      ]);
    },
  );
});

test('a folder of the first version keeps its jobs', () => {
  jobs.submit(order('cap'));
  for (const sql of [
    'drop index jobs_token',
    'alter table jobs drop column token',
    'alter table jobs add column lease integer',
    'drop table holdings',
    'drop table sessions',
    'alter table files drop column sha256',
    'drop table store',
    `alter table jobs add column machine text not null default ''`,
    `alter table jobs add column material text not null default ''`,
    `alter table jobs add column settings text not null default ''`,
    `update jobs set (machine, material, settings) =
       (select machine, material, settings from orders where job = id)`,
    'drop table orders',
  ])
    db.run(sql);
  db.rows('pragma user_version = 1');
  db.close();
  db = openDatabase(folder);
  expect(new Jobs(new Journal(db)).submit(order('elbow')).job.id).toBe(2);
  expect(new Jobs(new Journal(db)).show(1)).toMatchObject({ state: 'waiting', name: 'cap' });
  expect(new Jobs(new Journal(db)).order(1)).toEqual(order('cap'));
});

test('what lists are read from holds short names alone; the order has its files in full', () => {
  const long = 'N'.repeat(100_000);
  const { id } = jobs.submit({ ...order('cap'), machine: { name: long } }).job;
  expect(jobs.list({ limit: 1 })[0]!.machineName).toBe('N'.repeat(200));
  expect(jobs.order(id)!.machine).toEqual({ name: long });
  const bytes = db.rows('select * from jobs where id = ?', id)[0]!;
  expect(JSON.stringify(bytes).length).toBeLessThan(2000);
});

test('no part goes before its day is over by a clock that nobody sets', async () => {
  makeFolders(folder);
  const data = new Folder(folder, 'store');
  const parts = new Parts(db, data, () => clock);
  const bring = async (): Promise<string> => {
    const received = await parts.receive(Readable.from([Buffer.from('solid')]), 100);
    const about = { name: 'cap.stl', format: 'stl', inspection: {} };
    return (await parts.keep(received, about, now)).id;
  };
  const id = await bring();
  now += 25 * 3_600_000;
  await parts.sweep(now);
  expect(parts.show(id)).toBeDefined();
  pass(25 * 3_600_000);
  await parts.sweep(now);
  expect(parts.show(id)).toBeUndefined();
});

describe('submissions', () => {
  test('a key brings one job however often it is sent, and refuses another order', () => {
    const key = { key: 'k', digest: 'd' };
    const first = jobs.submit(order('cap'), key);
    expect(jobs.submit(order('cap'), key)).toEqual({ ...first, fresh: false });
    expect(() => jobs.submit(order('cap'), { key: 'k', digest: 'e' })).toThrowError(
      expect.objectContaining({ code: 'job/key-reused' }),
    );
    expect(jobs.counts().waiting).toBe(1);
  });

  test('pages meet without gap or repetition while jobs come in', () => {
    for (let i = 0; i < 25; i++) jobs.submit(order(`cap ${i}`));
    const seen: number[] = [];
    for (let before: number | undefined; ; before = seen.at(-1)!) {
      const page = jobs.list({ limit: 10, ...(before ? { before } : {}) });
      if (page.length === 0) break;
      seen.push(...page.map((j) => j.id));
      jobs.submit(order('late'));
    }
    expect(seen).toEqual(Array.from({ length: 25 }, (_, i) => 25 - i));
  });

  test('removal takes an ended job alone', async () => {
    jobs.submit(order('cap'));
    expect(jobs.remove(1)).toBe(false);
    await queue.finish((await queue.claim('one'))!.hold, result);
    expect(jobs.remove(1)).toBe(true);
    expect([jobs.show(1), jobs.files(1)]).toEqual([undefined, []]);
  });
});

test('events are numbered in the order of the changes, and heard once they are kept', async () => {
  const heard: number[] = [];
  journal.onEvent((event) => {
    expect(journal.after(event.seq - 1, 1)).toEqual([event]);
    heard.push(event.seq);
  });
  jobs.submit(order('cap'));
  const { hold } = (await queue.claim('one'))!;
  await queue.progress(hold, { stage: 'layers', done: 1, total: 2, share: 0.3 });
  await queue.finish(hold, result);
  expect(heard).toEqual([1, 2, 3, 4]);
  // Progress of a job that has ended is dropped; the rest stays for those who resume.
  expect(journal.after(0, 10).map((e) => e.kind)).toEqual(['waiting', 'running', 'finished']);
});

test('listeners hear events in order, also when one of them makes the next', () => {
  const heard: string[] = [];
  journal.onEvent(({ job, kind }) => void (kind === 'waiting' && jobs.cancel(job)));
  journal.onEvent(({ kind }) => void heard.push(kind));
  jobs.submit(order('cap'));
  expect(heard).toEqual(['waiting', 'cancelled']);
});

test('a change that fails half-way leaves neither state nor event', () => {
  expect(() =>
    journal.change((note) => {
      db.run(`insert into tokens (name, hash, made) values ('a', 'b', 0)`);
      note(1, 'waiting');
      throw new Error('half-way');
    }),
  ).toThrow('half-way');
  expect([journal.last(), new Tokens(db).names()]).toEqual([0, []]);
});

test('tokens are stored as digests alone', () => {
  const tokens = new Tokens(db);
  const token = tokens.add('tablet', 0);
  expect(tokens.owner(token)).toBe('tablet');
  expect(tokens.owner(`${token}x`)).toBeUndefined();
  expect(JSON.stringify(db.rows('select * from tokens'))).not.toContain(token);
  tokens.remove('tablet');
  expect(tokens.owner(token)).toBeUndefined();
});

test('a data folder has one service', async () => {
  const path = mkdtempSync(join(tmpdir(), 'tiltwright-data-'));
  const data = await openData(path);
  await expect(openData(path)).rejects.toMatchObject({ code: 'data/in-use' });
  data.close();
  (await openData(path)).close();
  rmSync(path, { recursive: true });
});
