/**
 * Files that survive a power cut: contents are synchronised before anything names them, and a folder is
 * synchronised after a name in it has changed (POSIX promises neither by itself). Each file that is written
 * yields its SHA-256, so that whoever finds it later can check whether it is still the same.
 */
import { createHash } from 'node:crypto';
import { createReadStream } from 'node:fs';
import { mkdir, open, rename } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import type { FileContents } from '../lib/index.js';

/** By what a file is known again. */
export interface FileMark {
  readonly bytes: number;
  /** SHA-256 of its bytes, hexadecimal. */
  readonly sha256: string;
}

/** Text is gathered to so many characters before it is written. */
const BATCH = 1 << 20;

/** Writes a file that is not there yet, down to the disk. */
export async function writeSynced(path: string, content: FileContents): Promise<FileMark> {
  const hash = createHash('sha256');
  const file = await open(path, 'wx');
  let bytes = 0;
  try {
    for (const piece of piecesOf(content)) {
      hash.update(piece);
      bytes += piece.byteLength;
      await file.writeFile(piece);
    }
    await file.sync();
  } finally {
    await file.close();
  }
  return { bytes, sha256: hash.digest('hex') };
}

function* piecesOf(content: FileContents): Generator<Uint8Array> {
  if (typeof content === 'string') yield Buffer.from(content);
  else if (content instanceof Uint8Array) yield content;
  else {
    let text = '';
    for (const piece of content) {
      text += piece;
      if (text.length < BATCH) continue;
      yield Buffer.from(text);
      text = '';
    }
    yield Buffer.from(text);
  }
}

/** Writes named contents (paths within the folder) and synchronises every folder that they lie in. */
export async function writeAll(
  folder: string,
  contents: ReadonlyMap<string, FileContents>,
): Promise<Map<string, FileMark>> {
  const marks = new Map<string, FileMark>();
  const folders = new Set([folder]);
  for (const [name, content] of contents) {
    const path = join(folder, name);
    for (let at = dirname(path); !folders.has(at); at = dirname(at)) folders.add(at);
    await mkdir(dirname(path), { recursive: true });
    marks.set(name, await writeSynced(path, content));
  }
  for (const f of folders) await syncFolder(f);
  return marks;
}

export async function sha256Of(path: string): Promise<string> {
  const hash = createHash('sha256');
  for await (const piece of createReadStream(path)) hash.update(piece as Buffer);
  return hash.digest('hex');
}

export async function syncFolder(path: string): Promise<void> {
  const handle = await open(path, 'r');
  try {
    await handle.sync();
  } finally {
    await handle.close();
  }
}

/** Puts a whole file or folder in its place and makes sure that it stays there. */
export async function settle(from: string, to: string): Promise<void> {
  await rename(from, to);
  await syncFolder(dirname(to));
}
