/** The example of the guide against the built package: it compiles, it runs, it says what it should. */
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

const example = /# The library\n\n```ts\n([\s\S]*?)```/.exec(
  readFileSync(join(root, 'cli/guide/library.md'), 'utf8'),
)![1]!;

mkdirSync(join(folder, 'node_modules/@types'), { recursive: true });
symlinkSync(root, join(folder, 'node_modules/tiltwright'));
symlinkSync(join(root, 'node_modules/@types/node'), join(folder, 'node_modules/@types/node'));
writeFileSync(join(folder, 'package.json'), '{"type":"module"}');
writeFileSync(join(folder, 'example.ts'), example);

const options: ts.CompilerOptions = {
  module: ts.ModuleKind.NodeNext,
  moduleResolution: ts.ModuleResolutionKind.NodeNext,
  target: ts.ScriptTarget.ES2022,
  types: ['node'],
  strict: true,
  skipLibCheck: true,
};

test('it compiles against the types of the package', () => {
  const program = ts.createProgram(
    [join(folder, 'example.ts')],
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

test('it runs, and a block leaves nothing that hangs', () => {
  copyFileSync(join(root, 'samples/machines/table-table-ac.json'), join(folder, 'machine.json'));
  copyFileSync(join(root, 'samples/materials/pla.json'), join(folder, 'pla.json'));
  writeFileSync(join(folder, 'elbow.stl'), writeStl(cuboid([8, 8, 4])));
  writeFileSync(
    join(folder, 'example.js'),
    ts.transpileModule(example, {
      compilerOptions: { ...options, module: ts.ModuleKind.ESNext },
    }).outputText,
  );
  const done = spawnSync(process.execPath, ['example.js'], { cwd: folder, encoding: 'utf8' });
  expect(done.stderr).toBe('');
  expect(done.stdout).toMatch(/plannedMm2: 0,/);
  expect(done.status).toBe(0);
});
