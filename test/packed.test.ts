/**
 * The package as another project gets it: packed, installed into an empty folder from the registry, used
 * by a strict program under each way of resolving modules, run on all threads and against a running
 * service. The programs are the examples of the guide.
 */
import { execFileSync, spawnSync } from 'node:child_process';
import {
  cpSync,
  existsSync,
  lstatSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  readdirSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import ts from 'typescript';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { writeStl } from '../lib/formats/write-mesh.js';
import { StepFile } from './formats/step-files.js';
import { cuboid } from './support/shapes.js';
import { serve } from './support/server.js';

const root = fileURLToPath(new URL('..', import.meta.url));
const folder = mkdtempSync(join(tmpdir(), 'tiltwright-packed-'));
const user = join(folder, 'user');
const home = join(user, 'node_modules/tiltwright');
afterAll(() => rmSync(folder, { recursive: true }));

/** What npm said while it installed. */
let said = '';

beforeAll(() => {
  const [packed] = JSON.parse(
    execFileSync('npm', ['pack', '--json', '--pack-destination', folder], {
      cwd: root,
      encoding: 'utf8',
      stdio: ['ignore', 'pipe', 'ignore'],
    }),
  ) as [{ filename: string }];
  mkdirSync(user);
  writeFileSync(join(user, 'package.json'), '{ "private": true, "type": "module" }');
  const words = ['install', '--no-audit', '--no-fund', '--prefer-offline'];
  const { status, stderr } = spawnSync('npm', [...words, join(folder, packed.filename)], {
    cwd: user,
    encoding: 'utf8',
  });
  said = stderr;
  if (status !== 0) throw new Error(stderr);
  // The one thing that a user's project has beside ours: types of Node.
  mkdirSync(join(user, 'node_modules/@types'), { recursive: true });
  for (const name of ['@types/node', 'undici-types'])
    if (!existsSync(join(user, 'node_modules', name)))
      symlinkSync(join(root, 'node_modules', name), join(user, 'node_modules', name));
  cpSync(join(root, 'samples/machines/table-table-ac.json'), join(user, 'machine.json'));
  cpSync(join(root, 'samples/materials/pla.json'), join(user, 'pla.json'));
  writeFileSync(join(user, 'elbow.stl'), writeStl(cuboid([8, 8, 4])));
  examples().forEach((text, i) => writeFileSync(join(user, `${NAMES[i]!}.ts`), text));
}, 600_000);

const NAMES = ['serial', 'pool', 'client', 'machine', 'proof'];

function examples(): string[] {
  const guide = readFileSync(join(root, 'cli/guide/library.md'), 'utf8');
  return [...guide.matchAll(/```ts\n([\s\S]*?)```/g)].map(([, text]) => text!);
}

test('the guide has an example for each way in', () => {
  expect(examples()).toHaveLength(NAMES.length);
});

describe.each([
  ['node16', ts.ModuleKind.Node16, ts.ModuleResolutionKind.Node16],
  ['nodenext', ts.ModuleKind.NodeNext, ts.ModuleResolutionKind.NodeNext],
  ['bundler', ts.ModuleKind.ESNext, ts.ModuleResolutionKind.Bundler],
])('resolved as %s', (_, module, moduleResolution) => {
  const options: ts.CompilerOptions = {
    ...{ module, moduleResolution },
    target: ts.ScriptTarget.ES2022,
    types: ['node'],
    strict: true,
    exactOptionalPropertyTypes: true,
    // Our own declarations are held to the same.
    skipLibCheck: false,
    noEmit: true,
  };

  test('strict programs compile, our declarations among them', () => {
    const host = { ...ts.createCompilerHost(options), getCurrentDirectory: () => user };
    const files = NAMES.map((name) => join(user, `${name}.ts`));
    const program = ts.createProgram(files, options, host);
    const problems = ts
      .getPreEmitDiagnostics(program)
      .map(
        (d) => `${d.file?.fileName ?? ''}: ${ts.flattenDiagnosticMessageText(d.messageText, '\n')}`,
      );
    expect(problems).toEqual([]);
  });
});

/** Runs an example as a program of the user's. */
function run(name: string, env: NodeJS.ProcessEnv = {}): ReturnType<typeof spawnSync> {
  const { outputText } = ts.transpileModule(readFileSync(join(user, `${name}.ts`), 'utf8'), {
    compilerOptions: { module: ts.ModuleKind.ESNext, target: ts.ScriptTarget.ES2022 },
  });
  writeFileSync(join(user, `${name}.js`), outputText);
  return spawnSync(process.execPath, [`${name}.js`], {
    cwd: user,
    encoding: 'utf8',
    env: { ...process.env, ...env },
  });
}

test('a block is sliced on the pool into a folder, and again from kept stages', () => {
  const done = run('pool');
  expect([done.status, done.stderr]).toEqual([0, '']);
  // One region; how many findings is for other tests.
  expect(done.stdout).toMatch(/^1 \d+\n$/);
  const result = join(user, 'elbow-result');
  for (const name of ['program.ngc', 'report.html', 'tiltwright-manifest.json'])
    expect(existsSync(join(result, name)), name).toBe(true);
  expect(readdirSync(join(user, 'kept')).length).toBeGreaterThan(0);
  const again = run('pool');
  expect(again.status).toBe(1);
  expect(again.stderr).toContain('"elbow-result" is there already');
});

test('without the kernel for STEP files one line says what to install', () => {
  const file = new StepFile();
  file.product('box', [file.box([0, 0, 0], [10, 20, 30])].flat());
  writeFileSync(join(user, 'box.step'), file.toString());
  const main = join(user, 'node_modules/tiltwright/dist/cli/main.js');
  const done = spawnSync(process.execPath, [main, 'inspect', join(user, 'box.step')], {
    cwd: user,
    encoding: 'utf8',
  });
  expect(done.status).toBe(1);
  expect(done.stderr.trim()).toMatch(
    /^step\/no-kernel: [^\n]*npm install occt-import-js \([^\n]*box\.step\)$/,
  );
});

test('what is not exported cannot be imported', () => {
  const done = spawnSync(
    process.execPath,
    ['--input-type=module', '-e', "await import('tiltwright/dist/lib/index.js')"],
    { cwd: user, encoding: 'utf8' },
  );
  expect(done.stderr).toContain('ERR_PACKAGE_PATH_NOT_EXPORTED');
});

test('it installs without a warning', () => {
  expect(said).not.toMatch(/warn/i);
});

/** Installed packages, and bytes of all files in them. */
function installed(): { packages: number; megabytes: number } {
  const folder = join(user, 'node_modules');
  const paths = readdirSync(folder, { recursive: true, encoding: 'utf8' });
  const files = paths.map((path) => join(folder, path)).filter((path) => lstatSync(path).isFile());
  return {
    packages: files.filter((p) => /node_modules\/(@[^/]+\/)?[^/]+\/package\.json$/.test(p)).length,
    megabytes: files.reduce((sum, path) => sum + lstatSync(path).size, 0) / 1e6,
  };
}

test('it is small', () => {
  const { packages, megabytes } = installed();
  // Measured: 101 packages, 36 MB; with all that the solid kernel and libsql bring, 142 and 101 MB.
  expect(megabytes).toBeLessThan(40);
  expect(packages).toBeLessThan(110);
});

test('nothing in it points at what is not there', () => {
  const files = readdirSync(home, { recursive: true, encoding: 'utf8' });
  expect(files.filter((path) => path.endsWith('.map'))).toEqual([]);
  const text = readFileSync(join(home, 'dist/lib/index.js'), 'utf8');
  expect(text).not.toContain('sourceMappingURL');
  for (const path of ['vendor/manifold-3d/LICENSE', 'schemas/job.schema.json', 'page/page.html'])
    expect(files).toContain(`dist/${path}`);
});

/** Whether this Node brings an SQLite that the job server takes: 3.51.3 or later. */
const hasSqlite = (process.versions['sqlite'] ?? '')
  .split('.')
  .map(Number)
  .some((n, i, all) => i === 1 && (all[0]! > 3 || n > 51 || (n === 51 && all[2]! >= 3)));

test.skipIf(hasSqlite)('where Node brings no SQLite, one line says what to install', async () => {
  const program = join(home, 'dist/cli/main.js');
  await expect(serve(join(folder, 'none'), [], { program })).rejects.toThrow(
    /^exit 1: data\/no-engine: [^\n]*npm install libsql[^\n]*\n$/,
  );
});

test('the client has the block sliced by the service of the package', async () => {
  // What the line says, from the packages that are here.
  if (!hasSqlite) symlinkSync(join(root, 'node_modules/libsql'), join(user, 'node_modules/libsql'));
  const program = join(home, 'dist/cli/main.js');
  const server = await serve(join(folder, 'data'), [], { program });
  try {
    const done = run('client', { TILTWRIGHT_SERVER: server.url });
    expect([done.status, done.stderr]).toEqual([0, '']);
    expect(done.stdout).toMatch(/^(waiting\n)?running\n(progress\n)*finished\n$/);
    expect(readFileSync(join(user, 'elbow.ngc'), 'utf8')).toContain('G1 ');
  } finally {
    await server.end('SIGTERM');
  }
}, 300_000);
