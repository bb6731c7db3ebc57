/** `tiltwright cancel <id>`: stops a job; with --remove it is forgotten, with its result. */
import { Command } from 'commander';
import { Fault } from '../lib/base/fault.js';
import { type ServerFlags, addServerFlags, clientOf } from './client.js';
import { jobNumber } from './jobs.js';
import { printLines } from './streams.js';

interface CancelFlags extends ServerFlags {
  readonly remove?: boolean;
}

export function cancelCommand(): Command {
  const command = new Command('cancel')
    .argument('<id>', 'number of the job')
    .option('--remove', 'remove the job and its result, also one that has ended');
  return addServerFlags(command).action(run);
}

async function run(text: string, flags: CancelFlags): Promise<void> {
  const client = await clientOf(flags);
  const id = jobNumber(text);
  const { ended } = await client.job(id);
  if (!flags.remove || ended === undefined)
    await client.cancel(id).catch((error: unknown) => {
      // It ended just now, which is as good where it is to be removed.
      if (!flags.remove || !(error instanceof Fault && error.code === 'job/ended')) throw error;
    });
  if (flags.remove) await client.remove(id);
  printLines([`job ${id} ${flags.remove ? 'removed' : 'cancelled'}`]);
}
