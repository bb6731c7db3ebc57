/**
 * `tiltwright pieces`: test pieces for a machine. Writes one folder per piece: the part as 3MF and STL, a
 * job file, and a page that says how to read it and which number to enter where.
 */
import { dirname, join, relative, resolve } from 'node:path';
import { Command } from 'commander';
import type { FileContents } from '../lib/index.js';
import { parse } from '../lib/base/schema.js';
import { writeStl, writeThreeMf } from '../lib/formats/write-mesh.js';
import { jobFile } from '../lib/job/job-file.js';
import { loadSolidKernel } from '../lib/kernel/solid.js';
import { machineFile } from '../lib/machine/machine.js';
import { materialDoubts } from '../lib/machine/read-files.js';
import { testPieces, heldFile, leftOut, pageOf } from '../lib/pieces/pieces.js';
import { together } from './files.js';
import { findingLines } from './finding-lines.js';
import { machineFileAt, materialAt } from './machine-file.js';
import { claim, writeResult } from './out.js';
import { printLines } from './streams.js';

interface PiecesFlags {
  readonly machine: string;
  readonly material: string;
  readonly out: string;
}

export function piecesCommand(): Command {
  return new Command('pieces')
    .requiredOption('--machine <file>', 'machine file')
    .requiredOption('--material <file>', 'material file')
    .option('--out <folder>', 'result folder; an earlier result in it is replaced', 'out/pieces')
    .action(run);
}

async function run(flags: PiecesFlags): Promise<void> {
  const out = resolve(flags.out);
  await claim(out);
  const [{ content, machine }, material] = await together([
    machineFileAt(flags.machine),
    materialAt(flags.material),
  ]);
  const pieces = testPieces(machine, await loadSolidKernel());
  const file = parse(machineFile, content, 'machine', flags.machine);
  const held = `${JSON.stringify(heldFile(file, machine), null, 2)}\n`;
  const files = new Map<string, FileContents>();
  for (const piece of pieces) {
    const { name, mesh } = piece;
    const path = (file: string): string => join(name, file);
    const from = (file: string): string =>
      relative(dirname(join(out, path('job.json'))), resolve(file));
    const job = {
      note: piece.shows,
      part: `${name}.3mf`,
      machine: piece.held ? 'machine.json' : from(flags.machine),
      material: from(flags.material),
      ...piece.job,
    };
    parse(jobFile, job, 'job');
    files.set(path(`${name}.3mf`), writeThreeMf([{ name, mesh }]));
    files.set(path(`${name}.stl`), writeStl(mesh));
    if (piece.held) files.set(path('machine.json'), held);
    files.set(path('job.json'), `${JSON.stringify(job, null, 2)}\n`);
    files.set(path('reading.txt'), pageOf(piece));
  }
  const index = pieces.map(({ name, shows }) => ({ name, shows }));
  const left = leftOut(machine);
  files.set(
    'pieces.json',
    `${JSON.stringify({ machine: machine.name, pieces: index, leftOut: left }, null, 2)}\n`,
  );
  await writeResult(flags.out, files);
  const lines = [
    ...pieces.map(({ name, shows }) => `${name}: ${shows}`),
    ...left.map(({ name, why }) => `${name} is left out: ${why}`),
    ...findingLines([...machine.doubts, ...materialDoubts(material)], 'all with slice'),
  ];
  printLines([...lines, `written to ${flags.out}; read reading.txt beside each job.json`]);
}
