/** The service and its clients as commands: submit, wait, list, fetch, cancel, stop, watched folder. */
import {
  chmodSync,
  chownSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  readdirSync,
  renameSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { spawnSync } from 'node:child_process';
import { networkInterfaces, tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { revolved } from '../../lib/mesh/make-solids.js';
import { writeStl, writeThreeMf } from '../../lib/formats/write-mesh.js';
import { type Server, command, serve, until } from '../support/server.js';
import { cuboid, postWithArm } from '../support/shapes.js';

const folder = mkdtempSync(join(tmpdir(), 'tiltwright-serve-'));
const watched = join(folder, 'watched');
const cube = join(folder, 'cube.stl');
const job = join(folder, 'job.json');
const settings = {
  regions: { directions: 40, effort: 4, lean: 0 },
  layers: { thickness: 0.3 },
  check: false,
};
const names = { machine: 'table-table-ac', material: 'pla' };

let server: Server;
beforeAll(async () => {
  mkdirSync(watched);
  writeFileSync(cube, writeStl(cuboid([10, 10, 6])));
  writeFileSync(job, JSON.stringify({ ...names, ...settings, part: 'cube.stl' }));
  server = await serve(join(folder, 'data'), [
    '--watch',
    watched,
    '--watch-settle',
    '0.3',
    '--watch-missing',
    '1',
  ]);
});
afterAll(async () => {
  await server.end('SIGKILL');
  rmSync(folder, { recursive: true });
});

test('submit --wait brings what slice writes, byte for byte', () => {
  const served = join(folder, 'served');
  const done = command(server.url, 'submit', '--job', job, '--wait', '--out', served);
  expect([done.status, done.err.includes('defect')]).toEqual([0, false]);
  const sliced = join(folder, 'sliced');
  const setUp = ['--machine', 'samples/machines/table-table-ac.json'];
  setUp.push('--material', 'samples/materials/pla.json');
  expect(command('', 'slice', '--job', job, ...setUp, '--out', sliced).status).toBe(0);
  expect(readdirSync(served).sort()).toEqual(readdirSync(sliced).sort());
  const program = (at: string): string => readFileSync(join(at, 'program.ngc'), 'utf8');
  expect(program(served)).toBe(program(sliced));
});

test('a machine with meshes in files beside it: the job carries them, bad ones are refused', () => {
  const at = (name: string): string => join(folder, name);
  const json = JSON.parse(readFileSync('samples/machines/table-table-ac.json', 'utf8')) as {
    head: { stack?: { above: number; radius: number }[]; boxes?: unknown; meshes: unknown[] };
  };
  const outline = json.head.stack!.map((p) => [p.radius, p.above] as const);
  const head = revolved([[[0, 0], ...outline, [0, outline.at(-1)![1]]]], 24);
  const named = (name: string, unit?: string): void => {
    const { stack, boxes, ...rest } = json.head;
    expect([stack!.length, boxes !== undefined]).toEqual([outline.length, true]);
    const meshes = [{ shape: 'file', name, ...(unit && { unit }) }];
    writeFileSync(at('drawn.json'), JSON.stringify({ ...json, head: { ...rest, meshes } }));
  };
  writeFileSync(at('head.stl'), writeStl(head));
  named('head.stl', 'millimetre');
  const drawn = JSON.parse(readFileSync(job, 'utf8')) as object;
  writeFileSync(at('drawn-job.json'), JSON.stringify({ ...drawn, machine: 'drawn.json' }));
  const how = ['--job', at('drawn-job.json')];
  const pla = ['--material', 'samples/materials/pla.json'];
  const done = command(server.url, 'submit', ...how, '--wait', '--out', at('served-mesh'));
  expect([done.status, done.err.includes('defect')]).toEqual([0, false]);
  expect(command('', 'slice', ...how, ...pla, '--out', at('sliced-mesh')).status).toBe(0);
  const program = (name: string): string => readFileSync(join(at(name), 'program.ngc'), 'utf8');
  expect(program('served-mesh')).toBe(program('sliced-mesh'));

  const refused = (name: string, unit?: string): string => {
    named(name, unit);
    const { status, err } = command('', 'slice', ...how, ...pla, '--out', at('never'));
    expect(status).toBe(1);
    return err.trimEnd().split('\n').at(-1)!;
  };
  const open = { ...head, triangles: head.triangles.slice(3) };
  writeFileSync(at('open.stl'), writeStl(open));
  writeFileSync(at('metre.3mf'), writeThreeMf([{ name: 'head', mesh: head }]));
  mkdirSync(at('machine'));
  symlinkSync(cube, at('machine/link.stl'));
  expect(refused('open.stl', 'millimetre')).toMatch(/^mesh\/open-edges: 3 /);
  expect(refused('head.stl')).toMatch(/^mesh\/unit: /);
  expect(refused('head.stl', 'inch')).toMatch(/^machine\/mesh: .*measures 2540 mm/);
  expect(refused('metre.3mf', 'metre')).toMatch(/^mesh\/unit: a 3MF file states its unit/);
  expect(refused('absent.stl', 'millimetre')).toMatch(
    /^file\/unreadable: .*absent.stl: there is no such file/,
  );
  expect(refused('../cube.stl', 'millimetre')).toMatch(
    /^machine\/bad-value: .*folder of the machine/,
  );
});

test('flags stand over the job file; a refusal is one line with its code and exit 1', () => {
  const done = command(server.url, 'submit', '--job', job, '--wait', '--place-scale', '50');
  expect(done.status).toBe(1);
  expect(done.err.trimEnd().split('\n').at(-1)).toMatch(/^place\/off-table: .*mm/);
  const listed = command(server.url, 'jobs', '--state', 'failed');
  expect(listed.out).toMatch(/failed .*place\/off-table/);
});

test('jobs, cancel and fetch name a job by its number', () => {
  const { id } = JSON.parse(command(server.url, 'submit', '--job', job, '--json').out) as {
    id: number;
  };
  const number = String(id);
  expect(command(server.url, 'cancel', number, '--remove').out).toBe(`job ${id} removed\n`);
  for (const words of [['jobs'], ['cancel'], ['fetch', '--out', join(folder, 'never')]]) {
    const done = command(server.url, ...words, number);
    expect([done.status, done.err]).toEqual([1, `job/unknown: there is no job ${id}\n`]);
  }
  expect(existsSync(join(folder, 'never'))).toBe(false);
  expect(command('http://127.0.0.1:9', 'jobs').err).toMatch(/^client\/unreachable: /);
});

describe('watched folder', () => {
  const entries = (name: string): string[] =>
    existsSync(join(watched, name)) ? readdirSync(join(watched, name)).sort() : [];

  test('takes a job with its mesh once both are whole, and moves nothing before', async () => {
    writeFileSync(
      join(watched, 'cap.json'),
      JSON.stringify({ ...names, ...settings, part: 'cap.stl' }),
    );
    const bytes = readFileSync(cube);
    const slow = join(watched, 'cap.stl');
    writeFileSync(slow, bytes.subarray(0, 300));
    for (let at = 300; at < bytes.length; at += 100) {
      await new Promise((resolve) => setTimeout(resolve, 150));
      expect([entries('accepted'), entries('refused')]).toEqual([[], []]);
      writeFileSync(slow, bytes.subarray(at, at + 100), { flag: 'a' });
    }
    await until(() => entries('accepted').length === 2);
    expect(entries('accepted').map((n) => n.replace(/^\d+/, 'n'))).toEqual([
      'n-cap.json',
      'n-cap.stl',
    ]);
  });

  test('refuses with a reason beside the file; paths and links lead nowhere', async () => {
    writeFileSync(join(watched, 'half.json'), '{"part": ');
    const path = { ...names, part: '../cube.stl' };
    const before = entries('refused').length;
    writeFileSync(join(watched, 'path.json'), JSON.stringify(path));
    await until(() => entries('refused').length === before + 4);
    const reason = (name: string): string => readFileSync(join(watched, 'refused', name), 'utf8');
    expect(reason('half.json.txt')).toMatch(/^file\/not-json: /);
    expect(reason('path.json.txt')).toMatch(/^job\/bad-value: .*part/);
    expect(existsSync(cube)).toBe(true);
  });

  test('a bad key moves the job file alone; the mended one finds its mesh', async () => {
    writeFileSync(join(watched, 'lid.stl'), readFileSync(cube));
    const bad = { ...names, ...settings, part: 'lid.stl', layers: { thicknes: 0.3 } };
    writeFileSync(join(watched, 'lid.json'), JSON.stringify(bad));
    await until(() => entries('refused').includes('lid.json.txt'));
    const reason = readFileSync(join(watched, 'refused/lid.json.txt'), 'utf8');
    expect(reason).toMatch(/^job\/unknown-key: .*thicknes/);
    expect(entries('.')).toContain('lid.stl');
    // Nothing chosen is nothing chosen, here too.
    const { material: _, ...half } = { ...names, ...settings, part: 'lid.stl' };
    writeFileSync(join(watched, 'lid.json'), JSON.stringify(half));
    // No refused file is replaced by a later one of its name.
    await until(() => entries('refused').includes('lid-2.json.txt'));
    expect(readFileSync(join(watched, 'refused/lid-2.json.txt'), 'utf8')).toMatch(
      /^job\/missing: no material given/,
    );
    writeFileSync(
      join(watched, 'lid.json'),
      JSON.stringify({ ...names, ...settings, part: 'lid.stl' }),
    );
    await until(() => entries('accepted').some((n) => n.endsWith('lid.stl')));
  });

  test('a part that does not come is named after the stated time', async () => {
    writeFileSync(join(watched, 'gone.json'), JSON.stringify({ ...names, part: 'gone.stl' }));
    await until(() => entries('refused').includes('gone.json.txt'));
    expect(readFileSync(join(watched, 'refused/gone.json.txt'), 'utf8')).toMatch(
      /^job\/part-missing: .*gone\.stl.* 1 s/,
    );
  });

  test('names of 250 characters work', async () => {
    const long = 'b'.repeat(246);
    writeFileSync(join(watched, `${long}.stl`), readFileSync(cube));
    const name = `${'a'.repeat(245)}.json`;
    writeFileSync(
      join(watched, name),
      JSON.stringify({ ...names, ...settings, part: `${long}.stl` }),
    );
    await until(() => entries('accepted').some((n) => /^\d+-b+\.stl$/.test(n)));
    const id = Number(
      entries('accepted')
        .find((n) => /^\d+-b+\.stl$/.test(n))!
        .split('-')[0],
    );
    await until(() => server.output().includes(`job ${id} finished`));
    writeFileSync(join(watched, `${'c'.repeat(245)}.json`), '{');
    await until(() => entries('refused').some((n) => /^c+\.json\.txt$/.test(n)));
  });

  test('what is too large or cannot be read is moved with the reason, and the next is taken', async () => {
    // Root reads everything, so the service runs as nobody.
    const own = join(folder, 'nobody');
    const place = join(own, 'watched');
    mkdirSync(place, { recursive: true });
    const write = (name: string, text: string | Uint8Array, mode = 0o644): void => {
      writeFileSync(join(place, name), text);
      chmodSync(join(place, name), mode);
    };
    write('a-locked.json', '{}', 0);
    write('b-locked.stl', readFileSync(cube), 0);
    write('b.json', JSON.stringify({ ...names, ...settings, part: 'b-locked.stl' }));
    write('c-large.json', new Uint8Array(1_100_000));
    write('d-large.stl', new Uint8Array(1_100_000));
    write('d.json', JSON.stringify({ ...names, ...settings, part: 'd-large.stl' }));
    write('e-fine.stl', readFileSync(cube));
    write('e.json', JSON.stringify({ ...names, ...settings, part: 'e-fine.stl' }));
    chmodSync(folder, 0o755);
    if (process.getuid?.() === 0)
      for (const at of [own, place, ...readdirSync(place).map((n) => join(place, n))])
        chownSync(at, 65534, 65534);
    const other = await serve(
      join(own, 'data'),
      ['--watch', place, '--watch-settle', '0.2', '--upload', '1'],
      process.getuid?.() === 0 ? { uid: 65534 } : {},
    );
    const moved = (name: string): string[] =>
      existsSync(join(place, name)) ? readdirSync(join(place, name)).sort() : [];
    await until(() => moved('accepted').length === 2);
    expect(moved('accepted')).toEqual(['1-e-fine.stl', '1-e.json']);
    const reason = (name: string): string =>
      readFileSync(join(place, 'refused', `${name}.txt`), 'utf8').split(':')[0]!;
    expect(
      ['a-locked.json', 'b.json', 'c-large.json', 'd.json'].map((name) => reason(name)),
    ).toEqual(['file/unreadable', 'file/unreadable', 'file/too-large', 'upload/too-large']);
    expect(moved('refused')).toContain('d-large.stl');
    await other.end('SIGKILL');
  });

  test('bare meshes are left alone without a standard job', async () => {
    writeFileSync(join(watched, 'bare.stl'), readFileSync(cube));
    writeFileSync(join(watched, 'last.json'), '{');
    await until(() => entries('refused').includes('last.json.txt'));
    expect(entries('.')).toContain('bare.stl');
    renameSync(join(watched, 'bare.stl'), join(folder, 'bare.stl'));
  });
});

test('jobs says that a job finished with errors, and lists them', () => {
  // The arm hangs in the air when all is built upwards.
  const arm = join(folder, 'arm.stl');
  writeFileSync(arm, writeStl(postWithArm(12, 24, 12, 8)));
  const words = [
    '--job',
    job,
    '--check-run',
    'true',
    '--regions-most',
    '1',
    '--regions-pose',
    'given',
  ];
  const done = command(server.url, 'submit', arm, ...words, '--wait');
  expect([done.status, done.out]).toEqual([
    3,
    expect.stringMatching(/^job \d+ finished, 2 errors\n/),
  ]);
  const id = /job (\d+)/.exec(done.out)![1]!;
  expect(command(server.url, 'jobs').out).toMatch(new RegExp(`${id}  finished, 2 errors  `));
  const { out } = command(server.url, 'jobs', id);
  expect(out).toMatch(/findings: 2 errors.*; exit 3/);
  expect(out).toMatch(/error: .*\[verify\/in-air-share\]/);
  // One figure for the time, as the summary of slice prints it.
  const { summary } = JSON.parse(command(server.url, 'jobs', id, '--json').out) as {
    summary: { seconds: number };
  };
  const s = Math.round(summary.seconds);
  expect(out).toContain(`${Math.floor(s / 60)} min ${s % 60} s`);
});

describe('serve beyond loopback', () => {
  test('its hint works as it is printed, and it prints every address that answers', async () => {
    const data = join(folder, 'open data');
    const flags = ['--host', '0.0.0.0'];
    const failed = await serve(data, flags).then(
      () => '',
      (error: Error) => error.message,
    );
    const hint = /make one first: (.*)$/m.exec(failed)![1]!;
    const made = spawnSync('sh', ['-c', hint], { encoding: 'utf8' });
    expect([made.status, made.stderr]).toEqual([0, '']);
    const open = await serve(data, flags);
    const own = Object.values(networkInterfaces())
      .flatMap((list) => list ?? [])
      .filter((a) => a.family === 'IPv4')
      .map((a) => a.address);
    const listed = (): string[] =>
      [...open.output().matchAll(/^listening at (\S+)$/gm)].map((m) => m[1]!);
    await until(() => listed().length >= own.length);
    const addresses = listed();
    expect(addresses.map((a) => new URL(a).hostname).sort()).toEqual(own.sort());
    const headers = { authorization: `Bearer ${made.stdout.trim()}` };
    for (const address of addresses) {
      expect((await fetch(`${address}/v1/jobs`, { headers })).status).toBe(200);
      expect((await fetch(`${address}/v1/jobs`)).status).toBe(401);
    }
    expect(await open.end('SIGTERM')).toBe(0);
  });
});

test('SIGTERM hands a running job back, which the next service finishes', async () => {
  const data = join(folder, 'stopped');
  const first = await serve(data, ['--grace', '0']);
  const words = ['submit', '--job', job, '--regions-effort', '40', '--layers-thickness', '0.1'];
  expect(command(first.url, ...words).status).toBe(0);
  await until(() => first.output().includes('job 1 running'));
  expect(await first.end('SIGTERM')).toBe(0);
  expect(first.output()).toMatch(/job 1 waiting\nstopped\n$/);
  const second = await serve(data);
  await until(() => second.output().includes('job 1 finished'));
  const { out } = command(second.url, 'jobs', '1', '--json');
  expect(JSON.parse(out)).toMatchObject({ state: 'finished', tries: 0, losses: 0 });
  expect(await second.end('SIGTERM')).toBe(0);
});
