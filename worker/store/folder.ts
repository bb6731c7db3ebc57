/**
 * The data folder: a database and, beside it, files under names that the store alone makes. What is being
 * written stands in `incoming` or `work` and is renamed when it is complete, so everything else is
 * complete.
 */
import { randomUUID } from 'node:crypto';
import { mkdirSync } from 'node:fs';
import { readdir, rm, stat } from 'node:fs/promises';
import { join } from 'node:path';
import { diskFault } from './database.js';

/** Makes the folders of a store where they are missing. @throws Fault `data/*` */
export function makeFolders(path: string): void {
  try {
    for (const name of ['incoming', 'work', 'parts', 'results', 'kept', 'asks'])
      mkdirSync(join(path, name), { recursive: true, mode: 0o750 });
  } catch (error) {
    throw diskFault(error, path) ?? error;
  }
}

export class Folder {
  readonly path: string;
  /** Of the store. */
  readonly identity: string;

  constructor(path: string, identity: string) {
    this.path = path;
    this.identity = identity;
  }

  /** A file for something that is on its way in. */
  incoming(): string {
    return join(this.path, 'incoming', randomUUID());
  }

  part(id: string): string {
    return join(this.path, 'parts', id);
  }

  /** Where one claim of a job writes. */
  work(job: number, attempt: number): string {
    return join(this.path, 'work', `${job}-${attempt}`);
  }

  result(job: number, attempt: number): string {
    return join(this.path, 'results', `${job}-${attempt}`);
  }

  get kept(): string {
    return join(this.path, 'kept');
  }
}

/** Removes the files used longest ago until what stays is within the limit. */
export async function trim(folder: string, limitBytes: number): Promise<void> {
  const files = [];
  for (const name of await readdir(folder)) {
    const path = join(folder, name);
    const s = await stat(path).catch(() => undefined);
    if (s) files.push({ path, bytes: s.size, used: s.mtimeMs });
  }
  let sum = files.reduce((n, f) => n + f.bytes, 0);
  files.sort((a, b) => a.used - b.used);
  for (const { path, bytes } of files) {
    if (sum <= limitBytes) return;
    await rm(path, { force: true });
    sum -= bytes;
  }
}
