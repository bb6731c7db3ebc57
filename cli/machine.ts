/**
 * `tiltwright machine`: from a bare machine to its first true motion. `new` writes the file from answers,
 * `check` says what would be found out later, `show` is a page,
 * `prove` and `judge` find what is wrong at the real machine.
 */
import { Command } from 'commander';
import { Fault } from '../lib/base/fault.js';
import type { Vec3 } from '../lib/base/vector.js';
import { checkMachine } from '../lib/commission/check-machine.js';
import type { MachineFile } from '../lib/machine/machine.js';
import { machinePicture } from '../lib/commission/machine-picture.js';
import { machinePage } from '../lib/commission/machine-page.js';
import { together, writeNew } from './files.js';
import { severityLines } from './finding-lines.js';
import { machineFileAt } from './machine-file.js';
import { newCommand } from './machine-new.js';
import { judgeCommand, proveCommand } from './machine-prove.js';
import { listFrom } from './numbers.js';
import { printJson, printLines } from './streams.js';
import { readMachineTemplate } from '../worker/template.js';

export function machineCommand(): Command {
  return new Command('machine')
    .addCommand(newCommand())
    .addCommand(checkCommand())
    .addCommand(showCommand())
    .addCommand(proveCommand())
    .addCommand(judgeCommand());
}

interface CheckFlags {
  readonly part?: Vec3;
  readonly json?: boolean;
}

function checkCommand(): Command {
  return new Command('check')
    .description(
      'what would be found out later: room for a part at each tilt, what meets in the travel, speeds, homing, guesses',
    )
    .argument('<file>', 'machine file')
    .option(
      '--part <x,y,z>',
      'size of the part that is to fit, mm; left out: half as wide and high as the table',
      sizeFrom,
    )
    .option('--json', 'print the findings on the output stream and nothing else')
    .action(async (path: string, { part, json }: CheckFlags) => {
      const { content, machine } = await machineFileAt(path);
      const { guessed } = content as MachineFile;
      const findings = checkMachine(machine, { part, guessed });
      if (json) printJson({ machine: machine.name, findings });
      else printLines(severityLines(findings));
      if (findings.some((f) => f.severity === 'error')) process.exitCode = 3;
    });
}

interface ShowFlags {
  readonly out: string;
  readonly picture?: string;
}

function showCommand(): Command {
  return new Command('show')
    .description('a page that shows the machine and moves its joints; one file, no network')
    .argument('<file>', 'machine file')
    .requiredOption('--out <page>', 'HTML file; must not exist yet')
    .option('--picture <file>', 'SVG of the machine, for a repository; must not exist yet')
    .action(async (path: string, { out, picture }: ShowFlags) => {
      const [{ content, machine }, template] = await together([
        machineFileAt(path),
        readMachineTemplate(),
      ]);
      await writeNew(out, machinePage(template, machine.name, content));
      if (picture !== undefined) await writeNew(picture, machinePicture(machine));
      const also = picture === undefined ? '' : `, and its picture to ${picture}`;
      printLines([`written to ${out}${also}; open it in a browser`]);
    });
}

function sizeFrom(text: string): Vec3 {
  const values = listFrom('machine', '--part', text, ['x', 'y', 'z']);
  if (values.every((v) => v > 0 && v <= LARGEST_PART)) return values as unknown as Vec3;
  throw new Fault(
    'machine/bad-value',
    `--part: three sizes over 0 and up to ${LARGEST_PART} mm, got ${text}`,
  );
}

/** mm */
const LARGEST_PART = 10_000;
