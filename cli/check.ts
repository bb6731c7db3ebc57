/**
 * `tiltwright check <program>`: reads a program back on a machine and reports what would come out. The
 * part, where it is given, must stand as the program has it: `part.stl` of a result folder does.
 */
import { Command } from 'commander';
import { z } from 'zod';
import type { Mesh, ProgramCheck } from '../lib/index.js';
import { Fault } from '../lib/base/fault.js';
import { parse } from '../lib/base/schema.js';
import { readPart } from '../lib/formats/read-part.js';
import { loadSolidKernel } from '../lib/kernel/solid.js';
import { verify } from '../lib/verify/verify.js';
import { jsonText } from '../lib/base/printable.js';
import { materialDoubts } from '../lib/machine/read-files.js';
import { checkRules } from '../lib/verify/rules.js';
import { checkLines } from './check-lines.js';
import { LONGEST_BRIDGE } from '../lib/verify/hanging-stretches.js';
import { readBytes, readText, together } from './files.js';
import { addFlags, withFlags } from './flags.js';
import { machineAt, materialAt } from './machine-file.js';
import { numberFrom } from './numbers.js';
import { claim, writeResult } from './out.js';
import { printJson, printLines } from './streams.js';
import { showProgress } from './show.js';

/** The check's own settings, with the flags that `slice` has for them. */
const settings = z.strictObject({ check: checkRules.omit({ run: true }).prefault({}) });

interface CheckFlags {
  readonly machine: string;
  readonly material?: string;
  readonly part?: readonly string[];
  readonly bridge?: number;
  readonly out?: string;
  readonly json?: boolean;
}

export function checkCommand(): Command {
  const command = new Command('check')
    .argument('<program>', 'RS-274 program, from anywhere')
    .requiredOption('--machine <file>', 'machine file')
    .option(
      '--material <file>',
      'material file; its flow range is then held against the program, and what is laid weighs on joints that give',
    )
    .option(
      '--part <mesh...>',
      'STL, OBJ, PLY, 3MF, GLB or STEP, as it stands on the table; several are pieces apart of one part',
    )
    .option(
      '--bridge <mm>',
      `longest span that the machine lays from one carried place to the other; left out: 0 with --part, else ${LONGEST_BRIDGE} mm`,
      (text) => numberFrom('check', '--bridge', text, [0, 200], false),
    )
    .option('--out <folder>', 'write check.json there; an earlier result in it is replaced')
    .option('--json', 'print the figures on the output stream and nothing else');
  addFlags(command, settings, []);
  return command.action(run);
}

async function run(path: string, flags: CheckFlags, command: Command): Promise<void> {
  const { check: bounds } = withFlags(command, settings, [], undefined, (value) =>
    parse(settings, value, 'check'),
  );
  if (flags.out) await claim(flags.out);
  const [text, machine, material] = await together([
    readText(path, 'the program'),
    machineAt(flags.machine),
    flags.material && materialAt(flags.material),
  ]);
  const part = flags.part && (await partOf(flags.part));
  const show = showProgress(flags.json === true);
  const facts = {
    bounds: { ...bounds, run: true },
    ...(material ? { flow: material.flow, density: material.density } : {}),
    ...(part ? { part } : {}),
    ...(flags.bridge === undefined ? {} : { bridge: flags.bridge }),
  };
  let read: ProgramCheck;
  try {
    read = verify(text, machine, facts, show.watch).check;
  } finally {
    show.stop();
  }
  const doubts = [...machine.doubts, ...(material ? materialDoubts(material) : [])];
  const check = { ...read, findings: [...doubts, ...read.findings] };
  if (flags.out) await writeResult(flags.out, new Map([['check.json', `${jsonText(check)}\n`]]));
  if (flags.json) printJson(check);
  else {
    const all = flags.out ? 'all in check.json' : 'all of them with --json';
    printLines(checkLines(check, all));
  }
  if (check.findings.some((f) => f.severity === 'error')) process.exitCode = 3;
}

async function partOf(paths: readonly string[]): Promise<Mesh> {
  const kernel = await loadSolidKernel();
  const meshes: Mesh[] = [];
  for (const path of paths) {
    const { mesh } = readPart(await readBytes(path, 'the part'), path, kernel, {});
    if (mesh.twins.includes(-1)) {
      throw new Fault('check/open-part', `${path} is not closed, so it has no inside`, {
        file: path,
      });
    }
    meshes.push(mesh);
  }
  return meshes.length === 1 ? meshes[0]! : kernel.unite(meshes);
}
