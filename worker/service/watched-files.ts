/** Files of a watched folder: what marks one, reading one that may be anything, moving one out of the way. */
import { randomUUID } from 'node:crypto';
import { type FileHandle, lstat, mkdir, open, rename, rm, writeFile } from 'node:fs/promises';
import { extname, join } from 'node:path';
import { z } from 'zod';
import { Fault } from '../../lib/index.js';

export const fileName = z
  .string()
  .regex(/^[^./\\\p{Cc}][^/\\\p{Cc}]*$/u, 'name of a file in the watched folder, without a path');

/** Bytes that the name of a file may have, on the file systems in use. */
const NAME_BYTES = 255;
const REASON = '.txt';

/** What a file is and when it changed; nothing for what is no plain file. */
export async function markOf(path: string): Promise<string | undefined> {
  const s = await lstat(path).catch(() => undefined);
  return s?.isFile() ? `${s.ino}.${s.size}.${s.mtimeMs}.${s.ctimeMs}` : undefined;
}

/** @throws Fault `file/too-large`, `file/unreadable` */
export async function readText(path: string, name: string, limitBytes: number): Promise<string> {
  return reading(name, async () => {
    const file = await open(path, 'r');
    try {
      const { size } = await file.stat();
      if (size > limitBytes)
        throw new Fault(
          'file/too-large',
          `${name} holds ${(size / 1e6).toFixed(1)} MB; a job file may hold ${limitBytes / 1e6} MB`,
        );
      return await file.readFile('utf8');
    } finally {
      await file.close();
    }
  });
}

/** The bytes of a file. @throws Fault `file/unreadable`, so that no fault of the service is meant */
export async function* bytesOf(path: string, name: string): AsyncGenerator<Uint8Array> {
  const file: FileHandle = await reading(name, () => open(path, 'r'));
  try {
    const pieces = file.createReadStream({ autoClose: false })[Symbol.asyncIterator]();
    for (;;) {
      const { done, value } = await reading(name, () => pieces.next());
      if (done) return;
      yield value as Uint8Array;
    }
  } finally {
    await file.close();
  }
}

async function reading<T>(name: string, work: () => Promise<T>): Promise<T> {
  try {
    return await work();
  } catch (error) {
    if (error instanceof Fault) throw error;
    const { code, message } = error as { code?: string; message: string };
    throw new Fault('file/unreadable', `${name} cannot be read (${code ?? message})`);
  }
}

/** Moves a file into a folder below its own. Gives its name there: no file there is ever replaced. */
export async function moveTo(
  folder: string,
  name: string,
  to: string,
  prefix = '',
): Promise<string> {
  await mkdir(join(folder, to), { recursive: true });
  for (let i = 1; ; i++) {
    const kind = extname(name);
    const stem = name.slice(0, name.length - kind.length);
    const end = `${i === 1 ? '' : `-${i}`}${kind}`;
    const room = NAME_BYTES - Buffer.byteLength(prefix + end + REASON);
    const moved = prefix + shortened(stem, room) + end;
    if ((await lstat(join(folder, to, moved)).catch(() => undefined)) !== undefined) continue;
    await rename(join(folder, name), join(folder, to, moved));
    return moved;
  }
}

/** Puts why a file was refused beside it: whoever sees the reason's file sees all of it. */
export async function writeReason(folder: string, moved: string, fault: Fault): Promise<void> {
  const draft = join(folder, `.${randomUUID()}${REASON}`);
  try {
    await writeFile(draft, `${fault.code}: ${fault.message}\n`);
    await rename(draft, join(folder, 'refused', moved + REASON));
  } catch (error) {
    await rm(draft, { force: true });
    throw error;
  }
}

/** As many whole characters as the bytes hold. */
function shortened(text: string, bytes: number): string {
  let kept = text;
  while (Buffer.byteLength(kept) > bytes) kept = [...kept].slice(0, -1).join('');
  return kept;
}
