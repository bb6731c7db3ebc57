/**
 * What a data folder lost, and what becomes of the rest: a store whose database is missing, empty, cut
 * or another's is refused, results are never removed, a backup brings all of it back, and results that
 * describe themselves are taken in again. On each SQLite engine of this runtime. Expected values are
 * the rules of worker/store; there is no outside source for them.
 */
import { createHash } from 'node:crypto';
import {
  cpSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  readdirSync,
  rmSync,
  truncateSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { writeAll } from '../../worker/disk.js';
import { adopt } from '../../worker/store/adopt.js';
import { backUp, restore } from '../../worker/store/backup.js';
import { type Data, openData } from '../../worker/store/data.js';
import { openDatabase, readDatabase } from '../../worker/store/database.js';
import { describe as describeResult } from '../../worker/store/describe.js';
import { examine, isWell } from '../../worker/store/doctor.js';
import { engines } from '../../worker/store/engine.js';
import type { Order } from '../../worker/store/job.js';
import type { Claim } from '../../worker/store/queue.js';

const bytes = 'solid part';
const part = createHash('sha256').update(bytes).digest('hex');
const order = (name: string): Order => ({
  name,
  part,
  partName: 'elbow.stl',
  machine: { name: 'A-C' },
  material: { name: 'PLA' },
  settings: { layers: 1 },
  priority: 0,
});
const summary = { regions: 1, seconds: 1, massG: 1, unsupportedMm2: 0, errors: 0, warnings: 0 };
const times = { leaseMs: 10_000, pauseMs: 0 };

describe.each(engines())('$name $version', (engine) => {
  let top: string;
  let folder: string;
  let data: Data | undefined;
  const at = (...names: string[]): string => join(folder, ...names);
  const open = async (): Promise<Data> => (data = await openData(folder, times, engine));
  const close = (): void => {
    data?.close();
    data = undefined;
  };
  /** What a kill leaves: a copy of the folder as it stands, with its log. */
  const killed = (): void => {
    const copy = join(top, 'copy');
    cpSync(folder, copy, { recursive: true });
    close();
    rmSync(folder, { recursive: true });
    cpSync(copy, folder, { recursive: true });
    rmSync(copy, { recursive: true });
  };
  const codeOf = (work: Promise<unknown>): Promise<unknown> =>
    work.then(
      () => 'opened',
      (error: { code: string }) => error.code,
    );
  const results = (): string[] => readdirSync(at('results')).sort();

  beforeEach(async () => {
    top = mkdtempSync(join(tmpdir(), 'tiltwright-lost-'));
    folder = join(top, 'data');
    const { parts } = await open();
    const received = await parts.receive([Buffer.from(bytes)] as never, 1000);
    await parts.keep(received, { name: 'elbow.stl', format: 'stl', inspection: {} }, Date.now());
  });
  afterEach(() => {
    close();
    rmSync(top, { recursive: true });
  });

  /** A claim with its result in its place, as the runner does it. */
  async function publish(): Promise<Claim> {
    const { queue, folder: place } = data!;
    const claim = (await queue.claim('one'))!;
    const out = place.result(claim.hold.id, claim.hold.attempt);
    mkdirSync(out);
    const marks = await writeAll(out, new Map([['program.ngc', `(${claim.order.name})\nM2\n`]]));
    const files = [...marks].map(([name, mark]) => ({ name, ...mark }));
    await describeResult(out, claim, { summary, files }, place.identity);
    return claim;
  }
  async function finish(): Promise<number> {
    const claim = await publish();
    const { id, attempt } = claim.hold;
    const told = readFileSync(at('results', `${id}-${attempt}`, 'program.ngc'));
    const sha256 = createHash('sha256').update(told).digest('hex');
    const files = [{ name: 'program.ngc', bytes: told.length, sha256 }];
    expect(await data!.queue.finish(claim.hold, { summary, files })).toBe(true);
    return id;
  }
  /** Three finished jobs, four that wait. */
  async function seven(): Promise<void> {
    for (let i = 1; i <= 7; i++) {
      const key = { key: `key ${i}`, digest: `${i}` };
      expect(data!.jobs.submit(order(`job ${i}`), key).job.id).toBe(i);
    }
    for (let i = 0; i < 3; i++) await finish();
  }

  describe('a store that does not match its folder is refused, and nothing in it changes', () => {
    const all = ['1-1', '2-1', '3-1'];
    const refused = async (why: RegExp): Promise<void> => {
      const before = results();
      await expect(openData(folder, times, engine)).rejects.toMatchObject({
        code: 'data/mismatch',
        message: expect.stringMatching(why),
      });
      expect([before, results()]).toEqual([all, all]);
      expect(existsSync(at('parts', part))).toBe(true);
      const { refused: told } = await examine(folder, engine);
      expect(told).toMatch(why);
    };
    beforeEach(seven);

    test('without its database', async () => {
      close();
      rmSync(at('tiltwright.db'));
      await refused(/tiltwright\.db is absent.*4 results and parts.*store doctor/s);
    });
    test('with an empty database', async () => {
      close();
      truncateSync(at('tiltwright.db'), 0);
      await refused(/tiltwright\.db is empty/);
    });
    test('with a database without tables', async () => {
      close();
      rmSync(at('tiltwright.db'));
      const blank = engine.open(at('tiltwright.db'));
      blank.exec('create table a (b); drop table a');
      blank.close();
      await refused(/ends at event 0 and the folder has seen event 13/);
    });
    test('with its log cut off', async () => {
      close();
      await open();
      for (let i = 8; i <= 11; i++) data!.jobs.submit(order(`job ${i}`));
      killed();
      truncateSync(at('tiltwright.db-wal'), 0);
      await refused(/the last 4 are lost/);
    });
    test('with an older copy of its database', async () => {
      close();
      cpSync(at('tiltwright.db'), join(top, 'old.db'));
      await open();
      data!.jobs.cancel(4);
      close();
      cpSync(join(top, 'old.db'), at('tiltwright.db'));
      await refused(/the last 1 are lost/);
    });
    test('with the database of another store', async () => {
      close();
      const other = join(top, 'other');
      (await openData(other, times, engine)).close();
      cpSync(join(other, 'tiltwright.db'), at('tiltwright.db'));
      await refused(/database is that of another store/);
    });
    test('without its card', async () => {
      close();
      rmSync(at('store.json'));
      await refused(/store\.json is absent/);
    });
  });

  test('a database that is no database is refused, and kept in quarantine by doctor --adopt', async () => {
    await seven();
    close();
    writeFileSync(at('tiltwright.db'), 'x'.repeat(5000));
    expect(await codeOf(openData(folder, times, engine))).toBe('data/damaged');
    expect((await adopt(folder, engine)).jobs).toEqual([1, 2, 3]);
    expect(readFileSync(at('quarantine/tiltwright.db'), 'utf8')).toBe('x'.repeat(5000));
    expect((await open()).jobs.counts()).toMatchObject({ finished: 3 });
  });

  test('a kill loses nothing; a result in its place whose end was not noted is finished', async () => {
    await seven();
    const { hold } = await publish();
    killed();
    expect((await open()).notes).toEqual([`job ${hold.id} had its result in place: finished`]);
    expect(data!.jobs.counts()).toMatchObject({ finished: 4, waiting: 3 });
    expect(results()).toEqual(['1-1', '2-1', '3-1', '4-1']);
    expect(data!.jobs.show(4)).toMatchObject({ losses: 0, summary });
    close();
    expect(isWell(await examine(folder, engine))).toBe(true);
  });

  test('what the store does not know goes to quarantine and is reported; what it knows is cleared', async () => {
    await seven();
    close();
    cpSync(at('results/3-1'), at('results/99-1'), { recursive: true });
    cpSync(at('results/3-1'), at('results/4-7'), { recursive: true });
    mkdirSync(at('results/family photos'));
    writeFileSync(at('parts/notes.txt'), 'mine');
    mkdirSync(at('work/4-1'));
    const { notes, jobs } = await open();
    expect(notes.map((n) => n.replace(/ is of no .* moved/, ' moved')).sort()).toEqual(
      ['results/4-7', 'results/99-1', 'results/family photos', 'parts/notes.txt']
        .map((name) => `${name} moved to quarantine/${name}`)
        .sort(),
    );
    expect(readFileSync(at('quarantine/parts/notes.txt'), 'utf8')).toBe('mine');
    expect([results(), readdirSync(at('work'))]).toEqual([['1-1', '2-1', '3-1'], []]);
    // Removed with its result not yet cleared: the store knows.
    cpSync(at('results/2-1'), join(top, '2-1'), { recursive: true });
    jobs.remove(2);
    close();
    expect((await open()).notes).toEqual([]);
    expect([existsSync(at('results/2-1')), readdirSync(at('quarantine/results')).length]).toEqual([
      false,
      3,
    ]);
    close();
    expect((await examine(folder, engine)).quarantined.length).toBe(4);
  });

  test('a missing result and a changed one are found; the service says so when it starts', async () => {
    await seven();
    close();
    rmSync(at('results/1-1'), { recursive: true });
    writeFileSync(at('results/2-1/program.ngc'), '(job 3)\nM2\n');
    const { missing } = await examine(folder, engine);
    expect(missing).toEqual([
      'results/1-1 is absent',
      'results/2-1/program.ngc does not have the digest that it was written with',
    ]);
    expect((await open()).notes).toEqual(['the result of job 1 is missing: results/1-1']);
  });

  test('doctor --adopt takes in what describes itself; numbers and keys are not given twice', async () => {
    await seven();
    const before = [1, 2, 3].map((id) => data!.jobs.show(id)!);
    const files = data!.jobs.files(2);
    close();
    for (const end of ['', '-wal', '-shm']) rmSync(at(`tiltwright.db${end}`), { force: true });
    expect((await examine(folder, engine)).adoptable).toEqual([
      ...['results/1-1', 'results/2-1', 'results/3-1'],
    ]);
    expect((await adopt(folder, engine)).jobs).toEqual([1, 2, 3]);
    expect(isWell(await examine(folder, engine))).toBe(true);
    const { jobs, journal } = await open();
    const plain = ({
      started: _s,
      ended: _e,
      ...job
    }: object & { started?: number; ended?: number }): object => job;
    expect([1, 2, 3].map((id) => plain(jobs.show(id)!))).toEqual(before.map(plain));
    expect([jobs.files(2), jobs.counts()]).toEqual([
      files,
      { ...jobs.counts(), finished: 3, waiting: 0 },
    ]);
    // Jobs 4 to 7 are lost, but their numbers are not given again; a key brings its job as before.
    expect(jobs.submit(order('new')).job.id).toBeGreaterThan(7);
    expect(jobs.submit(order('job 1'), { key: 'key 1', digest: '1' })).toMatchObject({
      fresh: false,
      job: { id: 1 },
    });
    expect(journal.last()).toBeGreaterThan(13);
    expect(readdirSync(at('parts'))).toEqual([part]);
  });

  test('doctor --adopt after a cut log: the jobs that are left go on, results of lost ones come back', async () => {
    await seven();
    close();
    await open();
    for (let i = 0; i < 4; i++) await finish();
    data!.jobs.submit(order('job 8'));
    await finish();
    killed();
    truncateSync(at('tiltwright.db-wal'), 0);
    expect((await adopt(folder, engine)).jobs).toEqual([4, 5, 6, 7, 8]);
    const { jobs } = await open();
    expect(jobs.counts()).toMatchObject({ finished: 8, waiting: 0 });
    expect(jobs.show(8)).toMatchObject({ name: 'job 8', state: 'finished' });
  });

  describe('backup', () => {
    const to = (): string => join(top, 'backup');

    test('of a store in use is consistent, and restores to the same store', async () => {
      await seven();
      const report = await backUp(folder, to(), engine);
      expect(report).toMatchObject({ jobs: 7, flaws: [] });
      // The service goes on meanwhile.
      await finish();
      const restored = join(top, 'restored');
      await restore(to(), restored);
      const copy = await openData(restored, times, engine);
      expect([copy.notes, copy.jobs.counts()]).toEqual([
        [],
        { ...copy.jobs.counts(), finished: 3, waiting: 4 },
      ]);
      expect(copy.folder.identity).toBe(data!.folder.identity);
      for (const id of [1, 2, 3]) expect(copy.jobs.show(id)).toEqual(data!.jobs.show(id));
      copy.close();
      expect(isWell(await examine(restored, engine))).toBe(true);
    });

    test('while jobs come, end and go: every restored store is well', async () => {
      await seven();
      for (let round = 0; round < 6; round++) {
        const going = backUp(folder, join(top, `backup ${round}`), engine);
        for (let i = 0; i < 5; i++) {
          const { id } = data!.jobs.submit(order(`round ${round}`)).job;
          const ended = await finish();
          if (i % 2 && data!.jobs.remove(ended))
            rmSync(at('results', `${ended}-1`), { recursive: true });
          expect(id).toBeGreaterThan(7);
        }
        expect((await going).flaws).toEqual([]);
        const restored = join(top, `restored ${round}`);
        await restore(join(top, `backup ${round}`), restored);
        expect(isWell(await examine(restored, engine))).toBe(true);
      }
    });

    test('refuses a folder that holds something, a folder without a store, and so does restoring', async () => {
      await seven();
      mkdirSync(to());
      writeFileSync(join(to(), 'letter.txt'), 'mine');
      expect(await codeOf(backUp(folder, to(), engine))).toBe('backup/not-empty');
      rmSync(to(), { recursive: true });
      expect(await codeOf(backUp(top, to(), engine))).toBe('store/none');
      expect(existsSync(to())).toBe(false);
      await backUp(folder, to(), engine);
      const before = results();
      expect(await codeOf(restore(to(), folder))).toBe('backup/not-empty');
      expect(results()).toEqual(before);
      expect(await codeOf(restore(folder, join(top, 'new')))).toBe('backup/none');
    });

    test('with a changed, missing or short file is refused before anything is written', async () => {
      await seven();
      await backUp(folder, to(), engine);
      const program = join(to(), 'results/2-1/program.ngc');
      const good = readFileSync(program);
      const restored = join(top, 'restored');
      for (const spoil of [
        () => writeFileSync(program, good.toString().replace('2', '3')),
        () => truncateSync(program, 3),
        () => rmSync(program),
      ]) {
        spoil();
        expect(await codeOf(restore(to(), restored))).toBe('backup/damaged');
        expect(existsSync(restored)).toBe(false);
        writeFileSync(program, good);
      }
      await restore(to(), restored);
    });

    test('a restore that was cut short opens as no store, and can be run again', async () => {
      await seven();
      await backUp(folder, to(), engine);
      const restored = join(top, 'restored');
      await restore(to(), restored);
      const { identity, date } = JSON.parse(readFileSync(join(to(), 'backup.json'), 'utf8')) as {
        identity: string;
        date: string;
      };
      writeFileSync(join(restored, 'restoring'), `${identity} ${date}\n`);
      rmSync(join(restored, 'tiltwright.db'));
      expect(await codeOf(openData(restored, times, engine))).toBe('data/half-restored');
      await restore(to(), restored);
      expect(isWell(await examine(restored, engine))).toBe(true);
    });

    test('says what the store itself lacks', async () => {
      await seven();
      rmSync(at('results/1-1/program.ngc'));
      writeFileSync(at('results/2-1/program.ngc'), '(job 3)\nM2\n');
      const { flaws } = await backUp(folder, to(), engine);
      expect(flaws).toEqual([
        'results/1-1/program.ngc is missing in the store',
        'results/2-1/program.ngc in the store does not have the digest that it was written with',
      ]);
    });
  });

  test('the log goes into the database when nothing happens', async () => {
    await seven();
    expect(readFileSync(at('tiltwright.db-wal')).length).toBeGreaterThan(0);
    for (let i = 0; readFileSync(at('tiltwright.db-wal')).length > 0; i++) {
      expect(i).toBeLessThan(300);
      await new Promise((resolve) => setTimeout(resolve, 100));
    }
    // From now on the database file by itself is the whole store.
    cpSync(at('tiltwright.db'), join(top, 'alone', 'tiltwright.db'));
    const alone = readDatabase(join(top, 'alone'), engine);
    expect(alone.rows('select count(*) as n from jobs')[0]!['n']).toBe(7);
    alone.close();
  });

  test('one process writes: a second is refused, a reader cannot write', async () => {
    expect(() => openDatabase(folder, engine)).toThrowError(
      expect.objectContaining({ code: 'data/in-use' }),
    );
    expect(await codeOf(examine(folder, engine))).toBe('data/in-use');
    expect(await codeOf(adopt(folder, engine))).toBe('data/in-use');
    const reader = readDatabase(folder, engine);
    expect(() => reader.run('delete from jobs')).toThrowError();
    reader.close();
  });
});

test('a store of one engine is the same store on the other', async () => {
  const [first, second] = engines();
  if (!second) return;
  const folder = mkdtempSync(join(tmpdir(), 'tiltwright-engines-'));
  for (const [i, engine] of [first!, second, first!, second].entries()) {
    const data = await openData(folder, times, engine);
    expect(data.jobs.submit(order(`job ${i}`)).job.id).toBe(i + 1);
    expect(data.jobs.counts().waiting).toBe(i + 1);
    data.close();
  }
  rmSync(folder, { recursive: true });
});
