/** What the command says to a person who has got a file, a number or a name wrong. */
import { spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, describe, expect, test } from 'vitest';
import { writeStl, writeThreeMf } from '../../lib/formats/write-mesh.js';
import { cuboid } from '../support/shapes.js';

const root = fileURLToPath(new URL('../..', import.meta.url));
const folder = mkdtempSync(join(tmpdir(), 'tiltwright-refusals-'));
afterAll(() => rmSync(folder, { recursive: true }));

function run(...words: string[]): { status: number | null; out: string; err: string } {
  const done = spawnSync(process.execPath, [join(root, 'dist/cli/main.js'), ...words], {
    encoding: 'utf8',
    cwd: folder,
  });
  return { status: done.status, out: done.stdout, err: done.stderr };
}
const file = (name: string, content: string | Uint8Array): string => {
  writeFileSync(join(folder, name), content);
  return name;
};
/** Lines of the error stream but those of the progress. */
const linesOf = (err: string): string[] =>
  err.split('\n').filter((line) => line !== '' && !/^\w+: \d+%$/.test(line));

const machine = join(root, 'samples/machines/table-table-ac.json');
const material = join(root, 'samples/materials/pla.json');
const cube = file('cube.stl', writeStl(cuboid([12, 12, 6])));

test('every problem of machine, material and job stands on a line of its own, with its place', () => {
  const text = readFileSync(machine, 'utf8')
    .replace('"travel": [-60, 260]', '"travell": [-60, 260]')
    .replace('"diameter": 1.75', '"diameter": "thick"');
  const lineOf = (what: string): number => text.slice(0, text.indexOf(what)).split('\n').length;
  file('bad.json', text);
  file('plastic.json', readFileSync(material, 'utf8').replace('"fan": 1', '"fan": 50'));
  const done = run('slice', cube, '--machine', 'bad.json', '--material', 'plastic.json');
  expect(done.status).toBe(1);
  const lines = linesOf(done.err);
  expect(lines).toHaveLength(4);
  expect(lines[1]).toMatch(
    /^machine\/unknown-key: .*"travell".*; did you mean "travel"\? \(bad\.json:\d+:9\)$/,
  );
  expect(lines[1]).toContain(`bad.json:${lineOf('"travell"')}:`);
  expect(lines[0]).toMatch(/^machine\/bad-value: head\.joints\.0\.travel is missing/);
  expect(lines[2]).toMatch(/^machine\/bad-value: filament\.diameter must be a number, got "thick"/);
  expect(lines[2]).toContain(`bad.json:${lineOf('"thick"')}:`);
  expect(lines[3]).toMatch(
    /^material\/bad-value: fan must be at most 1, got 50 .*\(plastic\.json:7:3\)$/,
  );
});

test('a flag is named as a flag, what the file says beside it by its line', () => {
  file('job.json', '{\n  "part": "cube.stl",\n  "layers": { "thicknes": 0.2 }\n}');
  const done = run(
    'slice',
    '--job',
    'job.json',
    '--regions-tilt',
    '-4',
    '--paths-fill-density',
    'X1e3',
  );
  const lines = linesOf(done.err).sort();
  expect(lines).toHaveLength(3);
  expect(lines[0]).toMatch(/^job\/bad-value: --paths-fill-density: .*got "X1e3"/);
  expect(lines[1]).toMatch(/^job\/bad-value: --regions-tilt: .*got -4/);
  expect(lines[2]).toMatch(/"thicknes" in layers; did you mean "thickness"\? \(job\.json:3:15\)$/);
});

describe('numbers are plain decimals', () => {
  test.each([
    [
      ['slice', cube, '--layers-thickness', '2e-1'],
      /--layers-thickness: got 2e-1; write it as a plain decimal/,
    ],
    [
      ['slice', cube, '--threads', '1e0'],
      /threads: a whole number from 0 to 64, got 1e0; write it/,
    ],
    [['inspect', cube, '--thin', '0x1'], /thin: more than 0 mm, got 0x1/],
    [
      ['calibrate', 'three', '--at', '1e1', '--tilt', '5', '--heights', '1,2,3', '--flat', '1'],
      /at: .*got 1e1; write it as a plain decimal/,
    ],
  ] as const)('%j', (words, message) => {
    const done = run(
      ...words,
      ...(words[0] === 'slice' ? ['--machine', machine, '--material', material] : []),
    );
    expect(done.status).toBe(1);
    expect(linesOf(done.err)).toEqual([expect.stringMatching(message)]);
  });
});

describe('a file that is not there is named with what it was wanted for', () => {
  test.each([
    [['slice', cube, '--machine', 'no.json', '--material', material], 'the machine file'],
    [['slice', cube, '--machine', machine, '--material', 'no.json'], 'the material file'],
    [['slice', 'no.json', '--machine', machine, '--material', material], 'the part'],
    [['slice', '--job', 'no.json'], 'the job file'],
    [['inspect', 'no.json'], 'the part'],
    [['check', 'no.json', '--machine', machine], 'the program'],
    [['check', cube, '--machine', machine, '--part', 'no.json'], 'the part'],
    [['drives', 'no.json'], 'the job file'],
    [['calibrate', 'ring', 'no.json', '--radius', '40'], 'the readings'],
    [
      [
        'calibrate',
        'fit',
        '--machine',
        machine,
        '--plan',
        'no.json',
        '--readings',
        'x',
        '--out',
        'y',
      ],
      'the plan',
    ],
    [['jobs', '--token-file', 'no.json'], 'the token file'],
  ])('%j', (words, what) => {
    const done = run(...words);
    expect(done.status).toBe(1);
    expect(linesOf(done.err).at(-1)).toMatch(
      new RegExp(`^file/unreadable: cannot read ${what} (/.*/)?no\\.json: there is no such file$`),
    );
    expect(done.err).not.toMatch(/ENOENT|^\s+at /m);
  });

  test('a folder in its place is called one', () => {
    mkdirSync(join(folder, 'folder'), { recursive: true });
    expect(run('inspect', 'folder').err).toBe(
      'file/unreadable: cannot read the part folder: it is a folder\n',
    );
  });
});

