/**
 * The data folder: a database and, beside it, files under names that the store alone makes. What is
 * being written stands in `incoming` or `work` and is renamed when it is whole, so all else is whole.
 */
import { randomUUID } from 'node:crypto';
import { mkdirSync } from 'node:fs';
import { open, readdir, rename, rm, stat } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { diskFault } from './database.js';
import type { Jobs } from './jobs.js';

export class Folder {
  readonly path: string;

  /** Makes what is missing. @throws Fault `data/*` */
  constructor(path: string) {
    this.path = path;
    try {
      for (const name of ['incoming', 'work', 'parts', 'results', 'kept'])
        mkdirSync(join(path, name), { recursive: true, mode: 0o750 });
    } catch (error) {
      throw diskFault(error, path) ?? error;
    }
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

  /** Removes what a crash left: nothing here belongs to a job any more. */
  async sweep(jobs: Jobs): Promise<void> {
    const alive = jobs.alive();
    const named = (state: string): Set<string> =>
      new Set(alive.filter((j) => j.state === state).map((j) => `${j.id}-${j.attempt}`));
    await clear(join(this.path, 'incoming'), new Set());
    await clear(join(this.path, 'work'), named('running'));
    await clear(join(this.path, 'results'), named('finished'));
  }
}

async function clear(folder: string, but: ReadonlySet<string>): Promise<void> {
  for (const name of await readdir(folder))
    if (!but.has(name)) await rm(join(folder, name), { recursive: true, force: true });
}

/** Puts a whole file or folder in its place and makes sure that it stays there. */
export async function settle(from: string, to: string): Promise<void> {
  await rename(from, to);
  await syncFolder(dirname(to));
}

export async function syncFolder(path: string): Promise<void> {
  const handle = await open(path, 'r');
  try {
    await handle.sync();
  } finally {
    await handle.close();
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
