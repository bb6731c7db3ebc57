/** `tiltwright fetch <id>`: brings the result folder of a finished job. */
import { Command } from 'commander';
import { Fault } from '../lib/base/fault.js';
import type { Client } from '../worker/client.js';
import { type ServerFlags, addServerFlags, clientOf } from './client.js';
import { jobNumber } from './jobs.js';
import { claim, writeResult } from './out.js';
import { printLines } from './streams.js';

interface FetchFlags extends ServerFlags {
  readonly out: string;
}

export function fetchCommand(): Command {
  const command = new Command('fetch')
    .argument('<id>', 'number of the job')
    .option('--out <folder>', 'result folder; an earlier result in it is replaced', 'out/result');
  return addServerFlags(command).action(async (text: string, flags: FetchFlags) => {
    const client = await clientOf(flags);
    await fetchResult(client, jobNumber(text), flags.out);
    printLines([`written to ${flags.out}`]);
  });
}

/** @throws Fault `job/not-finished` with how the job stands instead */
export async function fetchResult(client: Client, id: number, out: string): Promise<void> {
  const { state, reason } = await client.job(id);
  if (state !== 'finished') {
    const why = reason ? `: ${reason.code}: ${reason.message}` : '';
    throw new Fault('job/not-finished', `job ${id} is ${state}${why}`);
  }
  await claim(out);
  const contents = new Map<string, Uint8Array>();
  for (const { name, bytes } of await client.files(id)) {
    const content = await client.file(id, name);
    if (content.byteLength !== bytes)
      throw new Fault('client/short', `${name}: ${content.byteLength} of ${bytes} bytes came`);
    contents.set(name, content);
  }
  await writeResult(out, contents);
}
