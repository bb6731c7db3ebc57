/**
 * Single files read and written: what cannot be read or written is a Fault that says what the file was
 * needed for. Result folders are in out.ts.
 */
import { createReadStream } from 'node:fs';
import { mkdir, open, rm } from 'node:fs/promises';
import { dirname, resolve } from 'node:path';
import { BOUNDS } from '../lib/base/bounds.js';
import type { JsonFile } from '../lib/index.js';
import { readJsonText } from '../lib/base/json.js';
import { Fault, Problems } from '../lib/base/fault.js';
import { Cancelled, writing } from './wire.js';

/**
 * @param what the file is wanted for, such as "the machine file"
 * @throws Fault `file/unreadable`, `file/too-large`
 */
export async function readBytes(
  path: string,
  what: string,
  most: number = BOUNDS.fileBytes,
): Promise<Uint8Array> {
  const pieces: Uint8Array[] = [];
  let size = 0;
  try {
    // Piece by piece: a device or a pipe does not say how much is coming.
    for await (const piece of createReadStream(path, { highWaterMark: 2 ** 20 })) {
      size += (piece as Uint8Array).length;
      if (size > most) break;
      pieces.push(piece as Uint8Array);
    }
  } catch (error) {
    throw fileFault('file/unreadable', `read ${what}`, path, error);
  }
  if (size > most) {
    const message = `${what} ${path} has more than ${most} bytes, which is the limit`;
    throw new Fault('file/too-large', message, { file: path });
  }
  return pieces.length === 1 ? pieces[0]! : Buffer.concat(pieces, size);
}

/** @throws Fault `file/unreadable`, `file/too-large` */
export const readText = async (path: string, what: string): Promise<string> =>
  new TextDecoder().decode(await readBytes(path, what, BOUNDS.textBytes));

/** @throws Fault `file/unreadable`, and those of `readJsonText` */
export const readJson = async (path: string, what: string): Promise<JsonFile> =>
  readJsonText(await readText(path, what), path);

/**
 * Results of work side by side, or one Fault of everything that is wrong, so that a job with mistakes in
 * two files says both.
 */
export async function together<const T extends readonly unknown[]>(
  work: T,
): Promise<{ -readonly [K in keyof T]: Awaited<T[K]> }> {
  const done = await Promise.allSettled(work);
  const failed = done.flatMap((d) => (d.status === 'rejected' ? [d.reason as unknown] : []));
  const odd = failed.find((error) => !(error instanceof Fault));
  if (odd) throw odd;
  const problems = new Problems();
  for (const fault of failed)
    problems.try(() => {
      throw fault;
    });
  if (problems.some) problems.end();
  return done.map((d) => (d as PromiseFulfilledResult<unknown>).value) as {
    -readonly [K in keyof T]: Awaited<T[K]>;
  };
}

/** The Fault for what the system refuses. */
export function fileFault(code: string, verb: string, path: string, error: unknown): Fault {
  return new Fault(code, `cannot ${verb} ${path}: ${reasonOf(error)}`, { file: path });
}

/** What the system says of a file, in words (POSIX names of errors, errno.h). */
const REASONS: Readonly<Record<string, string>> = {
  ENOENT: 'there is no such file',
  ENOTDIR: 'a part of its path is no folder',
  EISDIR: 'it is a folder',
  EACCES: 'you have no right to',
  EPERM: 'you have no right to',
  EROFS: 'it lies on a disk that cannot be written',
  ENOSPC: 'the disk is full',
  EDQUOT: 'your share of the disk is full',
  EMFILE: 'too many files are open',
  ELOOP: 'its links lead round in a circle',
  ENAMETOOLONG: 'its name is too long',
};

function reasonOf(error: unknown): string {
  const { code, message } = error as NodeJS.ErrnoException;
  return (code && REASONS[code]) ?? code ?? message;
}

async function writeOnce(path: string, content: string, signal: AbortSignal): Promise<void> {
  const file = await open(path, 'wx');
  try {
    await file.writeFile(content, { signal });
  } catch (error) {
    await rm(path, { force: true });
    throw error;
  } finally {
    await file.close();
  }
}

/** Writes a file that is not there yet. @throws Fault `out/exists`, `out/unwritable` */
export async function writeNew(path: string, content: string): Promise<void> {
  try {
    await mkdir(dirname(resolve(path)), { recursive: true });
    await writing((signal) => writeOnce(path, content, signal));
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'EEXIST') {
      throw new Fault('out/exists', `${path} exists already; give another name`, { file: path });
    }
    if (error instanceof Cancelled || (error as Error).name === 'AbortError') throw error;
    throw fileFault('out/unwritable', 'write', path, error);
  }
}
