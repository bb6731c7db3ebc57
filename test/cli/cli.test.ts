/** The command as a person runs it: exit codes, one-line refusals, nothing half-written. */
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
import { afterAll, describe, expect, test } from 'vitest';
import { writeStl } from '../../lib/formats/write-mesh.js';
import { cuboid } from '../support/shapes.js';

const root = fileURLToPath(new URL('../..', import.meta.url));
const folder = mkdtempSync(join(tmpdir(), 'tiltwright-cli-'));
afterAll(() => rmSync(folder, { recursive: true }));

const cube = join(folder, 'cube.stl');
writeFileSync(cube, writeStl(cuboid([12, 12, 6])));
const setUp = [
  '--machine',
  join(root, 'samples/machines/table-table-ac.json'),
  '--material',
  join(root, 'samples/materials/pla.json'),
];

function run(...words: string[]): { status: number | null; out: string; err: string } {
  const done = spawnSync(process.execPath, [join(root, 'dist/cli/main.js'), ...words], {
    encoding: 'utf8',
    cwd: folder,
  });
  return { status: done.status, out: done.stdout, err: done.stderr };
}

/** The last line of the error stream: progress lines may stand before it. */
const lastLine = (text: string): string => text.trimEnd().split('\n').at(-1)!;

describe('slice', () => {
  test('writes a whole result folder and says where', () => {
    const out = join(folder, 'good');
    const done = run('slice', cube, ...setUp, '--out', out);
    expect(done.status).toBe(0);
    expect(readdirSync(out).sort()).toEqual([
      'errors.csv',
      'errors.svg',
      'job.json',
      'part.stl',
      'preview.png',
      'program.ngc',
      'regions',
      'regions.svg',
      'report.html',
      'report.json',
      'tiltwright-manifest.json',
    ]);
    expect(readFileSync(join(out, 'program.ngc'), 'utf8').trimEnd().split('\n').at(-1)).toMatch(
      /^(M2|M30)\b/,
    );
    expect(readdirSync(folder).filter((name) => name.startsWith('.'))).toEqual([]);
  });

  test('--json prints the report and nothing else', () => {
    const done = run('slice', cube, ...setUp, '--out', join(folder, 'json'), '--json');
    const report = JSON.parse(done.out) as { part: { volumeMm3: number } };
    // Closed form: 12 x 12 x 6 mm.
    expect(report.part.volumeMm3).toBeCloseTo(864, 6);
    expect(done.err).toBe('');
  });

  test('flags stand over the job file, and every setting is a flag', () => {
    const job = join(folder, 'job.json');
    writeFileSync(
      job,
      JSON.stringify({ part: 'cube.stl', layers: { thickness: 0.3 }, paths: { contours: 1 } }),
    );
    const out = join(folder, 'flags');
    const done = run(
      'slice',
      '--job',
      job,
      ...setUp,
      '--out',
      out,
      '--layers-thickness',
      '0.15',
      '--paths-fill-pattern',
      'gyroid',
      '--page',
      'false',
    );
    expect(done.status).toBe(0);
    expect(existsSync(join(out, 'program.ngc'))).toBe(true);
    expect(existsSync(join(out, 'report.html')) || existsSync(join(out, 'preview.png'))).toBe(
      false,
    );
    const used = JSON.parse(readFileSync(join(out, 'job.json'), 'utf8')) as {
      layers: { thickness: number };
      paths: { contours: number; fill: { pattern: string } };
    };
    expect(used.layers.thickness).toBe(0.15);
    expect(used.paths).toMatchObject({ contours: 1, fill: { pattern: 'gyroid' } });
  });

  test('files of somebody in a result folder stay and are reported; the rest is replaced', () => {
    const out = join(folder, 'shared');
    const check = (): ReturnType<typeof run> =>
      run('check', join(folder, 'good/program.ngc'), ...setUp, '--out', out, '--json');
    expect(check().err).toBe('');
    writeFileSync(join(out, 'thesis.txt'), 'years of work');
    writeFileSync(join(out, 'check.json'), 'notes of mine');
    const done = check();
    expect([done.status, done.err.split('\n')]).toEqual([
      0,
      [
        `kept in ${out}: check.json as check.kept.json (changed since it was written)`,
        `kept in ${out}: thesis.txt (not ours)`,
        '',
      ],
    ]);
    expect(readFileSync(join(out, 'check.json'), 'utf8')).toBe(done.out);
    expect(readFileSync(join(out, 'check.kept.json'), 'utf8')).toBe('notes of mine');
    expect(readFileSync(join(out, 'thesis.txt'), 'utf8')).toBe('years of work');
  });

  test('a folder that holds something else is refused and left alone', () => {
    const out = join(folder, 'precious');
    mkdirSync(out);
    writeFileSync(join(out, 'letters.txt'), 'keep me');
    const done = run('slice', cube, ...setUp, '--out', out);
    expect(done.status).toBe(1);
    expect(lastLine(done.err)).toMatch(/^out\/not-empty: /);
    expect(readdirSync(out)).toEqual(['letters.txt']);
  });
});

