/**
 * `tiltwright drives <job or program>`: what the motors must do. Reads a job (and plans it) or a motion
 * program, writes one folder: drives.json, the clouds of torque and speed and time against ratio (SVG
 * and PNG), and the same in words.
 */
import { basename } from 'node:path';
import { Command } from 'commander';
import type { FileContents, JointPath, Machine, Study } from '../lib/index.js';
import { Fault } from '../lib/base/fault.js';
import { within } from '../lib/base/json.js';
import { parse } from '../lib/base/schema.js';
import { findingsOf as drivesFindings } from '../lib/drives/findings.js';
import { pathOfMotion, pathOfProgram } from '../lib/drives/job-path.js';
import { studyDrives } from '../lib/drives/study.js';
import { jobFile } from '../lib/job/job-file.js';
import { slice } from '../lib/job/pipeline.js';
import { loadSolidKernel } from '../lib/kernel/solid.js';
import { readOptions, readProgram } from '../lib/program/read-program.js';
import { LONGEST_MESSAGE, jsonText, printable } from '../lib/base/printable.js';
import { studyLines } from '../lib/drives/study-words.js';
import { motionRules } from '../lib/motion/rules.js';
import { cloudPicture, cloudRaster } from '../lib/drives/torque-speed-picture.js';
import { ratioPicture, ratioRaster } from '../lib/drives/ratio-picture.js';
import { drivesRecord } from '../lib/drives/drives-record.js';
import { openPool } from '../worker/pool.js';
import { version } from '../worker/version.js';
import { readBytes, readJson, readText, together } from './files.js';
import { findingLines } from './finding-lines.js';
import { jobFilesOf } from './job-files.js';
import { machineAt, materialAt } from './machine-file.js';
import { numberFrom } from './numbers.js';
import { claim, writeResult } from './out.js';
import { printJson, printLines } from './streams.js';
import { type Show, showProgress } from './show.js';

interface DrivesFlags {
  readonly machine?: string;
  readonly material?: string;
  readonly density?: string;
  readonly sweep: boolean;
  readonly out: string;
  readonly json?: boolean;
}

/** What the path is of, and what else the study needs to know. */
interface Motions {
  /** For people. */
  readonly name: string;
  readonly path: JointPath;
  readonly machine: Machine;
  readonly density: number;
  readonly deviation: number;
}

export function drivesCommand(): Command {
  return new Command('drives')
    .argument('<job or program>', 'job file (.json), which is planned, or a motion program')
    .option('--machine <file>', 'machine file with drives; stands over the one of the job')
    .option('--material <file>', 'material file; stands over the one of the job')
    .option('--density <g/cm3>', 'of what a program lays, instead of a material file')
    .option('--no-sweep', 'leave other ratios and motors aside')
    .option('--out <folder>', 'result folder; an earlier result in it is replaced', 'out/drives')
    .option('--json', 'print drives.json on the output stream and nothing else')
    .action(run);
}

async function run(source: string, flags: DrivesFlags): Promise<void> {
  await claim(flags.out);
  const show = showProgress(flags.json === true);
  let study: Study;
  let name: string;
  try {
    const { path, machine, ...rest } = source.endsWith('.json')
      ? await planned(source, flags, show)
      : await written(source, flags, show);
    name = rest.name;
    study = studyDrives(path, machine, { ...rest, sweep: flags.sweep }, show.watch);
  } finally {
    show.stop();
  }
  const record = drivesRecord(study, { source: name, version });
  const lines = [`${name} on ${study.machine.name}`, ...studyLines(study)];
  const files = new Map<string, FileContents>([
    ['drives.json', `${jsonText(record)}\n`],
    ['drives.txt', `${lines.map((line) => printable(line, LONGEST_MESSAGE)).join('\n')}\n`],
    ['torque-speed.svg', cloudPicture(study, name)],
    ['torque-speed.png', cloudRaster(study)],
  ]);
  if (study.sweeps.length > 0) {
    files.set('ratio.svg', ratioPicture(study, name));
    files.set('ratio.png', ratioRaster(study));
  }
  await writeResult(flags.out, files);
  const findings = [...study.machine.doubts, ...drivesFindings(study)];
  if (flags.json) printJson(record);
  else {
    const told = findingLines(findings, 'all in drives.json');
    const names = [...files.keys()].join(', ');
    printLines([...lines, ...told, `written to ${flags.out}: ${names}`]);
  }
  if (findings.some((f) => f.severity === 'error')) process.exitCode = 3;
}

/** The job is planned, without the check of its program. */
async function planned(source: string, flags: DrivesFlags, show: Show): Promise<Motions> {
  if (flags.density !== undefined) {
    throw new Fault('drives/density', 'a job knows its material: --density is for programs');
  }
  const job = within(await readJson(source, 'the job file'), (value, file) =>
    parse(jobFile, value, 'job', file),
  );
  const files = jobFilesOf(job, { machine: flags.machine, material: flags.material }, source);
  const [machine, material, partBytes, solid] = await together([
    machineAt(files.machine),
    materialAt(files.material),
    readBytes(files.part, 'the part'),
    loadSolidKernel(),
  ]);
  const pool = openPool();
  try {
    const { motion } = await slice(
      {
        partName: files.part,
        partBytes,
        machine,
        material,
        job: { ...job, check: { ...job.check, run: false } },
      },
      {
        solid,
        run: pool.run,
        clock: () => performance.now() / 1000,
        version,
        watch: show.watch,
      },
    );
    return {
      name: printable(basename(files.part)),
      path: pathOfMotion(motion),
      machine,
      density: material.density,
      deviation: job.motion.cornerDeviation,
    };
  } finally {
    await pool.close();
  }
}

async function written(source: string, flags: DrivesFlags, show: Show): Promise<Motions> {
  if (flags.machine === undefined) {
    throw new Fault('drives/no-machine', 'a program does not name its machine: give --machine');
  }
  const machine = await machineAt(flags.machine);
  const text = await readText(source, 'the program');
  const program = readProgram(text, readOptions(machine), show.watch);
  const deviation = motionRules.parse({}).cornerDeviation;
  return {
    name: printable(basename(source)),
    path: pathOfProgram(program, machine, deviation),
    machine,
    density: await densityOf(flags),
    deviation,
  };
}

async function densityOf({ material, density }: DrivesFlags): Promise<number> {
  if (material !== undefined) return (await materialAt(material)).density;
  if (density !== undefined) {
    return numberFrom('drives', '--density, g/cm3', density, [0.1, 25], false);
  }
  throw new Fault(
    'drives/density',
    'a program does not say what it lays: give --material or --density in g/cm3',
  );
}
