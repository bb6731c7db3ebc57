/**
 * `tiltwright slice [part]`: the main job. Reads part, machine, material and job, writes one result
 * folder: program, report, page, pictures, regions and the settings that were used.
 */
import { Command } from 'commander';
import type { Job, SliceInput, SliceResult, SliceTools } from '../lib/index.js';
import { parse } from '../lib/base/schema.js';
import { jobFile } from '../lib/job/job-file.js';
import { slice } from '../lib/job/pipeline.js';
import { fileResult } from '../lib/job/file-result.js';
import { serialRunner } from '../lib/job/tasks.js';
import { loadSolidKernel } from '../lib/kernel/solid.js';
import { clocks } from '../worker/clocks.js';
import { readTemplate } from '../worker/template.js';
import { openPool } from '../worker/pool.js';
import { readBytes, readJson, together } from './files.js';
import { addFlags, withFlags } from './flags.js';
import { type JobFiles, OWN, jobFilesOf } from './job-files.js';
import { machineAt, materialAt } from './machine-file.js';
import { numberFrom } from './numbers.js';
import { claim, replaceResult, sayKept } from './out.js';
import { printJson } from './streams.js';
import { showProgress } from './show.js';
import { printSummary } from './summary.js';
import { version } from '../worker/version.js';

interface SliceFlags {
  readonly job?: string;
  readonly machine?: string;
  readonly material?: string;
  readonly out: string;
  readonly threads?: string;
  readonly json?: boolean;
}

export function sliceCommand(): Command {
  const command = new Command('slice')
    .argument('[part]', 'STL, OBJ, PLY, 3MF, GLB or STEP; stands over the part that the job names')
    .option('--job <file>', 'job file; flags stand over what it says')
    .option('--machine <file>', 'machine file')
    .option('--material <file>', 'material file')
    .option('--out <folder>', 'result folder; an earlier result in it is replaced', 'out/result')
    .option('--threads <count>', 'worker threads; 0 plans on the main thread')
    .option('--json', 'print report.json on the output stream and nothing else');
  addFlags(command, jobFile, OWN);
  return command.action((part: string | undefined, flags: SliceFlags) => run(command, part, flags));
}

async function run(command: Command, part: string | undefined, flags: SliceFlags): Promise<void> {
  const { job, files } = await readJob(command, part, flags);
  await claim(flags.out);
  const [machine, material, partBytes, solid, template] = await together([
    machineAt(files.machine),
    materialAt(files.material),
    readBytes(files.part, 'the part'),
    loadSolidKernel(),
    readTemplate(),
  ]);
  const show = showProgress(flags.json === true);
  try {
    const result = await planned(
      { partName: files.part, partBytes, machine, material, job },
      { solid, ...clocks, version, watch: show.watch },
      flags.threads,
    );
    const filed = await fileResult(result, { job, machine }, template, (contents) =>
      replaceResult(flags.out, contents),
    );
    show.stop();
    sayKept(flags.out, filed.written);
    if (flags.json) printJson(filed.report);
    else printSummary(filed.report, flags.out, topOf(filed.names), performance.now() / 1000);
    if (result.report.findings.some((f) => f.severity === 'error')) process.exitCode = 3;
  } finally {
    show.stop();
  }
}

/** The threads are there as long as there is work for them. */
async function planned(
  input: SliceInput,
  tools: Omit<SliceTools, 'run'>,
  threads: string | undefined,
): Promise<SliceResult> {
  const pool = await openRunner(threads);
  try {
    return await slice(input, { ...tools, run: pool.run });
  } finally {
    await pool.close();
  }
}

/** Names in the folder itself; what lies deeper stands under its folder's name. */
const topOf = (names: readonly string[]): string[] => [
  ...new Set(names.map((name) => name.replace(/\/.*/, '/'))),
];

/** The job with the flags over it. */
async function readJob(
  command: Command,
  part: string | undefined,
  flags: SliceFlags,
): Promise<{ job: Job; files: JobFiles }> {
  const file = flags.job === undefined ? undefined : await readJson(flags.job, 'the job file');
  const job = withFlags(command, jobFile, OWN, file, (value, name) =>
    parse(jobFile, value, 'job', name),
  );
  return { job, files: jobFilesOf(job, { ...flags, part }, flags.job) };
}

async function openRunner(
  threads: string | undefined,
): Promise<{ run: Awaited<ReturnType<typeof serialRunner>>; close(): Promise<void> }> {
  if (threads === undefined) return openPool();
  const count = numberFrom('job', 'threads', threads, [0, 64]);
  if (count === 0) return { run: await serialRunner(), close: async () => {} };
  return openPool(count);
}
