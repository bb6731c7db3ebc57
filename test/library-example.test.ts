/** The examples of the guide against the built package: they compile, they run, they say what they should. */
import { spawnSync } from 'node:child_process';
import {
  copyFileSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import ts from 'typescript';
import { afterAll, expect, test } from 'vitest';
import { writeStl } from '../lib/formats/write-mesh.js';
import { cuboid } from './support/shapes.js';

const root = fileURLToPath(new URL('..', import.meta.url));
const folder = mkdtempSync(join(tmpdir(), 'tiltwright-readme-'));
afterAll(() => rmSync(folder, { recursive: true }));

const guide = readFileSync(join(root, 'cli/guide/library.md'), 'utf8');
const blocks = [...guide.matchAll(/```ts\n([\s\S]*?)```/g)].map(([, text]) => text!);
const [slicing, , , machine, proof] = blocks as [string, string, string, string, string];

mkdirSync(join(folder, 'node_modules/@types'), { recursive: true });
symlinkSync(root, join(folder, 'node_modules/tiltwright'));
symlinkSync(join(root, 'node_modules/@types/node'), join(folder, 'node_modules/@types/node'));
writeFileSync(join(folder, 'package.json'), '{"type":"module"}');
const names = blocks.map((text, i) => {
  const name = join(folder, `example-${i}.ts`);
  writeFileSync(name, text);
  return name;
});

const options: ts.CompilerOptions = {
  module: ts.ModuleKind.NodeNext,
  moduleResolution: ts.ModuleResolutionKind.NodeNext,
  target: ts.ScriptTarget.ES2022,
  types: ['node'],
  strict: true,
  skipLibCheck: true,
};

/** Runs an example as a program of the user's. */
function run(example: string): ReturnType<typeof spawnSync> {
  const { outputText } = ts.transpileModule(example, {
    compilerOptions: { ...options, module: ts.ModuleKind.ESNext },
  });
  writeFileSync(join(folder, 'example.js'), outputText);
  return spawnSync(process.execPath, ['example.js'], { cwd: folder, encoding: 'utf8' });
}

test('they compile against the types of the package', () => {
  const program = ts.createProgram(
    names,
    { ...options, noEmit: true },
    {
      ...ts.createCompilerHost(options),
      getCurrentDirectory: () => folder,
    },
  );
  const said = ts
    .getPreEmitDiagnostics(program)
    .map((d) => ts.flattenDiagnosticMessageText(d.messageText, '\n'));
  expect(said).toEqual([]);
});

test('slicing runs, and a block leaves nothing that hangs', () => {
  copyFileSync(join(root, 'samples/machines/table-table-ac.json'), join(folder, 'machine.json'));
  copyFileSync(join(root, 'samples/materials/pla.json'), join(folder, 'pla.json'));
  writeFileSync(join(folder, 'elbow.stl'), writeStl(cuboid([8, 8, 4])));
  const done = run(slicing);
  expect(done.stderr).toBe('');
  expect(done.stdout).toMatch(/plannedMm2: 0,/);
  expect(done.status).toBe(0);
});

test('a machine file from answers is checked, shown and proved, and a planted sign is named', () => {
  const page = readFileSync(join(root, 'cli/guide/first-motion.md'), 'utf8');
  writeFileSync(join(folder, 'answers.json'), /```json\n([\s\S]*?)```/.exec(page)![1]!);
  const made = run(machine);
  expect(made.stderr).toBe('');
  expect(made.status).toBe(0);
  expect(made.stdout).toMatch(/^warning: nozzle\.diameter is assumed/m);
  // A turns by 100 deg either way and C without end.
  expect(made.stdout).toMatch(/^note: the head reaches every direction up to 100 deg/m);
  const read = (name: string): string => readFileSync(join(folder, name), 'utf8');
  expect(read('bench.html')).toContain('<title>bench machine</title>');
  for (const name of ['steps.ngc', 'poses.ngc']) expect(read(name)).toMatch(/^M0\b/m);
  expect(read('seen.html')).toContain('seen.csv');
  // As the answers say, but Z, whose motor is wired the other way round.
  const seen = [
    'step 1,Z +10 mm,the head goes down,,,',
    'step 2,Y +10 mm,the head goes away from you,,,',
    'step 3,X +10 mm,the head goes right,,,',
    "step 4,A +10 deg,the table's near edge goes down,,,",
    'step 5,C +10 deg,the table turns counter-clockwise,,,',
  ];
  writeFileSync(
    join(folder, 'seen.csv'),
    ['row,what,seen,x mm,y mm,z mm', ...seen].join('\n') + '\n',
  );
  const judged = run(proof);
  expect([judged.stderr, judged.status]).toEqual(['', 0]);
  expect(judged.stdout).toMatch(/^head\.joints\.0\.axis: Z counts the other way round[^\n]*\n$/);
});
