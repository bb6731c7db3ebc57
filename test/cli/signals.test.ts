/**
 * A command ends when it is asked to, wherever it is, and leaves a whole result or none. Exit codes are 128
 * and the number of the signal, as shells report it (POSIX.1-2017, XCU 2.8.2). The moments are random.
 */
import { spawn } from 'node:child_process';
import { mkdirSync, mkdtempSync, openSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, describe, expect, test } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { writeStl } from '../../lib/formats/write-mesh.js';
import { cuboid, torus } from '../support/shapes.js';
import { Pen } from '../verify/prints.js';

const root = fileURLToPath(new URL('../..', import.meta.url));
const main = join(root, 'dist/cli/main.js');
const folder = mkdtempSync(join(tmpdir(), 'tiltwright-signals-'));
afterAll(() => rmSync(folder, { recursive: true }));

const file = (name: string, content: string | Uint8Array): string => {
  writeFileSync(join(folder, name), content);
  return join(folder, name);
};
const cube = file('cube.stl', writeStl(cuboid([12, 12, 6])));
const ring = file('ring.stl', writeStl(torus(30, 8, 96, 48)));
const pen = new Pen();
pen.box([-10, -10, 0], [20, 20, 6], 0.4, 0.2);
const program = file('box.ngc', pen.text());
const machine = ['--machine', join(root, 'samples/machines/table-table-ac.json')];
const material = ['--material', join(root, 'samples/materials/pla.json')];

interface Ended {
  readonly code: number | null;
  readonly signal: string | null;
  readonly err: string;
}

/** Starts a command, sends a signal after a time (ms) if one is given, and waits for the end. */
function run(
  words: readonly string[],
  kill?: { readonly signal: NodeJS.Signals; readonly after: number },
): Promise<Ended> {
  const child = spawn(process.execPath, [main, ...words], {
    cwd: folder,
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  let err = '';
  child.stderr.on('data', (text: Buffer) => (err += text.toString()));
  child.stdout.resume();
  if (kill) setTimeout(() => child.kill(kill.signal), kill.after);
  return new Promise((resolve) =>
    child.on('close', (code, signal) => resolve({ code, signal, err })),
  );
}

const COMMANDS: Record<string, (out: string) => string[]> = {
  inspect: () => ['inspect', ring],
  slice: (out) => ['slice', cube, ...machine, ...material, '--out', out],
  check: (out) => ['check', program, ...machine, '--out', out],
  directions: (out) => ['directions', ring, ...machine, '--out', out],
  drives: (out) => ['drives', program, ...machine, '--density', '1.24', '--out', out],
  pieces: (out) => ['pieces', ...machine, ...material, '--out', out],
  calibrate: (out) => ['calibrate', 'plan', ...machine, '--ball', '45,0,20,20', '--out', out],
};
const SEED = 11;
const random = seeded(SEED);

describe(`a signal at a random moment, seed ${SEED}`, () => {
  test.each(Object.keys(COMMANDS))('%s', async (name) => {
    const parent = join(folder, name);
    mkdirSync(parent);
    const begin = performance.now();
    const whole = await run(COMMANDS[name]!(join(parent, 'whole')));
    const lasts = performance.now() - begin;
    expect(whole.signal).toBeNull();
    for (const [signal, code] of [
      ['SIGINT', 130],
      ['SIGTERM', 143],
    ] as const) {
      // From when the program stands until it would have ended.
      const after = 150 + random() * Math.max(100, 0.95 * lasts - 150);
      const out = join(parent, signal);
      const ended = await run(COMMANDS[name]!(out), { signal, after });
      const names = readdirSync(parent);
      // Before it hears, the system ends it; when it was quicker than the signal, it is done.
      expect([code, null, whole.code]).toContain(ended.code);
      expect(names.filter((n) => n.startsWith('.'))).toEqual([]);
      if (names.includes(signal))
        expect(readdirSync(out)).toEqual(readdirSync(join(parent, 'whole')));
      if (ended.code === code) expect(ended.err).toMatch(/^cancelled; /m);
      expect(ended.err).not.toMatch(/\n\s+at /);
    }
  });
});

test('SIGTERM ends a check that is deep in a loop', async () => {
  // One line turns the table 20 times, a thousand lines over.
  const lines = Array.from({ length: 20_000 }, (_, i) => `G1 C${i % 2 ? 0 : 7200} F60000`);
  const long = file(
    'long.ngc',
    ['G21 G90 G94', 'G1 X0 Y0 Z10 A0 C0 F900', ...lines, 'M2'].join('\n'),
  );
  const child = spawn(process.execPath, [main, 'check', long, ...machine], { stdio: 'pipe' });
  let err = '';
  const ended = new Promise((resolve) => child.on('close', resolve));
  // The stage that follows the turns has begun; it takes minutes.
  await new Promise<void>((resolve) =>
    child.stderr.on('data', (text: Buffer) => {
      err += text.toString();
      if (err.includes('trace: 0%')) resolve();
    }),
  );
  child.kill('SIGTERM');
  expect(await ended).toBe(143);
  expect(err).toContain('cancelled; nothing was written');
});

describe('an output that is closed or full', () => {
  const full = (words: readonly string[]): Promise<Ended> => {
    const device = openSync('/dev/full', 'w');
    const child = spawn(process.execPath, [main, ...words], { stdio: ['ignore', device, 'pipe'] });
    let err = '';
    child.stderr!.on('data', (text: Buffer) => (err += text.toString()));
    return new Promise((resolve) =>
      child.on('close', (code, signal) => resolve({ code, signal, err })),
    );
  };

  test('a full device ends the command with 5 and one line', async () => {
    const { code, err } = await full(['inspect', cube]);
    expect(code).toBe(5);
    expect(err).toMatch(/^output\/lost: .*ENOSPC.*\n$/);
  });

  test('a reader that has gone ends it with 5', async () => {
    const child = spawn(process.execPath, [main, 'schema', 'machine'], { stdio: 'pipe' });
    let err = '';
    child.stderr.on('data', (text: Buffer) => (err += text.toString()));
    child.stdout.destroy();
    const code = await new Promise((resolve) => child.on('close', resolve));
    expect(code).toBe(5);
    expect(err).toMatch(/^output\/lost: .*EPIPE.*\n$/);
  });
});

test('a file without end is refused at the limit', async () => {
  const { code, err } = await run(['check', '/dev/zero', ...machine]);
  expect(code).toBe(1);
  expect(err).toMatch(
    /^file\/too-large: .*\/dev\/zero has more than \d+ bytes, which is the limit/m,
  );
});
