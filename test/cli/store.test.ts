/** The data folder between processes: one writes, others ask it or read; the commands `store` and `token`. */
import { execFile } from 'node:child_process';
import {
  existsSync,
  mkdtempSync,
  readFileSync,
  readdirSync,
  rmSync,
  truncateSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { afterAll, expect, test } from 'vitest';
import { writeStl } from '../../lib/formats/write-mesh.js';
import { readDatabase } from '../../worker/store/database.js';
import { type Server, command, serve, until } from '../support/server.js';
import { cuboid } from '../support/shapes.js';

const main = fileURLToPath(new URL('../../dist/cli/main.js', import.meta.url));
const top = mkdtempSync(join(tmpdir(), 'tiltwright-store-'));
const folder = join(top, 'data');
afterAll(() => rmSync(top, { recursive: true }));

const run = (...words: string[]): ReturnType<typeof command> =>
  command('', ...words, '--data', folder);
const settings = {
  regions: { directions: 40, effort: 4, lean: 0 },
  layers: { thickness: 0.3 },
  check: false,
};
async function post(url: string, path: string, body: unknown): Promise<{ id: number | string }> {
  const mesh = body instanceof Uint8Array;
  const type = mesh ? 'application/octet-stream' : 'application/json';
  const init = { method: 'POST', headers: { 'content-type': type } };
  const answer = await fetch(url + path, {
    ...init,
    body: (mesh ? body : JSON.stringify(body)) as never,
  });
  expect(answer.status).toBe(201);
  return (await answer.json()) as { id: number };
}
async function submit(server: Server, count: number): Promise<void> {
  const { id: part } = await post(
    server.url,
    '/v1/parts?name=cube.stl',
    writeStl(cuboid([10, 10, 6])),
  );
  const job = { part, machine: 'table-table-ac', material: 'pla', settings };
  for (let i = 0; i < count; i++) await post(server.url, '/v1/jobs', job);
}

test('while a service runs: tokens through it, backups beside it, everything else waits', async () => {
  expect(run('token', 'add', 'before').out).toMatch(/^[\w-]{43}\n$/);
  const server = await serve(folder);
  await submit(server, 3);
  // Commands run while this process answers nothing: only the service can have written.
  const token = run('token', 'add', 'tablet').out.trim();
  expect(token).toMatch(/^[\w-]{43}$/);
  expect(run('token', 'add', 'tablet')).toMatchObject({
    status: 1,
    err: expect.stringMatching(/^token\/known: /),
  });
  expect(run('token', 'list').out).toBe('before\ntablet\n');
  expect([run('token', 'remove', 'before').status, run('token', 'list').out]).toEqual([
    0,
    'tablet\n',
  ]);
  expect(readdirSync(join(folder, 'asks'))).toEqual([]);
  const reader = readDatabase(folder);
  expect(JSON.stringify(reader.rows('select * from tokens'))).not.toContain(token);
  reader.close();

  for (const words of [
    ['store', 'doctor'],
    ['store', 'doctor', '--adopt'],
    ['serve', '--port', '0'],
  ])
    expect(run(...words)).toMatchObject({
      status: 1,
      err: expect.stringMatching(/^data\/in-use: /),
    });
  expect(run('store', 'restore', join(top, 'nothing')).err).toMatch(/^backup\/none: /);
  const backup = run('store', 'backup', join(top, 'backup'));
  expect([backup.status, backup.err]).toEqual([0, '']);
  expect(run('store', 'backup', join(top, 'backup')).err).toMatch(/^backup\/not-empty: /);
  await until(() => server.output().includes('job 3 finished'));
  expect(await server.end('SIGTERM')).toBe(0);
  expect(run('store', 'doctor')).toMatchObject({
    status: 0,
    out: expect.stringMatching(/jobs: 3 finished\n.*\nall is well\n$/s),
  });
});

test('tokens asked for by many processes at once, and by none twice', async () => {
  const server = await serve(folder);
  const ask = (name: string): Promise<string> =>
    promisify(execFile)(process.execPath, [main, 'token', 'add', name, '--data', folder]).then(
      ({ stdout }) => stdout,
      ({ stderr }: { stderr: string }) => stderr,
    );
  const answers = await Promise.all(['a', 'b', 'c', 'a', 'b', 'c'].map(ask));
  expect(answers.filter((text) => text.startsWith('token/known')).length).toBe(3);
  expect(new Set(answers.filter((text) => /^[\w-]{43}\n$/.test(text))).size).toBe(3);
  expect(run('token', 'list').out).toBe('a\nb\nc\ntablet\n');
  await server.end('SIGKILL');
  expect(run('token', 'list').out).toBe('a\nb\nc\ntablet\n');
});

test('serve refuses a store that lost its database; doctor goes on with what is there', async () => {
  for (const end of ['', '-wal', '-shm'])
    rmSync(join(folder, `tiltwright.db${end}`), { force: true });
  const kept = readdirSync(join(folder, 'results')).sort();
  expect(kept).toEqual(['1-1', '2-1', '3-1']);
  await expect(serve(folder)).rejects.toThrow(/exit 1: data\/mismatch: .*is absent.*store doctor/);
  writeFileSync(join(folder, 'tiltwright.db'), '');
  await expect(serve(folder)).rejects.toThrow(/exit 1: data\/mismatch: .*is empty/);
  truncateSync(join(folder, 'tiltwright.db'));
  expect(readdirSync(join(folder, 'results')).sort()).toEqual(kept);
  const sick = run('store', 'doctor');
  expect([sick.status, sick.out.match(/can be taken in/g)?.length]).toEqual([3, 3]);
  const cured = run('store', 'doctor', '--adopt');
  expect(cured.out).toMatch(/job 1 .*taken in.*job 3 .*taken in.*jobs: 3 finished.*in quarantine/s);
  const server = await serve(folder);
  const files = (await (await fetch(`${server.url}/v1/jobs/2/files`)).json()) as {
    files: { name: string }[];
  };
  expect(files.files.map((f) => f.name)).toContain('program.ngc');
  const program = await (await fetch(`${server.url}/v1/jobs/2/files/program.ngc`)).text();
  expect(program).toBe(readFileSync(join(folder, 'results/2-1/program.ngc'), 'utf8'));
  expect(await server.end('SIGTERM')).toBe(0);
});

test('a backup restores to a store that serves the same results', async () => {
  const data = join(top, 'restored');
  expect(command('', 'store', 'restore', join(top, 'backup'), '--data', data).status).toBe(0);
  const server = await serve(data);
  const finished = async (): Promise<unknown[]> => {
    const answer = await fetch(`${server.url}/v1/jobs?state=finished`);
    return ((await answer.json()) as { jobs: unknown[] }).jobs;
  };
  await until(async () => (await finished()).length === 3);
  expect(await server.end('SIGTERM')).toBe(0);
  for (const name of readdirSync(join(data, 'results')))
    expect(existsSync(join(data, 'results', name, 'program.ngc'))).toBe(true);
});
