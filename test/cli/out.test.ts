/**
 * Result folders: what is ours and unchanged is replaced, everything else stays, whatever happens at
 * whichever step. The steps are the calls of the file system themselves: a write stops for ever at its
 * first call, at its second, and so on to its last, which for the disk is what a kill is; a process is
 * killed in earnest at some of them; then each call fails once. Expected values are the rules of cli/out.ts; there is no outside source for them.
 */
import { spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import {
  chmodSync,
  existsSync,
  linkSync,
  lstatSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  readdirSync,
  readlinkSync,
  realpathSync,
  renameSync,
  rmSync,
  statSync,
  symlinkSync,
  unlinkSync,
  writeFileSync,
} from 'node:fs';
import promises from 'node:fs/promises';
import { syncBuiltinESMExports } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { claim, replaceResult } from '../../cli/out.js';
import { MANIFEST } from '../../worker/manifest.js';

const root = fileURLToPath(new URL('../..', import.meta.url));
let folder: string;
let out: string;
beforeEach(() => {
  folder = realpathSync(mkdtempSync(join(tmpdir(), 'tiltwright-out-')));
  out = join(folder, 'result');
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

/** A result of which every file tells the run that it is of. */
const result = (run: string): Map<string, string> =>
  new Map([
    ['program.ngc', `(${run})\nM2\n`],
    ['report.json', `{"run": "${run}"}\n`],
    ['regions/region-1.stl', `solid ${run}\n`],
  ]);
const read = (name: string): string => readFileSync(join(out, name), 'utf8');
/** The run that a folder is the result of, whole, or nothing. */
function runIn(at: string): string | undefined {
  const text = (name: string): string => readFileSync(join(at, name), 'utf8');
  if (!existsSync(join(at, 'program.ngc'))) return undefined;
  const run = /\((.*)\)/.exec(text('program.ngc'))![1]!;
  for (const [name, content] of result(run)) expect(text(name)).toBe(content);
  const { files } = JSON.parse(text(MANIFEST)) as { files: Record<string, { sha256: string }> };
  expect(Object.keys(files).sort()).toEqual([...result(run).keys()].sort());
  for (const [name, { sha256 }] of Object.entries(files))
    expect(createHash('sha256').update(text(name)).digest('hex')).toBe(sha256);
  return run;
}
const beside = (): string[] => readdirSync(folder).filter((name) => name.startsWith('.'));

describe('a folder without our manifest', () => {
  test.each(['report.json', 'directions.json', 'drives.json', 'check.json', 'pieces.json'])(
    'with a file %s of somebody is refused and left alone',
    async (name) => {
      mkdirSync(join(out, 'src'), { recursive: true });
      writeFileSync(join(out, name), '{}');
      writeFileSync(join(out, 'thesis.txt'), 'years of work');
      for (const work of [claim, (at: string) => replaceResult(at, result('one'))])
        await expect(work(out)).rejects.toMatchObject({
          code: 'out/not-empty',
          message: expect.stringMatching(/3 files.*tiltwright-manifest\.json.*another folder/),
        });
      expect(readdirSync(out).sort()).toEqual([name, 'src', 'thesis.txt'].sort());
    },
  );

  test('a file that only bears the name of the manifest is no manifest', async () => {
    mkdirSync(out);
    writeFileSync(join(out, MANIFEST), '{"files": {"report.json": {}}}');
    await expect(claim(out)).rejects.toMatchObject({ code: 'out/not-empty' });
  });
});

describe('an earlier result', () => {
  beforeEach(() => replaceResult(out, result('one')));

  test('is replaced, and what the new one lacks goes', async () => {
    expect(runIn(out)).toBe('one');
    expect(await replaceResult(out, new Map([['check.json', '{}']]))).toEqual([]);
    expect(readdirSync(out).sort()).toEqual(['check.json', MANIFEST]);
    expect(beside()).toEqual([]);
  });

  test('what is not ours stays as it is: the same file, link, rights and time', async () => {
    mkdirSync(join(out, 'src/deep'), { recursive: true });
    mkdirSync(join(out, 'empty'));
    writeFileSync(join(out, 'src/deep/main.c'), 'int main;');
    writeFileSync(join(out, 'regions/notes.txt'), 'glue here');
    symlinkSync('/nowhere/at/all', join(out, 'link'));
    chmodSync(join(out, 'src'), 0o500);
    const before = [out, 'src', 'src/deep/main.c', 'regions/notes.txt', 'link'].map((n) =>
      lstatSync(n === out ? out : join(out, n)),
    );
    const kept = await replaceResult(out, result('two'));
    expect(runIn(out)).toBe('two');
    expect(kept.map((k) => [k.name, k.as, k.why])).toEqual([
      ['empty', 'empty', 'not ours'],
      ['link', 'link', 'not ours'],
      ['regions/notes.txt', 'regions/notes.txt', 'not ours'],
      ['src', 'src', 'not ours'],
    ]);
    expect(readlinkSync(join(out, 'link'))).toBe('/nowhere/at/all');
    const after = (n: string): ReturnType<typeof lstatSync> => lstatSync(join(out, n));
    expect(after('src/deep/main.c')!.ino).toBe(before[2]!.ino);
    expect(after('regions/notes.txt')!.ino).toBe(before[3]!.ino);
    expect(after('src')!.mode).toBe(before[1]!.mode);
    expect(statSync(out).mode).toBe(before[0]!.mode);
    expect(beside()).toEqual([]);
    chmodSync(join(out, 'src'), 0o700);
  });

  test('a file that was changed is kept under a name like its own', async () => {
    writeFileSync(join(out, 'program.ngc'), 'mine now');
    rmSync(join(out, 'report.json'));
    symlinkSync('program.ngc', join(out, 'report.json'));
    const kept = await replaceResult(out, result('two'));
    expect(kept.map((k) => [k.name, k.as, k.why])).toEqual([
      ['program.ngc', 'program.kept.ngc', 'changed since it was written'],
      ['report.json', 'report.kept.json', 'changed since it was written'],
    ]);
    expect([runIn(out), read('program.kept.ngc')]).toEqual(['two', 'mine now']);
    writeFileSync(join(out, 'program.ngc'), 'mine again');
    await replaceResult(out, result('three'));
    expect([runIn(out), read('program.kept.ngc'), read('program.kept-2.ngc')]).toEqual([
      'three',
      'mine now',
      'mine again',
    ]);
  });

  test('a file of the same length and time, changed in one byte, is known as changed', async () => {
    const path = join(out, 'program.ngc');
    writeFileSync(path, read('program.ngc').replace('one', 'oen'));
    expect((await replaceResult(out, result('two'))).map((k) => k.name)).toEqual(['program.ngc']);
  });

  test('a folder or file of somebody in the way of a new name gives way under another', async () => {
    rmSync(join(out, 'regions'), { recursive: true });
    writeFileSync(join(out, 'regions'), 'a list');
    rmSync(join(out, 'program.ngc'));
    mkdirSync(join(out, 'program.ngc'));
    writeFileSync(join(out, 'program.ngc/old.txt'), 'old');
    await replaceResult(out, result('two'));
    expect(runIn(out)).toBe('two');
    expect([read('regions.kept'), read('program.kept.ngc/old.txt')]).toEqual(['a list', 'old']);
  });

  test('nothing is written through links: neither a file nor a folder behind one changes', async () => {
    const elsewhere = join(folder, 'elsewhere');
    mkdirSync(elsewhere);
    writeFileSync(join(elsewhere, 'region-1.stl'), 'precious');
    rmSync(join(out, 'regions'), { recursive: true });
    symlinkSync(elsewhere, join(out, 'regions'));
    rmSync(join(out, 'program.ngc'));
    symlinkSync(join(elsewhere, 'region-1.stl'), join(out, 'program.ngc'));
    await replaceResult(out, result('two'));
    expect([runIn(out), readdirSync(elsewhere)]).toEqual(['two', ['region-1.stl']]);
    expect(readFileSync(join(elsewhere, 'region-1.stl'), 'utf8')).toBe('precious');
    expect(lstatSync(join(out, 'regions')).isSymbolicLink()).toBe(false);
    expect(readlinkSync(join(out, 'regions.kept'))).toBe(elsewhere);
  });

  test('a hard link to one of our files keeps its bytes', async () => {
    linkSync(join(out, 'program.ngc'), join(folder, 'kept.ngc'));
    await replaceResult(out, result('two'));
    expect(readFileSync(join(folder, 'kept.ngc'), 'utf8')).toContain('(one)');
  });
});

describe('the place', () => {
  test('a link as the folder is followed: its target gets the files', async () => {
    mkdirSync(join(folder, 'disk'));
    symlinkSync(join(folder, 'disk'), out);
    await replaceResult(out, result('one'));
    await replaceResult(out, result('two'));
    expect(lstatSync(out).isSymbolicLink()).toBe(true);
    expect(runIn(join(folder, 'disk'))).toBe('two');
    unlinkSync(out);
    symlinkSync(join(folder, 'gone'), out);
    await expect(claim(out)).rejects.toMatchObject({
      code: 'out/unwritable',
      message: expect.stringContaining('leads nowhere'),
    });
  });

  test('a file, the working folder and what holds it are refused', async () => {
    writeFileSync(out, '');
    await expect(claim(out)).rejects.toMatchObject({ code: 'out/unwritable' });
    for (const place of [process.cwd(), '/'])
      await expect(claim(place)).rejects.toMatchObject({ code: 'out/working-folder' });
    await expect(claim(join(out, 'below'))).rejects.toMatchObject({ code: 'out/unwritable' });
  });

  test('what could not be carried over is refused before the work', async () => {
    await replaceResult(out, result('one'));
    mkdirSync(join(out, 'src'));
    expect(spawnSync('mkfifo', [join(out, 'src/pipe')]).status).toBe(0);
    await expect(claim(out)).rejects.toMatchObject({
      code: 'out/special-file',
      message: expect.stringMatching(/src\/pipe is neither file, folder nor link/),
    });
    expect(runIn(out)).toBe('one');
  });

  test('claiming leaves no trace, and makes no folder', async () => {
    await claim(join(folder, 'a/b/c'));
    expect(readdirSync(folder)).toEqual([]);
  });

  const nobody = process.getuid?.() === 0 ? { uid: 65534 } : {};
  test('a parent that takes no files is refused before the work', () => {
    chmodSync(folder, 0o555);
    const script = `import { claim } from '${root}dist/cli/out.js';
      await claim('${out}').catch((e) => console.log(e.code));`;
    const words = ['--input-type=module', '-e', script];
    const done = spawnSync(process.execPath, words, { encoding: 'utf8', cwd: '/', ...nobody });
    chmodSync(folder, 0o755);
    expect(done.stdout).toBe('out/unwritable\n');
  });

  test('a mount point, and a folder that holds one, are refused before the work', async (context) => {
    const inner = join(out, 'a b');
    mkdirSync(inner, { recursive: true });
    const mount = spawnSync('mount', ['-t', 'tmpfs', 'tmpfs', inner]);
    if (mount.status !== 0) return context.skip('no right to mount');
    try {
      for (const place of [inner, out])
        await expect(claim(place)).rejects.toMatchObject({ code: 'out/mount-point' });
      await claim(join(inner, 'below'));
    } finally {
      spawnSync('umount', [inner]);
    }
  });
});

const CALLS = [
  ...[
    'mkdir',
    'mkdtemp',
    'rename',
    'rmdir',
    'unlink',
    'link',
    'symlink',
    'chmod',
    'utimes',
    'open',
  ],
  ...['rm', 'lstat', 'stat', 'readdir', 'readFile', 'readlink', 'realpath'],
];
type Owner = Record<string, (...args: unknown[]) => Promise<unknown>>;

/** Lets `before` see each call of the file system, with its number from 1, until it is undone. */
async function watched(before: (call: number) => Promise<void>): Promise<() => void> {
  const handle = await promises.open(join(root, 'package.json'));
  const owners: [Owner, string[]][] = [
    [promises as unknown as Owner, CALLS],
    [Object.getPrototypeOf(handle) as Owner, ['sync', 'writeFile']],
  ];
  await handle.close();
  let calls = 0;
  const undo: (() => void)[] = [];
  for (const [owner, names] of owners)
    for (const name of names) {
      const call = owner[name]!;
      owner[name] = async function (...args) {
        await before(++calls);
        return call.apply(this, args);
      };
      undo.push(() => (owner[name] = call));
    }
  syncBuiltinESMExports();
  return () => {
    for (const back of undo) back();
    syncBuiltinESMExports();
  };
}

/**
 * Writes the result of a run. From call `at` on nothing happens any more, as after a kill, or call `at`
 * fails. Gives the number of calls and how it ended.
 */
async function write(run: string, at: number, how: 'kill' | 'fail'): Promise<[number, string]> {
  let calls = 0;
  let killed = (): void => {};
  const kill = new Promise<string>((resolve) => (killed = () => resolve('killed')));
  const undo = await watched(async (call) => {
    calls = call;
    if (how === 'fail' && call === at)
      throw Object.assign(new Error('no room'), { code: 'ENOSPC' });
    if (how === 'kill' && at > 0 && call >= at) {
      killed();
      await new Promise(() => {});
    }
  });
  const written = replaceResult(out, result(run)).then(
    () => 'ok',
    (error: { code?: string }) => error.code ?? String(error),
  );
  const end = await Promise.race([written, kill]);
  undo();
  return [calls, end];
}

/** An earlier result with files of somebody in it. */
async function earlier(): Promise<void> {
  rmSync(folder, { recursive: true, force: true });
  mkdirSync(folder);
  await replaceResult(out, result('one'));
  writeFileSync(join(out, 'notes.txt'), 'mine');
  mkdirSync(join(out, 'src'));
  writeFileSync(join(out, 'src/main.c'), 'int main;');
  symlinkSync('src', join(out, 'link'));
  writeFileSync(join(out, 'report.json'), 'changed');
}
/** Everything of somebody stands in the folder. */
function expectKept(at: string, run: string | undefined): void {
  const text = (name: string): string => readFileSync(join(at, name), 'utf8');
  expect([text('notes.txt'), text('src/main.c')]).toEqual(['mine', 'int main;']);
  expect(readlinkSync(join(at, 'link'))).toBe('src');
  expect(text(run === 'one' ? 'report.json' : 'report.kept.json')).toBe('changed');
}
/** As `runIn`, with the changed report of the earlier result. */
function wholeIn(at: string): string | undefined {
  const report = join(at, 'report.json');
  if (!existsSync(report) || readFileSync(report, 'utf8') !== 'changed') return runIn(at);
  const one = result('one');
  for (const name of ['program.ngc', 'regions/region-1.stl'])
    expect(readFileSync(join(at, name), 'utf8')).toBe(one.get(name));
  return 'one';
}

describe('a write that is cut short', { timeout: 600_000 }, () => {
  test('killed before each call: the folder is the earlier result or the new one, or both stand beside', async () => {
    await earlier();
    const [calls] = await write('two', 0, 'kill');
    expect(calls).toBeGreaterThan(40);
    const seen = { one: 0, two: 0, absent: 0 };
    for (let at = 1; at <= calls; at++) {
      await earlier();
      expect((await write('two', at, 'kill'))[1]).toBe('killed');
      const run = existsSync(out) ? wholeIn(out) : undefined;
      seen[(run ?? 'absent') as keyof typeof seen]++;
      if (run) expectKept(out, run);
      else {
        const [work] = beside();
        expect(wholeIn(join(folder, work!, 'old'))).toBe('one');
        expect(wholeIn(join(folder, work!, 'new'))).toBe('two');
        for (const [name, of] of [
          ['old', 'one'],
          ['new', 'two'],
        ] as const)
          expectKept(join(folder, work!, name), of);
      }
      // The next command ends what was begun, with nothing lost and nothing left beside.
      await claim(out);
      const settled = wholeIn(out);
      expect(settled).toBe(run ?? 'two');
      expectKept(out, settled);
      expect(beside().filter((name) => !name.startsWith('.tiltwright-'))).toEqual([]);
      await replaceResult(out, result('three'));
      expect(runIn(out)).toBe('three');
      expect([read('notes.txt'), read('report.kept.json')]).toEqual(['mine', 'changed']);
    }
    expect([seen.one > 10, seen.two > 10, seen.absent > 0]).toEqual([true, true, true]);
  });

  test('each call refused once: the folder is whole, nothing stays beside', async () => {
    await earlier();
    const [calls] = await write('two', 0, 'fail');
    for (let at = 1; at <= calls; at++) {
      await earlier();
      const [, code] = await write('two', at, 'fail');
      expect(['ok', 'out/unwritable']).toContain(code);
      const run = wholeIn(out);
      if (code === 'ok') expect(run).toBe('two');
      expectKept(out, run);
      await replaceResult(out, result('three'));
      expect(runIn(out)).toBe('three');
      expect([read('notes.txt'), read('report.kept.json')]).toEqual(['mine', 'changed']);
      expect(beside().filter((name) => !name.startsWith('.tiltwright-'))).toEqual([]);
    }
  });

  test('a first result is there whole or not at all', async () => {
    const [calls] = await write('one', 0, 'kill');
    for (let at = 1; at <= calls; at++) {
      rmSync(folder, { recursive: true, force: true });
      mkdirSync(folder);
      await write('one', at, 'kill');
      if (existsSync(out)) expect(runIn(out)).toBe('one');
      await replaceResult(out, result('two'));
      expect([runIn(out), beside().filter((n) => !n.startsWith('.tiltwright-'))]).toEqual([
        'two',
        [],
      ]);
    }
  });

  test('what comes into the earlier folder at the last moment goes over to the new one', async () => {
    await earlier();
    const [calls] = await write('two', 0, 'kill');
    // Find a kill between the two renames, or after them, with the old folder still there.
    for (let at = calls; at > 0; at--) {
      await earlier();
      await write('two', at, 'kill');
      const old = beside()
        .map((name) => join(folder, name, 'old'))
        .find((path) => existsSync(path));
      if (!old || !existsSync(join(old, MANIFEST))) continue;
      writeFileSync(join(old, 'late.txt'), 'late');
      await claim(out);
      expect([wholeIn(out), read('late.txt')]).toEqual(['two', 'late']);
      return;
    }
    expect.unreachable();
  });

  test.each([2, 5, 10, 20, 40])(
    'a process killed in earnest after %d ms of writing',
    async (ms) => {
      await earlier();
      const script = `import { replaceResult } from '${root}dist/cli/out.js';
      const files = new Map(${JSON.stringify([...result('two')])});
      setTimeout(() => process.kill(process.pid, 'SIGKILL'), ${ms});
      for (;;) await replaceResult('${out}', files);`;
      const words = ['--input-type=module', '-e', script];
      expect(spawnSync(process.execPath, words, { cwd: '/' }).signal).toBe('SIGKILL');
      await claim(out);
      expectKept(out, wholeIn(out));
      expect(beside().filter((name) => !name.startsWith('.tiltwright-'))).toEqual([]);
    },
  );

  test('the work folder of a process that lives is left alone', async () => {
    await replaceResult(out, result('one'));
    const [calls] = await write('two', 0, 'kill');
    await write('three', Math.round(calls / 3), 'kill');
    const [dead] = beside();
    const alive = dead!.replace(/\.\d+@/, `.${process.ppid}@`);
    renameSync(join(folder, dead!), join(folder, alive));
    await claim(out);
    expect(beside()).toEqual([alive]);
  });
});
