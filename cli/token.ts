/** `tiltwright token`: who may use the service from other machines. Works while it runs. */
import { resolve } from 'node:path';
import { Command } from 'commander';
import { Fault } from '../lib/base/fault.js';
import type { Ask } from '../worker/store/mailbox.js';
import { printLines } from './streams.js';

interface TokenFlags {
  readonly data: string;
}

const NAME = /^[\p{L}\p{N}][\p{L}\p{N} ._-]{0,63}$/u;
const DATA = ['--data <folder>', 'data folder of the service', 'tiltwright-data'] as const;

export function tokenCommand(): Command {
  const command = new Command('token');
  command
    .command('add <name>')
    .description('make a token and print it once')
    .option(...DATA)
    .action(add);
  command
    .command('list')
    .description('print the names of all tokens')
    .option(...DATA)
    .action(async ({ data }: TokenFlags) => {
      printLines(await through(data, { kind: 'list' }));
    });
  command
    .command('remove <name>')
    .description('make a token worthless')
    .option(...DATA)
    .action(async (name: string, { data }: TokenFlags) => {
      await through(data, { kind: 'remove', name });
    });
  return command;
}

async function add(name: string, { data }: TokenFlags): Promise<void> {
  if (!NAME.test(name))
    throw new Fault('token/bad-value', `name: 1 to 64 letters, digits, spaces, . _ -, got ${name}`);
  const { hash, newToken } = await import('../worker/store/tokens.js');
  const token = newToken();
  await through(data, { kind: 'add', name, hash: hash(token) });
  printLines([token]);
}

/**
 * Has it done by whoever holds the folder: the service where one runs, else this process. Gives the
 * names of all tokens. Loaded on demand: other commands need no database.
 */
async function through(data: string, what: Ask): Promise<string[]> {
  const path = resolve(data);
  const { closeStore, openStore } = await import('../worker/store/data.js');
  const { ask, perform } = await import('../worker/store/mailbox.js');
  const { Tokens } = await import('../worker/store/tokens.js');
  let store;
  try {
    store = openStore(path);
  } catch (error) {
    if (error instanceof Fault && error.code === 'data/in-use') return ask(path, what);
    throw error;
  }
  try {
    return perform(new Tokens(store.db), what);
  } finally {
    closeStore(store.db, store.mark);
  }
}
