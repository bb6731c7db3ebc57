/**
 * Results describe themselves: the manifest of a result folder says which store, job and claim it belongs
 * to, and all that was asked for, so a result that was on the disk when its database was lost can be taken
 * in again.
 */
import { stat } from 'node:fs/promises';
import { basename, join } from 'node:path';
import { z } from 'zod';
import { type FileMark, sha256Of } from '../disk.js';
import { readManifest, writeManifest } from '../manifest.js';
import { type Result, summarySchema } from './job.js';
import type { Claim } from './queue.js';

const about = z.object({
  /** Identity of the store. */
  store: z.string(),
  id: z.number().int().positive(),
  attempt: z.number().int().positive(),
  made: z.number(),
  ended: z.number(),
  key: z.object({ key: z.string(), digest: z.string() }).optional(),
  order: z.object({
    name: z.string(),
    part: z.string(),
    partName: z.string(),
    machine: z.looseObject({ name: z.string() }),
    material: z.looseObject({ name: z.string() }),
    settings: z.unknown(),
    priority: z.number(),
  }),
  summary: summarySchema,
});
export type About = z.infer<typeof about>;

/** A result as its folder describes it. */
export interface Described extends About {
  readonly files: readonly {
    readonly name: string;
    readonly bytes: number;
    readonly sha256: string;
  }[];
}

/** Writes the description of a result into its folder, down to the disk. */
export async function describe(
  folder: string,
  { hold, order, made, key }: Claim,
  { summary, files }: Result,
  store: string,
): Promise<void> {
  const marks = new Map<string, FileMark>();
  for (const { name, bytes, sha256 } of files)
    if (sha256 !== undefined) marks.set(name, { bytes, sha256 });
  const { id, attempt } = hold;
  await writeManifest(folder, marks, {
    ...{ store, id, attempt, made, ended: Date.now() },
    ...(key ? { key } : {}),
    ...{ order, summary },
  });
}

/** What a folder says that it is, or nothing. Its name must say the same. */
export async function describedIn(folder: string): Promise<Described | undefined> {
  const manifest = await readManifest(folder).catch(() => undefined);
  const read = about.safeParse(manifest?.job);
  if (!manifest || !read.success) return undefined;
  const { id, attempt } = read.data;
  if (basename(folder).replace(/~\d+$/, '') !== `${id}-${attempt}`) return undefined;
  const files = Object.entries(manifest.files).map(([name, mark]) => ({ name, ...mark }));
  return { ...read.data, files };
}

/** Files of a result that are absent or not as they were written, each with what is wrong. */
export async function flaws(
  folder: string,
  files: readonly { readonly name: string; readonly bytes: number; readonly sha256?: string }[],
): Promise<string[]> {
  const found: string[] = [];
  for (const { name, bytes, sha256 } of files) {
    const path = join(folder, name);
    const size = (await stat(path).catch(() => undefined))?.size;
    if (size === undefined) found.push(`${name} is absent`);
    else if (size !== bytes) found.push(`${name} has ${size} bytes instead of ${bytes}`);
    else if (sha256 !== undefined && (await sha256Of(path)) !== sha256)
      found.push(`${name} does not have the digest that it was written with`);
  }
  return found;
}
