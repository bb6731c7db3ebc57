/**
 * Kept stages as files named by the digest of their inputs and of the code. A file is written under another
 * name and renamed, and opens with the digest of what follows, so a damaged one counts as absent.
 */
import { createHash, randomUUID } from 'node:crypto';
import { mkdir, readFile, rename, rm, utimes, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { deserialize, serialize } from 'node:v8';
import type { StageStore } from '../../lib/index.js';
import { codeDigest, digestOf } from './digest.js';

const HEAD = 32;

/**
 * Keeps stages in a folder, which is made if need be. Handed to `slice` as `keep`, it saves a second run
 * all stages whose inputs, settings and code are the same. Nothing is removed: the time of a file tells
 * when it was used last.
 */
export async function keepStages(folder: string): Promise<StageStore> {
  await mkdir(folder, { recursive: true });
  return keepIn(folder, codeDigest());
}

export function keepIn(folder: string, code: string): StageStore {
  const pathOf = (stage: string, inputs: unknown): string =>
    join(folder, digestOf(code, stage, inputs));
  return {
    async get(stage, inputs) {
      const path = pathOf(stage, inputs);
      const bytes = await readFile(path).catch(() => undefined);
      if (!bytes || !whole(bytes)) return undefined;
      const now = new Date();
      // The time shows which files were used last; nothing else depends on it.
      await utimes(path, now, now).catch(() => {});
      return deserialize(bytes.subarray(HEAD)) as unknown;
    },
    async put(stage, inputs, record) {
      const beside = join(folder, randomUUID());
      try {
        const body = serialize(record);
        await writeFile(beside, [sum(body), body]);
        await rename(beside, pathOf(stage, inputs));
      } catch {
        // No room, or too large for one file: the stage is made again next time.
        await rm(beside, { force: true });
      }
    },
  };
}

const sum = (body: Uint8Array): Uint8Array => createHash('sha256').update(body).digest();

const whole = (bytes: Buffer): boolean =>
  bytes.length > HEAD && bytes.subarray(0, HEAD).equals(sum(bytes.subarray(HEAD)));
