/**
 * Disks that take no more: what is asked is refused with a code that says so, what was accepted waits
 * and is done once there is room. A small file system in memory stands for the disk; where none can
 * be mounted, those tests are skipped and say so.
 */
import { spawnSync } from 'node:child_process';
import { chmodSync, existsSync, mkdtempSync, rmSync, statfsSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { Fault } from '../../lib/base/fault.js';
import { writeStl } from '../../lib/formats/write-mesh.js';
import { Trouble } from '../../worker/runner/trouble.js';
import { serve, until } from '../support/server.js';
import { quick, startTestService } from '../support/service.js';
import { cuboid } from '../support/shapes.js';

const cube = writeStl(cuboid([10, 10, 6]));
const mounts = (at: string): boolean =>
  spawnSync('mount', ['-t', 'tmpfs', '-o', 'size=8m', 'tmpfs', at]).status === 0;

const probe = mkdtempSync(join(tmpdir(), 'tiltwright-probe-'));
const canMount = mounts(probe);
if (canMount) spawnSync('umount', [probe]);
rmSync(probe, { recursive: true });

describe.skipIf(!canMount)(`full disk${canMount ? '' : ' SKIPPED: no right to mount'}`, () => {
  let folder: string;
  let service: Awaited<ReturnType<typeof startTestService>>;
  beforeEach(async () => {
    folder = mkdtempSync(join(tmpdir(), 'tiltwright-disk-'));
    expect(mounts(folder)).toBe(true);
    service = await startTestService({}, folder);
  });
  afterEach(async () => {
    await service.stop(0);
    service.context.data.close();
    // The driver lets go of its files a while after closing them.
    spawnSync('umount', ['-l', folder]);
    rmSync(folder, { recursive: true });
  });

  /** Leaves so many bytes free. */
  const fill = (left: number): void => {
    const { bavail, bsize } = statfsSync(folder);
    writeFileSync(join(folder, 'filler'), new Uint8Array(Math.max(0, bavail * bsize - left)));
  };
  const free = (): void => rmSync(join(folder, 'filler'));

  test('uploads and submissions are refused, reading goes on, and room mends it', async () => {
    const { id: part } = (await service.upload(cube, 'cube.stl')).body;
    fill(0);
    const big = await service.upload(writeStl(cuboid([9, 9, 9])), 'other.stl');
    expect([big.status, big.body.error?.code]).toEqual([507, 'data/full']);
    // The log of the database takes a few more jobs before its room ends.
    const accepted: number[] = [];
    const refused = await until(async () => {
      const answer = await service.submit({ part, settings: quick });
      if (answer.status === 201) accepted.push(answer.body.id);
      return answer.status === 201 ? undefined : answer;
    });
    expect([refused.status, refused.body.error?.code]).toEqual([507, 'data/full']);
    expect((await service.call('/v1/jobs')).status).toBe(200);
    free();
    const { id } = (await service.submit({ part, settings: quick })).body;
    for (const job of [...accepted, id])
      expect(await service.ended(job)).toMatchObject({ state: 'finished' });
  });

  test('a result without room waits, the service says why, and nothing half-done stays', async () => {
    const { id: part } = (await service.upload(cube, 'cube.stl')).body;
    fill(150_000);
    // With its check the job has a page of results, some 700 kB.
    const settings = { ...quick, check: true };
    const { id } = (await service.submit({ part, settings })).body;
    const health = (): ReturnType<typeof service.call<{ trouble: { code: string } }>> =>
      service.call('/v1/health');
    const troubled = await until(async () => {
      const answer = await health();
      return answer.status === 503 ? answer : undefined;
    });
    expect(troubled.body.trouble.code).toBe('data/full');
    expect(service.context.data.jobs.show(id)!.ended).toBeUndefined();
    free();
    expect(await service.ended(id)).toMatchObject({ state: 'finished', tries: 0 });
    expect((await service.call('/v1/health')).status).toBe(200);
  });

  test('health mends without any job once there is room', async () => {
    const { id: part } = (await service.upload(cube, 'cube.stl')).body;
    fill(150_000);
    const settings = { ...quick, check: true };
    const { id } = (await service.submit({ part, settings })).body;
    const health = async (): Promise<number> => (await service.call('/v1/health')).status;
    await until(async () => (await health()) === 503);
    // To cancel a job takes room, too. Nobody looks at the disk meanwhile.
    free();
    service.context.data.jobs.cancel(id);
    fill(150_000);
    expect(await health()).toBe(503);
    free();
    await until(async () => (await health()) === 200);
  });
});

describe.skipIf(!canMount)('trouble of the disk', () => {
  let folder: string;
  let now: number;
  let trouble: Trouble;
  const full = new Fault('data/full', 'no room left');
  beforeEach(() => {
    folder = mkdtempSync(join(tmpdir(), 'tiltwright-trouble-'));
    expect(mounts(folder)).toBe(true);
    now = 0;
    trouble = new Trouble(folder, join(folder, 'probe'), () => now);
  });
  afterEach(() => {
    spawnSync('umount', [folder]);
    rmSync(folder, { recursive: true });
  });
  const leave = (left: number): void => {
    const filler = join(folder, 'filler');
    rmSync(filler, { force: true });
    const { bavail, bsize } = statfsSync(folder);
    writeFileSync(filler, new Uint8Array(Math.max(0, bavail * bsize - left)));
  };

  test('is over by itself once there is clearly more room, whatever the clock of pauses', () => {
    leave(150_000);
    trouble.met(full);
    now += 1000;
    expect([trouble.mayGoOn(), trouble.fault]).toEqual([false, full]);
    leave(500_000);
    now += 1000;
    // A little more room than before is no sign that the result fits.
    expect([trouble.mayGoOn(), trouble.fault]).toEqual([false, full]);
    leave(3_000_000);
    now += 1000;
    expect([trouble.mayGoOn(), trouble.fault]).toEqual([true, undefined]);
    expect(existsSync(join(folder, 'probe'))).toBe(false);
  });

  test('while it lasts a try is allowed after pauses that double', () => {
    leave(0);
    const tries: number[] = [];
    trouble.met(full);
    for (; tries.length < 4; now += 500)
      if (trouble.mayGoOn()) {
        tries.push(now);
        trouble.met(full);
      }
    expect(tries).toEqual([5000, 15_000, 35_000, 75_000]);
    expect(trouble.fault).toBe(full);
  });
});

describe('a folder that cannot be written to', () => {
  let folder: string;
  const root = process.getuid?.() === 0;
  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), 'tiltwright-read-only-'));
    chmodSync(folder, 0o555);
  });
  afterAll(() => rmSync(folder, { recursive: true }));

  test('the service does not start and says which folder', async () => {
    // Root may write everywhere, so the service runs as nobody.
    const start = serve(folder, [], root ? { uid: 65534 } : {});
    await expect(start).rejects.toThrow(/exit 1: data\/read-only: .*read-only-/);
  });
});
