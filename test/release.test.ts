/**
 * The release script, on a small package in a repository of its own. New versions are those of Semantic
 * Versioning 2.0.0, items 6 to 8.
 */
import { spawnSync } from 'node:child_process';
import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  readdirSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeEach, expect, test } from 'vitest';

const script = fileURLToPath(new URL('../.config/release.js', import.meta.url));
const base = mkdtempSync(join(tmpdir(), 'tiltwright-release-'));
afterAll(() => rmSync(base, { recursive: true }));

let count = 0;
let folder = '';

const FILES: Readonly<Record<string, string>> = {
  'package.json': `${JSON.stringify({
    name: 'hose-clip',
    version: '0.1.0',
    license: 'MIT',
    type: 'module',
    files: ['main.js', 'main.d.ts', 'dist'],
    exports: { '.': { types: './main.d.ts', default: './main.js' } },
    scripts: { build: 'node --check main.js' },
  })}\n`,
  'package-lock.json': `${JSON.stringify({
    name: 'hose-clip',
    version: '0.1.0',
    lockfileVersion: 3,
    packages: { '': { name: 'hose-clip', version: '0.1.0' } },
  })}\n`,
  'main.js': 'export const turns = 3;\n',
  'main.d.ts': 'export declare const turns: number;\n',
  '.gitignore': 'out/\ndist/\n',
  'CITATION.cff': 'title: hose-clip\nversion: 0.1.0\ndate-released: 2026-01-01\n',
  'cli/guide/changes.md': '# Changes\n\n## Unreleased\n\n- Clips turn.\n\n## 0.1.0\n\n- First.\n',
};

const git = (...args: string[]): string =>
  spawnSync('git', ['-c', 'user.name=A', '-c', 'user.email=a@example.org', ...args], {
    cwd: folder,
    encoding: 'utf8',
  }).stdout;
const read = (file: string): string => readFileSync(join(folder, file), 'utf8');
const versionOf = (file: string): string => (JSON.parse(read(file)) as { version: string }).version;

function release(...args: string[]): { status: number | null; stdout: string; stderr: string } {
  return spawnSync(process.execPath, [script, ...args], {
    cwd: folder,
    encoding: 'utf8',
    env: {
      ...process.env,
      ...Object.fromEntries(
        ['AUTHOR', 'COMMITTER'].flatMap((who) => [
          [`GIT_${who}_NAME`, 'A'],
          [`GIT_${who}_EMAIL`, 'a@example.org'],
        ]),
      ),
    },
  });
}

function write(file: string, text: string): void {
  writeFileSync(join(folder, file), text);
}

function commit(): void {
  git('add', '-A');
  git('commit', '-q', '-m', 'All');
}

beforeEach(() => {
  folder = join(base, String(count++));
  mkdirSync(join(folder, 'cli/guide'), { recursive: true });
  for (const [file, text] of Object.entries(FILES)) write(file, text);
  git('init', '-q');
  commit();
});

test('a dry run packs and checks, and leaves the tree as it was', () => {
  mkdirSync(join(folder, 'dist'));
  write('dist/stale.js', '');
  const { status, stdout, stderr } = release('minor', '--dry-run');
  expect(stderr).toBe('');
  expect(status).toBe(0);
  expect(stdout).toContain('0.2.0: out/release/hose-clip-0.2.0.tgz');
  expect(readdirSync(join(folder, 'out/release'))).toEqual(['hose-clip-0.2.0.tgz']);
  const packed = spawnSync('tar', ['-tzf', join(folder, 'out/release/hose-clip-0.2.0.tgz')], {
    encoding: 'utf8',
  }).stdout;
  expect(packed).toContain('package/main.js\n');
  // Of an earlier build.
  expect(packed).not.toContain('stale');
  for (const [file, text] of Object.entries(FILES)) expect(read(file)).toBe(text);
  expect(git('status', '--porcelain')).toBe('');
  expect(git('log', '--format=%s')).toBe('All\n');
  expect(git('tag')).toBe('');
});

test('a release is committed and tagged, with its changes under its version', () => {
  expect(release('patch')).toMatchObject({ status: 0, stderr: '' });
  expect(versionOf('package.json')).toBe('0.1.1');
  expect(versionOf('package-lock.json')).toBe('0.1.1');
  expect(read('CITATION.cff')).toMatch(/^version: 0\.1\.1\ndate-released: \d{4}-\d\d-\d\d$/m);
  expect(read('cli/guide/changes.md')).toMatch(
    /^# Changes\n\n## Unreleased\n\n## 0\.1\.1 \(\d{4}-\d\d-\d\d\)\n\n- Clips turn\.\n\n## 0\.1\.0\n\n- First\.\n$/,
  );
  expect(git('status', '--porcelain')).toBe('');
  expect(git('log', '--format=%s')).toBe('Version 0.1.1\nAll\n');
  expect(git('tag')).toBe('v0.1.1\n');
  // There is nothing new since.
  expect(release('patch')).toMatchObject({ status: 1 });
  expect(versionOf('package.json')).toBe('0.1.1');
});

test('a major version begins again at 0.0', () => {
  expect(release('major', '--dry-run').stdout).toContain('1.0.0: ');
});

test('a tree with changes is refused', () => {
  write('new.js', '');
  const { status, stderr } = release('patch');
  expect(status).toBe(1);
  expect(stderr).toMatch(/the tree has changes.*\n\?\? new\.js/);
  expect(existsSync(join(folder, 'out'))).toBe(false);
});

test('a package that its exports or types describe wrongly is refused, and all is put back', () => {
  for (const missing of ['main.d.ts', 'main.js']) {
    const own = JSON.parse(FILES['package.json']!) as { exports: object; scripts: object };
    own.exports = { '.': { types: './main.d.ts', default: './main.js' } };
    own.scripts = { build: 'true' };
    write('package.json', `${JSON.stringify(own)}\n`);
    rmSync(join(folder, missing));
    commit();
    const { status, stderr } = release('patch');
    expect(status, missing).toBe(1);
    expect(stderr).toContain(missing);
    expect(git('status', '--porcelain')).toBe('');
    expect(versionOf('package.json')).toBe('0.1.0');
    expect(git('tag')).toBe('');
    write(missing, FILES[missing]!);
    commit();
  }
});

test('another word than patch, minor or major is wrong usage', () => {
  for (const args of [[], ['tiny'], ['patch', '--push'], ['patch', '--dry-run', 'more']])
    expect(release(...args)).toMatchObject({ status: 2 });
  expect(git('status', '--porcelain')).toBe('');
});
