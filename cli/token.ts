/** `tiltwright token`: who may use the service from other machines. Works while it runs. */
import { resolve } from 'node:path';
import { Command } from 'commander';
import { Fault } from '../lib/base/fault.js';
import type { Tokens } from '../worker/store/tokens.js';

interface TokenFlags {
  readonly data: string;
}

const NAME = /^[\p{L}\p{N}][\p{L}\p{N} ._-]{0,63}$/u;

export function tokenCommand(): Command {
  const command = new Command('token').description('tokens for using the service from elsewhere');
  const add = (
    name: string,
    what: string,
    work: (tokens: Tokens, name: string) => string,
  ): void => {
    command
      .command(name)
      .description(what)
      .option('--data <folder>', 'data folder of the service', 'tiltwright-data')
      .action(async (first: string | TokenFlags, second: TokenFlags) => {
        const [given, flags] = typeof first === 'string' ? [first, second] : ['', first];
        process.stdout.write(await withTokens(flags.data, (tokens) => work(tokens, given)));
      });
  };
  add('add <name>', 'make a token and print it once', (tokens, name) => {
    if (!NAME.test(name))
      throw new Fault(
        'token/bad-value',
        `name: 1 to 64 letters, digits, spaces, . _ -, got ${name}`,
      );
    return `${tokens.add(name, Date.now())}\n`;
  });
  add('list', 'print the names of all tokens', (tokens) =>
    tokens
      .names()
      .map((n) => `${n}\n`)
      .join(''),
  );
  add('remove <name>', 'make a token worthless', (tokens, name) => {
    tokens.remove(name);
    return '';
  });
  return command;
}

/** Loaded on demand: other commands need no database. */
async function withTokens(path: string, work: (tokens: Tokens) => string): Promise<string> {
  const { openDatabase } = await import('../worker/store/database.js');
  const { Folder } = await import('../worker/store/folder.js');
  const { Tokens } = await import('../worker/store/tokens.js');
  const db = openDatabase(new Folder(resolve(path)).path);
  try {
    return work(new Tokens(db));
  } finally {
    db.close();
  }
}
