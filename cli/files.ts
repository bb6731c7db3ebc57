/** Single files in and out: what cannot be read or written is a Fault. Result folders are in out.ts. */
import { mkdir, readFile, writeFile } from 'node:fs/promises';
import { dirname, resolve } from 'node:path';
import { Fault } from '../lib/base/fault.js';

export async function readBytes(path: string): Promise<Uint8Array> {
  try {
    return await readFile(path);
  } catch (error) {
    throw fileFault('file/unreadable', 'read', path, error);
  }
}

export async function readJson(path: string): Promise<unknown> {
  const text = new TextDecoder().decode(await readBytes(path));
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

/** Writes a file that is not there yet. @throws Fault `out/exists`, `out/unwritable` */
export async function writeNew(path: string, content: string): Promise<void> {
  try {
    await mkdir(dirname(resolve(path)), { recursive: true });
    await writeFile(path, content, { flag: 'wx' });
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'EEXIST') {
      throw new Fault('out/exists', `${path} exists already; give another name`, { file: path });
    }
    throw fileFault('out/unwritable', 'write', path, error);
  }
}
