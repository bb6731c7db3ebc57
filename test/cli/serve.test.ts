/** The service and its clients as commands: submit, wait, list, fetch, cancel, stop, watched folder. */
import {
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
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { revolved } from '../../lib/mesh/solids.js';
import { writeStl, writeThreeMf } from '../../lib/mesh/write.js';
import { type Server, command, serve, until } from '../support/server.js';
import { cuboid } from '../support/shapes.js';

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
  server = await serve(join(folder, 'data'), ['--watch', watched, '--watch-settle', '0.3']);
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
  expect(refused('head.stl', 'inch')).toMatch(/^machine\/mesh: .*is 2540 mm/);
  expect(refused('metre.3mf', 'metre')).toMatch(/^mesh\/unit: a 3MF file states its unit/);
  expect(refused('absent.stl', 'millimetre')).toMatch(/^file\/unreadable: .*absent.stl: ENOENT/);
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
    writeFileSync(join(watched, 'path.json'), JSON.stringify(path));
    await until(() => entries('refused').length === 4);
    const reason = (name: string): string => readFileSync(join(watched, 'refused', name), 'utf8');
    expect(reason('half.json.txt')).toMatch(/^file\/not-json: /);
    expect(reason('path.json.txt')).toMatch(/^job\/bad-value: .*part/);
    expect(existsSync(cube)).toBe(true);
  });

  test('bare meshes are left alone without a standard job', async () => {
    writeFileSync(join(watched, 'bare.stl'), readFileSync(cube));
    writeFileSync(join(watched, 'last.json'), '{');
    await until(() => entries('refused').includes('last.json.txt'));
    expect(entries('.')).toContain('bare.stl');
    renameSync(join(watched, 'bare.stl'), join(folder, 'bare.stl'));
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
