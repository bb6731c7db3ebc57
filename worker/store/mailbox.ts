/**
 * Requests from other processes to the one that holds the folder, so that it alone writes to the
 * database: a file in `asks/`, answered by a file beside it, each renamed into place when it is whole.
 * Whoever may write into the folder may ask, as whoever could write to the database. (A socket in the
 * folder answers faster, but its path may not be longer than about 100 characters.)
 */
import { randomUUID } from 'node:crypto';
import { readFileSync, readdirSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { setTimeout as pause } from 'node:timers/promises';
import { join } from 'node:path';
import { Fault, type FaultData } from '../../lib/index.js';
import type { Tokens } from './tokens.js';

/** A change or a question about tokens; only the digest of a token crosses. */
export type Ask =
  | { readonly kind: 'add'; readonly name: string; readonly hash: string }
  | { readonly kind: 'list' }
  | { readonly kind: 'remove'; readonly name: string };

type Answer = { readonly names: string[] } | { readonly fault: FaultData };

const LOOK_MS = 200;
const WAIT_MS = 15_000;
const box = (folder: string): string => join(folder, 'asks');

/** Does what is asked. Gives the names of all tokens after it. @throws Fault `token/*` */
export function perform(tokens: Tokens, ask: Ask): string[] {
  if (ask.kind === 'add') tokens.addHash(ask.name, ask.hash, Date.now());
  if (ask.kind === 'remove') tokens.remove(ask.name);
  return tokens.names();
}

/** Answers requests until it is stopped. What an earlier process left unanswered is dropped first. */
export function answerAsks(folder: string, tokens: Tokens): () => void {
  for (const name of readdirSync(box(folder))) rmSync(join(box(folder), name), { force: true });
  const timer = setInterval(() => {
    try {
      for (const name of readdirSync(box(folder)))
        if (/^[0-9a-f-]{36}$/.test(name)) answer(join(box(folder), name), tokens);
    } catch {
      // A full disk, or a folder that is gone: whoever asks hears that nobody answered.
    }
  }, LOOK_MS);
  timer.unref();
  return () => clearInterval(timer);
}

function answer(path: string, tokens: Tokens): void {
  let answer: Answer;
  try {
    answer = { names: perform(tokens, JSON.parse(readFileSync(path, 'utf8')) as Ask) };
  } catch (error) {
    // Nobody waits any more: the request was taken back just now.
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return;
    const fault = error instanceof Fault ? error : new Fault('token/defect', String(error));
    answer = { fault: fault.toData() };
  }
  rmSync(path, { force: true });
  put(`${path}.answer`, answer);
}

/** Asks the process that holds the folder. @throws Fault of the answer, `data/in-use` without one */
export async function ask(folder: string, what: Ask): Promise<string[]> {
  const path = join(box(folder), randomUUID());
  put(path, what);
  try {
    for (let waited = 0; waited < WAIT_MS; waited += LOOK_MS / 4) {
      await pause(LOOK_MS / 4);
      const text = read(`${path}.answer`);
      if (text === undefined) continue;
      const answer = JSON.parse(text) as Answer;
      if ('fault' in answer) throw Fault.fromData(answer.fault);
      return answer.names;
    }
  } finally {
    for (const name of [path, `${path}.answer`]) rmSync(name, { force: true });
  }
  throw new Fault(
    'data/in-use',
    `${folder} is in use by a process that did not answer within ${WAIT_MS / 1000} s`,
    { file: folder },
  );
}

function put(path: string, value: object): void {
  const beside = `${path}.part`;
  // Readable for a service that runs as somebody else; the folder keeps others out.
  writeFileSync(beside, JSON.stringify(value), { mode: 0o644 });
  renameSync(beside, path);
}

function read(path: string): string | undefined {
  try {
    return readFileSync(path, 'utf8');
  } catch {
    return undefined;
  }
}
