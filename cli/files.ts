/** Single files in and out: what cannot be read or written is a Fault. Result folders are in out.ts. */
import { createReadStream } from 'node:fs';
import { mkdir, open, rm } from 'node:fs/promises';
import { dirname, resolve } from 'node:path';
import { BOUNDS } from '../lib/base/bounds.js';
import { Fault } from '../lib/base/fault.js';
import { Cancelled, writing } from './wire.js';

/** @throws Fault `file/unreadable`, `file/too-large` */
export async function readBytes(
  path: string,
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
    throw fileFault('file/unreadable', 'read', path, error);
  }
  if (size > most) {
    const message = `${path} has more than ${most} bytes, which is the limit`;
    throw new Fault('file/too-large', message, { file: path });
  }
  return pieces.length === 1 ? pieces[0]! : Buffer.concat(pieces, size);
}

/** @throws Fault `file/unreadable`, `file/too-large` */
export const readText = async (path: string): Promise<string> =>
  new TextDecoder().decode(await readBytes(path, BOUNDS.textBytes));

export async function readJson(path: string): Promise<unknown> {
  const text = await readText(path);
  try {
    return JSON.parse(text) as unknown;
  } catch (error) {
    throw new Fault('file/not-json', `${path} is not JSON: ${(error as Error).message}`, {
      file: path,
    });
  }
}

/** The Fault for what the system refuses, with its own word for the reason. */
export function fileFault(code: string, verb: string, path: string, error: unknown): Fault {
  const { code: reason, message } = error as NodeJS.ErrnoException;
  return new Fault(code, `cannot ${verb} ${path}: ${reason ?? message}`, { file: path });
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
