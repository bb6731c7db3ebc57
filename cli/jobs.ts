/** `tiltwright jobs [id]`: the jobs of a service, or the state of one. */
import { Command } from 'commander';
import type { Finding } from '../lib/index.js';
import type { Client } from '../worker/client.js';
import type { JobRecord, State } from '../worker/store/job.js';
import { STATES } from '../worker/store/job.js';
import { duration, findingCounts, outcome } from '../worker/store/outcome.js';
import { type ServerFlags, addServerFlags, clientOf } from './client.js';
import { findingLines } from './finding-lines.js';
import { numberFrom } from './numbers.js';
import { printJson, printLines } from './streams.js';

interface JobsFlags extends ServerFlags {
  readonly state?: string;
  readonly limit: string;
  readonly before?: string;
  readonly json?: boolean;
}

export function jobsCommand(): Command {
  const command = new Command('jobs')
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
    if (flags.json) printJson(job);
    else printLines([...detail(job), ...(await findingsOf(client, job))]);
    return;
  }
  const { state, limit, before } = flags;
  // What is no state or number is for the service to refuse, in its words.
  const page = await client.jobs({
    limit: limit as unknown as number,
    ...(state && { state: state.split(',') as State[] }),
    ...(before && { before: before as unknown as number }),
  });
  if (flags.json) printJson(page);
  else printLines(page.jobs.length === 0 ? ['no jobs'] : page.jobs.map(line));
}

/** What the report of a finished job found. */
async function findingsOf(client: Client, { id, summary }: JobRecord): Promise<string[]> {
  if (!summary || summary.errors + summary.warnings === 0) return [];
  const report = new TextDecoder().decode(await client.file(id, 'report.json'));
  const { findings } = JSON.parse(report) as { findings: readonly Finding[] };
  return findingLines(findings, 'all in report.json');
}

export const jobNumber = (text: string): number =>
  numberFrom('client', 'job', text, [1, Number.MAX_SAFE_INTEGER]);

function line(job: JobRecord): string {
  return `${String(job.id).padStart(5)}  ${outcome(job).padEnd(9)}  ${job.name}  ${about(job)}`.trimEnd();
}

function about({ state, progress, reason, summary }: JobRecord): string {
  if (state === 'running' && progress)
    return `${Math.floor(100 * progress.share)} %, ${progress.stage}`;
  if (summary)
    return `${summary.regions} region${summary.regions === 1 ? '' : 's'}, ${duration(summary.seconds)}, ${summary.massG.toFixed(1)} g`;
  return reason ? `${reason.code}: ${reason.message}` : '';
}

function detail(job: JobRecord): string[] {
  const time = (ms: number | undefined): string =>
    ms === undefined ? '-' : new Date(ms).toISOString();
  return [
    line(job).trimStart(),
    `part ${job.partName}, machine ${job.machineName}, material ${job.materialName}, priority ${job.priority}`,
    `submitted ${time(job.made)}, started ${time(job.started)}, ended ${time(job.ended)}`,
    ...(job.summary ? [`findings: ${findingCounts(job.summary)}; exit ${job.exit}`] : []),
    ...(job.tries + job.losses > 0 ? [`crashes ${job.tries}, lost runners ${job.losses}`] : []),
  ];
}
