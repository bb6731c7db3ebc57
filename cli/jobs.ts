/** `tiltwright jobs [id]`: the jobs of a service, or how one stands. */
import { Command } from 'commander';
import type { JobRecord } from '../worker/store/job.js';
import { STATES } from '../worker/store/job.js';
import { type ServerFlags, addServerFlags, clientOf } from './client.js';
import { numberFrom } from './numbers.js';

interface JobsFlags extends ServerFlags {
  readonly state?: string;
  readonly limit: string;
  readonly before?: string;
  readonly json?: boolean;
}

export function jobsCommand(): Command {
  const command = new Command('jobs')
    .description('list the jobs of a service, newest first, or show one')
    .argument('[id]', 'number of a job')
    .option('--state <names>', `only of these states, by commas: ${STATES.join(', ')}`)
    .option('--limit <count>', 'at most so many', '20')
    .option('--before <id>', 'only jobs older than this one')
    .option('--json', 'print the answer as JSON');
  return addServerFlags(command).action(run);
}

async function run(id: string | undefined, flags: JobsFlags): Promise<void> {
  const client = await clientOf(flags);
  if (id !== undefined) {
    const job = await client.job(jobNumber(id));
    print(flags.json ? JSON.stringify(job, null, 2) : detail(job).join('\n'));
    return;
  }
  const { state, limit, before } = flags;
  const page = await client.list({ limit, ...(state && { state }), ...(before && { before }) });
  if (flags.json) print(JSON.stringify(page, null, 2));
  else if (page.jobs.length === 0) print('no jobs');
  else print(page.jobs.map(line).join('\n'));
}

export const jobNumber = (text: string): number =>
  numberFrom('client', 'job', text, [1, Number.MAX_SAFE_INTEGER]);

const print = (text: string): void => void process.stdout.write(`${text}\n`);

function line(job: JobRecord): string {
  return `${String(job.id).padStart(5)}  ${job.state.padEnd(9)}  ${job.name}  ${about(job)}`.trimEnd();
}

function about({ state, progress, reason, summary }: JobRecord): string {
  if (state === 'running' && progress)
    return `${progress.stage} ${progress.done} of ${progress.total}`;
  if (summary)
    return `${summary.regions} regions, ${(summary.seconds / 3600).toFixed(1)} h, ${summary.massG.toFixed(1)} g`;
  return reason ? `${reason.code}: ${reason.message}` : '';
}

function detail(job: JobRecord): string[] {
  const time = (ms: number | undefined): string =>
    ms === undefined ? '-' : new Date(ms).toISOString();
  return [
    line(job).trimStart(),
    `part ${job.partName}, machine ${job.machineName}, material ${job.materialName}, priority ${job.priority}`,
    `submitted ${time(job.made)}, started ${time(job.started)}, ended ${time(job.ended)}`,
    ...(job.tries + job.losses > 0 ? [`crashes ${job.tries}, lost runners ${job.losses}`] : []),
  ];
}
