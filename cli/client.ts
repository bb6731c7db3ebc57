/** How the commands find a service: by flags and environment. */
import { type Command } from 'commander';
import { Client } from '../worker/client.js';
import { readText } from './files.js';

export interface ServerFlags {
  readonly server: string;
  readonly tokenFile?: string;
}

export function addServerFlags(command: Command): Command {
  const server = process.env['TILTWRIGHT_SERVER'] ?? 'http://127.0.0.1:7733';
  return command
    .option('--server <url>', 'address of the service (TILTWRIGHT_SERVER)', server)
    .option('--token-file <file>', 'file that holds the token (or the token in TILTWRIGHT_TOKEN)');
}

export async function clientOf(flags: ServerFlags): Promise<Client> {
  const token = flags.tokenFile
    ? (await readText(flags.tokenFile, 'the token file')).trim()
    : process.env['TILTWRIGHT_TOKEN'];
  return new Client(flags.server, token);
}