test('JSON of 5,000 levels is refused as machine, material and job, without a stack', () => {
  file('deep.json', `${'{"a":'.repeat(5000)}1${'}'.repeat(5000)}`);
  for (const words of [
    ['slice', cube, '--machine', 'deep.json', '--material', material],
    ['slice', cube, '--machine', machine, '--material', 'deep.json'],
    ['slice', '--job', 'deep.json'],
  ]) {
    const done = run(...words);
    expect(done.status).toBe(1);
    expect(linesOf(done.err)).toEqual([
      'file/too-deep: the value is nested 5,000 levels deep, the limit is 64 (deep.json)',
    ]);
  }
});

describe('nothing that a terminal acts on leaves by a name', () => {
  const ESC = '\x1b[31m\x9b2J\u202e\r\nerror: none';
  const BAD = /[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]/;

  test('of a file, a key, a machine', () => {
    const odd = file(`part ${ESC}.stl`, writeStl(cuboid([5, 5, 5])).slice(0, 300));
    const json = JSON.parse(readFileSync(machine, 'utf8')) as Record<string, unknown>;
    file('odd.json', JSON.stringify({ ...json, name: ESC.repeat(50), [ESC]: 1 }));
    for (const words of [
      ['inspect', odd],
      ['inspect', `${odd}.none`],
      ['inspect', cube, `--${ESC}`],
      ['check', cube, '--machine', 'odd.json'],
      ['slice', '--job', file('text.json', `{"a": ${ESC}}`)],
    ]) {
      const done = run(...words);
      expect(done.status).toBeGreaterThan(0);
      expect(done.out + done.err).not.toMatch(BAD);
      expect(done.err).not.toMatch(/^error: none/m);
    }
  });

  test('of a part in a 3MF file, in lines and in JSON', () => {
    const odd = file(
      'odd.3mf',
      writeThreeMf([{ name: 'tap\u009b2J\u202e', mesh: cuboid([5, 5, 5]) }]),
    );
    expect(run('inspect', odd).out).not.toMatch(BAD);
    expect(run('inspect', odd, '--json').out).not.toMatch(BAD);
  });
});

describe('the unit of a part is doubted', () => {
  const setUp = ['--machine', machine, '--material', material, '--page', 'false'];

  test('where the job lays nothing', () => {
    const tiny = file('tiny.stl', writeStl(cuboid([0.05, 0.05, 0.05])));
    const done = run('slice', tiny, ...setUp, '--out', 'tiny');
    expect(done.status).toBe(1);
    expect(linesOf(done.err)).toEqual([
      expect.stringMatching(
        // Metres would be 50 mm, feet 15.24 mm (0.3048 m a foot, international foot).
        /^job\/lays-nothing: the job lays no bead: .*0\.05 x 0\.05 x 0\.05 mm.*; the part measures 0\.05 mm, less than 1\.5 mm; is its unit right\?.*15\.2 mm if its unit is the foot, 50 mm if its unit is the metre/,
      ),
    ]);
  });

  test('where the part does not fit the table', () => {
    const huge = file('huge.stl', writeStl(cuboid([2000, 2000, 2000])));
    const done = run('slice', huge, ...setUp, '--out', 'huge');
    expect(linesOf(done.err)).toEqual([
      expect.stringMatching(
        /^place\/off-table: .*; the part measures 2000 mm, more than 1000 mm; is its unit right\?/,
      ),
    ]);
  });

  test('where it can be printed all the same, as a warning; a wall thinner than a bead lays nothing', () => {
    const small = file('small.stl', writeStl(cuboid([1.4, 1.4, 1.2])));
    // Its foot is too small to hold, which is another matter.
    const done = run('slice', small, ...setUp, '--regions-footing', 'report', '--out', 'small');
    expect(done.err).not.toMatch(/\//);
    expect(done.out).toMatch(/^warning: the part measures 1\.4 mm.*\[mesh\/unit-doubtful\]$/m);
    expect(done.out).toMatch(
      /^ {2}A\+10: the table edge on the side of Y- \(near you\) goes down/m,
    );
    const report = JSON.parse(readFileSync(join(folder, 'small/report.json'), 'utf8')) as {
      material: { massG: number };
      turning: { joints: { joint: string }[] };
    };
    expect(report.material.massG).toBeGreaterThan(0);
    expect(report.turning.joints.map((t) => t.joint)).toEqual(['A', 'C']);
    const head = readFileSync(join(folder, 'small/program.ngc'), 'utf8').slice(0, 6000);
    expect(head).toMatch(/^\(A\+10: the table edge on the side of Y- \[near you\] goes down/m);
    const thin = file('thin.stl', writeStl(cuboid([10, 0.1, 5])));
    const none = run('slice', thin, ...setUp, '--regions-footing', 'report', '--out', 'thin');
    expect(none.status).toBe(1);
    expect(linesOf(none.err)).toEqual([
      expect.stringMatching(/^job\/lays-nothing: .*10 x 0\.1 x 5 mm/),
    ]);
  });
});
