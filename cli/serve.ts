/** `tiltwright serve`: the job server; what it does is in serving.ts. */
import { availableParallelism, totalmem } from 'node:os';
import { Command, Option } from 'commander';
import type { ServeFlags } from './serving.js';

const cores = availableParallelism();
/** Half of the cores have a job each; a job's tasks use all of them. */
const JOBS = Math.max(1, Math.ceil(cores / 2));
/** Three quarters of the memory for all jobs together. */
const MEMORY_MB = Math.max(512, Math.floor((0.75 * totalmem()) / 1e6 / JOBS));
const HOUR_MINUTES = 60;

/** A flag whose standard value comes from the cores and the memory there are. */
const byMachine = (flags: string, description: string, value: number): Option =>
  new Option(flags, description).default(String(value), `${value} on this machine`);

export function serveCommand(): Command {
  return (
    new Command('serve')
      .option('--data <folder>', 'everything that the service keeps', 'tiltwright-data')
      .option(
        '--host <address>',
        'address to listen at; beyond loopback a token is needed',
        '127.0.0.1',
      )
      .option('--port <number>', 'port to listen at; 0: any', '7733')
      .addOption(byMachine('--jobs <count>', 'jobs at once', JOBS))
      .addOption(
        byMachine('--threads <count>', 'threads of all jobs together; 0: one a job', cores),
      )
      .addOption(byMachine('--memory <MB>', 'most memory of a job', MEMORY_MB))
      .option('--minutes <count>', 'most time of a job', String(12 * HOUR_MINUTES))
      .option('--kept <MB>', 'room for finished stages of earlier jobs', '1000')
      .option('--upload <MB>', 'largest upload', '200')
      .option(
        '--uploads <count>',
        'uploads at once for each token and from each address; four times as many over all',
        '16',
      )
      .option(
        '--upload-rate <kB/s>',
        'an upload that brings less over 20 s is ended; 0: none is',
        '10',
      )
      .option('--token-jobs <count>', 'waiting and running jobs of a token', '200')
      .option('--token-room <MB>', 'parts and results of a token', '5000')
      .option(
        '--proxy <address>',
        'a proxy at this address speaks TLS for the service and names the clients; everyone needs a token',
      )
      .option('--rate <count>', 'requests a minute from one address beyond this machine', '600')
      .option('--grace <s>', 'time for running jobs when the service is stopped', '20')
      .option('--lease <s>', 'a job whose runner is silent for so long is taken back', '15')
      .option(
        '--pause <s>',
        'pause before a crashed job is tried again; four times as long next',
        '5',
      )
      .option('--watch <folder>', 'take job files and meshes from this folder')
      .option('--watch-job <file>', 'job for bare meshes in the watched folder')
      .option(
        '--watch-missing <s>',
        'a job file whose part has not come after so long is refused',
        '60',
      )
      .option('--watch-settle <s>', 'a file that has not changed for so long is whole', '2')
      // Loaded on demand: other commands need no HTTP framework and no database.
      .action(async (flags: ServeFlags) => (await import('./serving.js')).runService(flags))
  );
}