describe('bad input: one line with a code, exit 1, nothing written, no stack trace', () => {
  const file = (name: string, content: string | Uint8Array): string => {
    writeFileSync(join(folder, name), content);
    return join(folder, name);
  };
  const machine = JSON.parse(readFileSync(setUp[1]!, 'utf8')) as { table: { joints: object[] } };
  const cases: [string, string[], RegExp][] = [
    ['an empty file', [file('empty.stl', ''), ...setUp], /^(file|mesh|stl)\/[a-z-]+: /],
    [
      'half a binary STL',
      [file('half.stl', writeStl(cuboid([9, 9, 9])).slice(0, 300)), ...setUp],
      /^stl\/[a-z-]+: .*\d+/,
    ],
    [
      'a file that is not there',
      [join(folder, 'nowhere.stl'), ...setUp],
      /^file\/unreadable: .*nowhere\.stl/,
    ],
    [
      'an unknown key',
      [cube, ...setUp, '--job', file('typo.json', '{"layers":{"thicknes":0.2}}')],
      /^job\/unknown-key: .*"thicknes".*"thickness"/,
    ],
    [
      'a layer too thick for the nozzle',
      [cube, ...setUp, '--layers-thickness', '0.9'],
      /^layers\/too-thick: .*0\.9.*0\.3.*mm/,
    ],
    [
      'a machine with a joint missing',
      [
        cube,
        ...setUp.slice(2),
        '--machine',
        file(
          'short.json',
          JSON.stringify({
            ...machine,
            table: { ...machine.table, joints: machine.table.joints.slice(1) },
          }),
        ),
      ],
      /^machine\/joint-missing: /,
    ],
    [
      'a part too large for the table',
      [cube, ...setUp, '--place-scale', '20'],
      /^place\/off-table: .*mm.*80 mm/,
    ],
    [
      'a machine file that is no JSON',
      [cube, ...setUp.slice(2), '--machine', file('bad.json', '{')],
      /^file\/not-json: /,
    ],
  ];
  test.each(cases)('%s', (_name, words, line) => {
    const out = join(folder, 'never');
    const done = run('slice', ...words, '--out', out);
    expect(done.status).toBe(1);
    expect(lastLine(done.err)).toMatch(line);
    expect(done.err).not.toMatch(/^\s+at /m);
    expect(existsSync(out)).toBe(false);
  });

  test('wrong usage is exit 2', () => {
    expect(run('slice', '--no-such-flag').status).toBe(2);
    expect(run('fold').status).toBe(2);
  });
});

test('inspect says what a mesh is', () => {
  const done = run('inspect', cube, '--json');
  expect(done.status).toBe(0);
  // Closed forms for a box of 12 x 12 x 6 mm.
  expect(JSON.parse(done.out)).toMatchObject({
    closed: true,
    volume: 864,
    area: 576,
    shells: 1,
    genus: 0,
  });
});

test('schema prints JSON Schema with a description for every leaf', () => {
  const schema = JSON.parse(run('schema', 'job').out) as Node;
  const bare = leaves(schema, '')
    .filter(([, node]) => !node.description)
    .map(([path]) => path);
  expect(bare.filter((path) => !path.endsWith('$schema'))).toEqual([]);
});

interface Node {
  description?: string;
  properties?: Record<string, Node>;
}

function leaves(node: Node, path: string): [string, Node][] {
  return node.properties
    ? Object.entries(node.properties).flatMap(([key, inner]) => leaves(inner, `${path}.${key}`))
    : [[path, node]];
}
