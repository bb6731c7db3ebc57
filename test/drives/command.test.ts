/** The command as a person runs it, on a program of a few lines. */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, expect, test } from 'vitest';

const root = fileURLToPath(new URL('../..', import.meta.url));
const folder = mkdtempSync(join(tmpdir(), 'tiltwright-drives-'));
afterAll(() => rmSync(folder, { recursive: true }));

const machine = join(root, 'samples/machines/table-table-ac.json');
const program = join(folder, 'turn.ngc');
// From where the machine file has it ready: A up to 40 deg in 2 s and back, C half a turn in 3 s: inverse time, 30 and 20 a minute.
writeFileSync(
  program,
  'G21 G90\nG94 G1 X0 Y0 Z240 A0 C0 F600\nG93 G1 A40 F30\nG4 P0.5\nG1 C180 F20\nG4 P0.5\nG1 A0 F30\nM2\n',
);

const run = (...words: string[]): { status: number | null; out: string; err: string } => {
  const done = spawnSync(process.execPath, [join(root, 'dist/cli/main.js'), 'drives', ...words], {
    encoding: 'utf8',
    cwd: folder,
  });
  return { status: done.status, out: done.stdout, err: done.stderr };
};

test('writes figures, words and pictures, and says what it assumed', () => {
  const done = run(program, '--machine', machine, '--density', '1.24', '--out', 'whole');
  expect(done.err.split('\n').filter((l) => l.startsWith('defect'))).toEqual([]);
  expect(done.status).toBe(0);
  expect(readdirSync(join(folder, 'whole')).sort()).toEqual([
    'drives.json',
    'drives.txt',
    'ratio.png',
    'ratio.svg',
    'tiltwright-manifest.json',
    'torque-speed.png',
    'torque-speed.svg',
  ]);
  expect(done.out).toMatch(/assumed:\n {2}time law: /);
  expect(done.out).toMatch(/warning: without power A falls.*\[drives\/falls\]/);
  const record = JSON.parse(readFileSync(join(folder, 'whole/drives.json'), 'utf8')) as {
    joints: { letter: string; speed: number }[];
    seconds: number;
  };
  // 40 deg in 2 s, 180 deg in 3 s, from the program's own feeds.
  const speed = (l: string) => (record.joints.find((j) => j.letter === l)!.speed * 180) / Math.PI;
  expect(speed('A')).toBeCloseTo(20, 6);
  expect(speed('C')).toBeCloseTo(60, 6);
  // Seven segments between stops: way / v + v / a + a / j, a 240 and 720 deg/s2, a / j .05 s; two
  // waits of half a second.
  expect(record.seconds).toBeCloseTo(7 + 2 * (20 / 240) + 60 / 720 + 3 * 0.05 + 1, 5);
});

test.each([
  ['a program without a machine', [program, '--density', '1'], /^drives\/no-machine: /],
  ['a program without a material', [program, '--machine', machine], /^drives\/density: /],
  [
    'a density that is none',
    [program, '--machine', machine, '--density', 'heavy'],
    /^drives\/bad-value: .*g\/cm3.*heavy/,
  ],
])('%s is refused with one line', (_, words, line) => {
  const done = run(...words, '--out', 'never');
  expect(done.status).toBe(1);
  expect(done.err.trimEnd().split('\n').at(-1)).toMatch(line);
  expect(readdirSync(folder)).not.toContain('never');
});

test('a machine without drives is refused', () => {
  const { drives: _, ...bare } = JSON.parse(readFileSync(machine, 'utf8')) as Record<
    string,
    unknown
  >;
  const file = join(folder, 'bare.json');
  writeFileSync(file, JSON.stringify(bare));
  const done = run(program, '--machine', file, '--density', '1.24', '--out', 'never');
  expect(done.status).toBe(1);
  expect(done.err).toMatch(/^drives\/missing: /m);
});
