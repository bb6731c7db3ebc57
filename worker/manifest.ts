/**
 * What a result folder says of itself: one file that lists every other file that we wrote into it with its
 * digest. By it a folder is recognised as ours, and each file in it as ours and unchanged; a result of the
 * job server also says which job it belongs to, so that it can be identified without the database.
 */
import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { z } from 'zod';
import { type FileMark, syncFolder, writeSynced } from './disk.js';
import { version } from './version.js';

export const MANIFEST = 'tiltwright-manifest.json';

const fileMark = z.object({
  bytes: z.number().int().min(0),
  sha256: z.string().regex(/^[0-9a-f]{64}$/),
});

const manifest = z.object({
  /** Tells this file from any other that bears its name. */
  tiltwright: z.literal('result'),
  version: z.string(),
  /** ISO 8601, UTC. */
  date: z.string(),
  files: z.record(z.string(), fileMark),
  /** The job that the result is of; what it holds is the store's business. */
  job: z.unknown().optional(),
});
export type Manifest = z.infer<typeof manifest>;

/** Writes the manifest as the last file of a folder, down to the disk. */
export async function writeManifest(
  folder: string,
  marks: ReadonlyMap<string, FileMark>,
  job?: object,
): Promise<void> {
  const content: Manifest = {
    tiltwright: 'result',
    version,
    date: new Date().toISOString(),
    files: Object.fromEntries(marks),
    ...(job ? { job } : {}),
  };
  await writeSynced(join(folder, MANIFEST), `${JSON.stringify(content, null, 2)}\n`);
  await syncFolder(folder);
}

/** The manifest of a folder, or nothing if it holds none that we could have written. */
export async function readManifest(folder: string): Promise<Manifest | undefined> {
  const text = await readFile(join(folder, MANIFEST), 'utf8').catch(unlessAbsent);
  if (text === undefined) return undefined;
  try {
    return manifest.parse(JSON.parse(text));
  } catch {
    return undefined;
  }
}

/** What cannot be read for another reason may be ours: to take it for absent could cost files. */
function unlessAbsent(error: unknown): undefined {
  if (!['ENOENT', 'ENOTDIR', 'EISDIR', 'ELOOP'].includes((error as { code: string }).code))
    throw error;
}
