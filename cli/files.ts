/**
 * Files in and out. What cannot be read is a Fault; results are written into a folder beside the
 * wanted one, which is then renamed, so that a result is whole or absent.
 */
import { chmod, mkdir, mkdtemp, readFile, readdir, rename, rm, writeFile } from 'node:fs/promises';
import { basename, dirname, join, resolve } from 'node:path';
import { Fault } from '../lib/base/fault.js';
import type { Contents } from '../lib/report/files.js';

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

/** Every result folder holds one of these files, by which an earlier result is known again. */
const MARKS = ['report.json', 'directions.json', 'drives.json', 'check.json', 'pieces.json'];

/**
 * Writes named contents (paths relative to the folder) as one result folder.
 * An earlier result in its place is replaced after the new one is complete; any other folder that
 * holds something is refused.
 * @throws Fault `out/not-empty`, `out/unwritable`
 */
export async function writeResult(
  folder: string,
  contents: ReadonlyMap<string, Contents>,
): Promise<void> {
  const target = resolve(folder);
  await claim(target);
  const beside = await makeBeside(target);
  try {
    for (const [name, content] of contents) {
      const path = join(beside, name);
      await mkdir(dirname(path), { recursive: true });
      await writeFile(path, content);
    }
    await swap(beside, target);
  } catch (error) {
    throw error instanceof Fault ? error : fileFault('out/unwritable', 'write', target, error);
  } finally {
    await rm(beside, { recursive: true, force: true });
  }
}

/** Refuses a folder that holds anything but an earlier result. Called before long work, too. */
export async function claim(folder: string): Promise<void> {
  let names: string[];
  try {
    names = await readdir(folder);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') return;
    throw fileFault('out/unwritable', 'write', folder, error);
  }
  if (names.length > 0 && !MARKS.some((mark) => names.includes(mark))) {
    throw new Fault(
      'out/not-empty',
      `${folder} holds ${names.length} files and no earlier result; give an empty folder`,
      {
        file: folder,
      },
    );
  }
}

async function makeBeside(target: string): Promise<string> {
  try {
    await mkdir(dirname(target), { recursive: true });
    const beside = await mkdtemp(join(dirname(target), `.${basename(target)}-`));
    // mkdtemp keeps others out; a result is as open as any folder that its owner makes.
    await chmod(beside, 0o777 & ~process.umask());
    return beside;
  } catch (error) {
    throw fileFault('out/unwritable', 'write', target, error);
  }
}

async function swap(beside: string, target: string): Promise<void> {
  const old = `${beside}-old`;
  let hadOld = true;
  try {
    await rename(target, old);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'ENOENT') throw error;
    hadOld = false;
  }
  try {
    await rename(beside, target);
  } catch (error) {
    if (hadOld) await rename(old, target);
    throw error;
  }
  if (hadOld) await rm(old, { recursive: true, force: true });
}

function fileFault(code: string, verb: string, path: string, error: unknown): Fault {
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
