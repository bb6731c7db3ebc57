/**
 * The path of the guide's page "From a bare machine to the first true motion", run as it stands there: its answers,
 * its commands. Between `prove` and `judge` the real machine moves: simulated (test/support/wired-machine.ts, no
 * code of lib), first wired as the answers say, then with one answer wrong. A terminal is a pseudo terminal.
 */
import { spawnSync } from 'node:child_process';
import {
  copyFileSync,
  existsSync,
  mkdtempSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { writeStl } from '../../lib/formats/write-mesh.js';
import { cuboid } from '../support/shapes.js';
import { stopsOf, tipOverCross, whatIsSeen } from '../support/wired-machine.js';

const root = fileURLToPath(new URL('../..', import.meta.url));
const main = join(root, 'dist/cli/main.js');
const page = readFileSync(join(root, 'cli/guide/first-motion.md'), 'utf8');
const answers = /```json\n([\s\S]*?)```/.exec(page)![1]!;
const commands = [...page.matchAll(/^```(\w*)\n([\s\S]*?)^```/gm)]
  .filter(([, language]) => language === '')
  .flatMap(([, , block]) => block!.trim().split('\n'));
const folder = mkdtempSync(join(tmpdir(), 'tiltwright-first-motion-'));
const at = (name: string): string => join(folder, name);

interface Ended {
  readonly status: number | null;
  readonly stdout: string;
  readonly stderr: string;
}
const run = (words: readonly string[], input?: string): Ended =>
  spawnSync(process.execPath, [main, ...words], {
    cwd: folder,
    encoding: 'utf8',
    ...(input === undefined ? {} : { input }),
  });

/** The command of the page that begins so. */
const commandOf = (begin: string): string[] => {
  const found = commands.find((c) => c.startsWith(`tiltwright ${begin}`));
  expect(found, begin).toBeDefined();
  return found!.split(' ').slice(1);
};

/** Runs both programs on the real machine and fills in the form that lies beside them. */
function fillIn(real: Parameters<typeof whatIsSeen>[0], proof: string): void {
  const steps = stopsOf(readFileSync(join(proof, 'steps.ngc'), 'utf8'));
  const poses = existsSync(join(proof, 'poses.ngc'))
    ? stopsOf(readFileSync(join(proof, 'poses.ngc'), 'utf8'))
    : [];
  const form = readFileSync(join(proof, 'seen.csv'), 'utf8').trim().split('\n');
  const filled = form.map((row) => {
    const [name, what] = row.split(',');
    const n = Number(/\d+$/.exec(name!)?.[0]);
    if (name!.startsWith('step'))
      return `${name},${what},${whatIsSeen(real, steps[2 * n - 2]!, steps[2 * n - 1]!)},,,`;
    if (name!.startsWith('pose'))
      return `${name},${what},,${tipOverCross(real, poses[n]!)
        .map((v) => v.toFixed(0))
        .join(',')}`;
    return row;
  });
  writeFileSync(join(proof, 'seen.csv'), `${filled.join('\n')}\n`);
}

describe('the path of the guide', () => {
  beforeAll(() => {
    writeFileSync(at('answers.json'), answers);
    writeFileSync(at('part.stl'), writeStl(cuboid([14, 12, 3])));
    copyFileSync(join(root, 'samples/materials/pla.json'), at('pla.json'));
  });
  afterAll(() => rmSync(folder, { recursive: true }));

  test('new writes a machine file, says what is assumed and what is not measured', () => {
    const { status, stdout, stderr } = run(commandOf('machine new'));
    expect(status, stderr).toBe(0);
    expect(stdout).toMatch(/A\+10: the table edge on the side of Y- \(near you\) goes down/);
    expect(stdout).toMatch(/assumed: table\.thickness/);
    expect(stdout).toMatch(/not measured yet: cradle, frame/);
    // A second time it is in the way.
    expect(run(commandOf('machine new'))).toMatchObject({
      status: 1,
      stderr: expect.stringMatching(/^out\/exists/),
    });
  });

  test('check and show', () => {
    const checked = run(commandOf('machine check'));
    expect(checked.status, checked.stderr).toBe(0);
    expect(checked.stdout).toMatch(/note: tilt 45 deg: a part 40 mm high may be/);
    expect(checked.stdout).toMatch(/warning: nozzle\.diameter is assumed/);
    const shown = run(commandOf('machine show'));
    expect(shown.status, shown.stderr).toBe(0);
    expect(readFileSync(at('machine.svg'), 'utf8')).toContain('bench machine');
    expect(readFileSync(at('machine.html'), 'utf8')).toContain('<title>bench machine</title>');
  });

  test('prove and judge: right as answered', () => {
    const proved = run(commandOf('machine prove'));
    expect(proved.status, proved.stderr).toBe(0);
    fillIn(JSON.parse(readFileSync(at('machine.json'), 'utf8')), at('proof'));
    const judged = run(commandOf('machine judge'));
    expect(judged.status, judged.stdout + judged.stderr).toBe(0);
    expect(judged.stdout).toMatch(/every joint moves what the file says/);
    expect(judged.stdout).toMatch(/the tip stands within [\d.]+ mm of its place in every pose/);
  });

  test.each([
    [
      'tiltRises',
      'near edge up',
      /table\.joints\.0\.axis: A counts the other way round.*\[prove\/sign\]/,
    ],
    ['zRises', 'down', /head\.joints\.0\.axis: Z counts the other way round.*\[prove\/sign\]/],
    [
      'tiltHeight',
      26,
      /table\.joints\.0\.point: the axis of A runs elsewhere.*\[prove\/axis-place\]/,
    ],
  ] as const)('a wrong answer about %s is found by its name', (key, wrong, words) => {
    const real = JSON.parse(readFileSync(at('machine.json'), 'utf8'));
    writeFileSync(at(`${key}.json`), JSON.stringify({ ...JSON.parse(answers), [key]: wrong }));
    const made = run([
      'machine',
      'new',
      '--answers',
      `${key}.json`,
      '--out',
      `${key}-machine.json`,
    ]);
    expect(made.status, made.stderr).toBe(0);
    expect(run(['machine', 'prove', `${key}-machine.json`, '--out', `${key}-proof`]).status).toBe(
      0,
    );
    fillIn(real, at(`${key}-proof`));
    const judged = run([
      'machine',
      'judge',
      `${key}-machine.json`,
      '--plan',
      `${key}-proof/plan.json`,
      '--seen',
      `${key}-proof/seen.csv`,
    ]);
    expect(judged.stdout).toMatch(words);
    expect(judged.stdout.match(/^error/gm)).toHaveLength(1);
    expect(judged.status).toBe(3);
  });

  test('slice and check', () => {
    const sliced = run(commandOf('slice'));
    expect(sliced.status, sliced.stdout + sliced.stderr).toBe(0);
    expect(sliced.stdout).toMatch(/values of the machine file are assumed/);
    const checked = run(commandOf('check first'));
    expect(checked.status, checked.stdout + checked.stderr).toBe(0);
  });
});

describe('what is refused', () => {
  const cases: [string, string[], RegExp][] = [
    [
      'answers that are no object',
      ['machine', 'new', '--answers', 'list.json', '--out', 'x.json'],
      /^machine\/bad-answer: the answers are not an object/,
    ],
    [
      'an answer that is none',
      ['machine', 'new', '--layout', 'delta', '--out', 'x.json'],
      /^machine\/bad-answer: --layout: one of/,
    ],
    [
      'nothing answered and nobody to ask',
      ['machine', 'new', '--out', 'x.json'],
      /^machine\/answer-missing: --layout is not answered/,
    ],
    [
      'a part of no size',
      ['machine', 'check', 'm.json', '--part', '0,1,1'],
      /^machine\/bad-value: --part: three sizes over 0/,
    ],
    [
      'a proof on top of another',
      ['machine', 'prove', 'm.json', '--out', '.'],
      /^out\/not-empty: .*what was seen of an earlier proof/,
    ],
    [
      'a machine file of another kind',
      ['machine', 'show', 'list.json', '--out', 'x.html'],
      /^machine\/bad-value/,
    ],
  ];
  test.each(cases)('%s', (_, words, told) => {
    const own = mkdtempSync(join(tmpdir(), 'tiltwright-refused-'));
    writeFileSync(join(own, 'list.json'), '[]');
    copyFileSync(join(root, 'samples/machines/table-table-ac.json'), join(own, 'm.json'));
    const ended = spawnSync(process.execPath, [main, ...words], {
      cwd: own,
      encoding: 'utf8',
      input: '',
    });
    expect(ended.stderr).toMatch(told);
    expect(ended.status).toBe(1);
    for (const name of ['x.json', 'x.html']) expect(existsSync(join(own, name))).toBe(false);
    rmSync(own, { recursive: true });
  });
});

const hasScript = spawnSync('script', ['--version']).status === 0;
test.skipIf(!hasScript)(
  'a terminal asks, asks again after a wrong answer, and writes what was answered',
  () => {
    const own = mkdtempSync(join(tmpdir(), 'tiltwright-terminal-'));
    const given = JSON.parse(answers) as Record<string, unknown>;
    // All but three are flags; the name is left as it is taken.
    const flags = Object.entries(given)
      .filter(
        ([key]) =>
          ![
            'layout',
            'xTravel',
            'tiltHeight',
            'name',
            ...Object.keys(given).filter((k) => k.endsWith('Line') || k.endsWith('Lines')),
          ].includes(key),
      )
      .map(
        ([key, value]) =>
          `--${key.replace(/[A-Z]/g, (c) => `-${c.toLowerCase()}`)}='${String(value)}'`,
      );
    const asked = [
      'slide-speed=100',
      'lift-speed=10',
      'tilt-speed=20',
      'turn-speed=40',
      'nozzle-diameter=0.4',
    ];
    const more = [
      'filament-diameter=1.75',
      'rotary-feed=g93',
      'filament-mode=relative',
      'tilt-letter=A',
      'turn-letter=C',
    ];
    const words = [...flags, ...[...asked, ...more].map((f) => `--${f}`)].filter(
      (f) => !f.startsWith('--tilt-rises'),
    );
    const command = `"${process.execPath}" "${main}" machine new --out m.json ${words.join(' ')}`;
    const ended = spawnSync('script', ['-qec', command, '/dev/null'], {
      cwd: own,
      encoding: 'utf8',
      // What can be asked only after the layout is left to the terminal too.
      input: 'delta\ntable-table\n\n-160 160\nnear edge down\nsix\n6\n',
      timeout: 60_000,
    });
    rmSync(own, { recursive: true, force: true });
    expect(ended.stdout).toMatch(
      /one of "table-table", "head-table", "head-head" was expected, got delta/,
    );
    expect(ended.stdout).toMatch(/a number from -500 to 1000 mm was expected, got six/);
    expect(ended.stdout).toMatch(/written to m\.json/);
    expect(ended.status).toBe(0);
  },
);
