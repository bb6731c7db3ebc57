/** `tiltwright submit [part]`: gives a job to a service, and with --wait stays until it has ended. */
import { randomUUID } from 'node:crypto';
import { basename, dirname, resolve } from 'node:path';
import { Command } from 'commander';
import { Fault } from '../lib/base/fault.js';
import { within } from '../lib/base/json.js';
import { parse } from '../lib/base/schema.js';
import { jobFile } from '../lib/job/job-file.js';
import { readMaterial } from '../lib/machine/read-files.js';
import type { JobEvent, JobRecord, Progress } from '../worker/store/job.js';
import { outcome } from '../worker/store/outcome.js';
import type { Client } from '../worker/client.js';
import { type ServerFlags, addServerFlags, clientOf } from './client.js';
import { fetchResult } from './fetch.js';
import { readBytes, readJson } from './files.js';
import { addFlags, withFlags } from './flags.js';
import { OWN } from './job-files.js';
import { machineFileAt } from './machine-file.js';
import { numberFrom } from './numbers.js';
import { claim } from './out.js';
import { printJson, printLines } from './streams.js';
import { showProgress } from './show.js';

interface SubmitFlags extends ServerFlags {
  readonly job?: string;
  readonly machine?: string;
  readonly material?: string;
  readonly name?: string;
  readonly priority: string;
  readonly key?: string;
  readonly wait?: boolean;
  readonly out?: string;
  readonly json?: boolean;
}

export function submitCommand(): Command {
  const command = new Command('submit')
    .argument('[part]', 'STL, OBJ, PLY, 3MF, GLB or STEP; stands over the part that the job names')
    .option('--job <file>', 'job file; flags stand over what it says')
    .option('--machine <name>', 'machine in the library of the service, or a .json file')
    .option('--material <name>', 'material in the library of the service, or a .json file')
    .option('--name <text>', 'name of the job, for people')
    .option('--priority <number>', '-10 to 10, the higher the sooner', '0')
    .option('--key <text>', 'idempotency key: the same key brings the same job')
    .option('--wait', 'stay until the job has ended')
    .option('--out <folder>', 'with --wait: bring the result into this folder')
    .option('--json', 'print the job as JSON');
  addServerFlags(command);
  addFlags(command, jobFile, OWN);
  return command.action((part: string | undefined, flags: SubmitFlags) =>
    run(command, part, flags),
  );
}

async function run(command: Command, part: string | undefined, flags: SubmitFlags): Promise<void> {
  if (flags.out !== undefined && !flags.wait)
    throw new Fault('client/bad-value', '--out brings the result and needs --wait');
  if (flags.out !== undefined) await claim(flags.out);
  const client = await clientOf(flags);
  const file = flags.job === undefined ? undefined : await readJson(flags.job, 'the job file');
  const value = withFlags(command, jobFile, OWN, file, (given, name) => {
    // Refused here with lines and flags, which the service does not see.
    parse(jobFile, given, 'job', name);
    return given as Record<string, unknown>;
  });
  const { part: named, machine, material, ...settings } = value;
  const from = dirname(flags.job ?? '.');
  const path = part ?? (typeof named === 'string' ? resolve(from, named) : missing('part'));
  const { id } = await client.upload(basename(path), await readBytes(path, 'the part'));
  const job = await client.submit(
    {
      part: id,
      machine: await nameOrContent('machine', flags.machine, machine, from),
      material: await nameOrContent('material', flags.material, material, from),
      settings,
      priority: numberFrom('client', 'priority', flags.priority, [-10, 10]),
      ...(flags.name === undefined ? {} : { name: flags.name }),
    },
    flags.key ?? randomUUID(),
  );
  if (flags.wait) await wait(client, job, flags);
  else if (flags.json) printJson(job);
  else printLines([`job ${job.id} ${job.state}`]);
}

/** A flag counts from here, what the job file says from its folder; what ends in .json is a file. */
async function nameOrContent(
  what: string,
  flag: string | undefined,
  named: unknown,
  from: string,
): Promise<unknown> {
  const text = flag ?? named;
  if (typeof text !== 'string') return missing(what);
  if (!text.endsWith('.json')) return text;
  const path = flag === undefined ? resolve(from, text) : text;
  if (what === 'machine') return (await machineFileAt(path)).content;
  const json = await readJson(path, 'the material file');
  within(json, readMaterial);
  return json.value;
}

const missing = (what: string): never => {
  throw new Fault(
    'job/missing',
    `no ${what} given: name it in the job file or on the command line`,
  );
};

async function wait(client: Client, { id }: JobRecord, flags: SubmitFlags): Promise<void> {
  const show = showProgress(flags.json === true, `stopped waiting; job ${id} goes on`);
  const { progress } = show.watch;
  const hear = ({ kind, data }: JobEvent): void => {
    if (kind !== 'progress') return;
    const { stage, share } = data as Progress;
    progress?.({ stage, done: Math.floor(100 * share), total: 100 });
  };
  const job = await client.follow(id, hear).finally(() => show.stop());
  if (flags.json) printJson(job);
  if (job.state === 'failed') throw Fault.fromData(job.reason!);
  if (job.state !== 'finished') throw new Fault('job/cancelled', `job ${id} was cancelled`);
  if (flags.out) await fetchResult(client, id, flags.out);
  if (!flags.json)
    printLines([`job ${id} ${outcome(job)}${flags.out ? `, written to ${flags.out}` : ''}`]);
  if (job.summary!.errors > 0) process.exitCode = 3;
}
