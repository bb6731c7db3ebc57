/**
 * A folder whose job files and meshes become jobs. A file is taken when it has not changed for a
 * while; it is moved to `accepted` once its job is in the store, or to `refused` with the reason
 * beside it. A crash between the two makes no second job: the file's identity is the job's key.
 */
import { createReadStream } from 'node:fs';
import { lstat, mkdir, readFile, readdir, rename, writeFile } from 'node:fs/promises';
import { extname, join } from 'node:path';
import { z } from 'zod';
import { Fault } from '../../lib/base/fault.js';
import { parse } from '../../lib/base/schema.js';
import { diskFault } from '../store/database.js';
import type { Context } from './context.js';
import { jobSettings, submit } from './submit.js';

export interface WatchSettings {
  readonly folder: string;
  /** A file that has not changed for so long is whole. */
  readonly settleMs: number;
  /** Job file's content for bare meshes; left out: they are left alone. */
  readonly standard?: unknown;
}

const POLL_MS = 500;
const MESHES = ['.stl', '.obj', '.3mf'];
/** Faults that tell of the service, not of the file: it is tried again. */
const PASSING = /^(data|service)\//;

const fileName = z
  .string()
  .regex(/^[^./\\\p{Cc}][^/\\\p{Cc}]*$/u, 'name of a file in the watched folder, without a path');
const watchedJob = z.object({
  part: fileName.describe('a mesh in the watched folder'),
  machine: z.string().describe('name in the library'),
  material: z.string().describe('name in the library'),
});

interface Seen {
  /** Size and times, by which a change shows. */
  readonly mark: string;
  readonly since: number;
}

interface Taken {
  /** Names of the files that make the job. */
  readonly files: readonly string[];
  readonly job: unknown;
}

export class WatchedFolder {
  readonly #context: Context;
  readonly #settings: WatchSettings;
  readonly #timer: NodeJS.Timeout;
  readonly #tell: (line: string) => void;
  #seen = new Map<string, Seen>();
  /** Files that are done with but could not be moved. */
  readonly #done = new Set<string>();
  #looking: Promise<void> | undefined;

  /** @param tell hears of each file that was taken or refused */
  constructor(context: Context, settings: WatchSettings, tell: (line: string) => void) {
    this.#context = context;
    this.#settings = settings;
    this.#tell = tell;
    this.#timer = setInterval(() => this.#poll(), POLL_MS);
  }

  async stop(): Promise<void> {
    clearInterval(this.#timer);
    await this.#looking;
  }

  #poll(): void {
    this.#looking ??= this.#look()
      .catch((error: unknown) => this.#tell(`watched folder: ${(error as Error).message}`))
      .finally(() => (this.#looking = undefined));
  }

  async #look(): Promise<void> {
    const whole = await this.#whole();
    const jobs = whole.filter((name) => extname(name) === '.json');
    const claimed = new Set<string>();
    for (const name of jobs) await this.#take(name, () => this.#jobFile(name, whole, claimed));
    const { standard } = this.#settings;
    if (standard === undefined) return;
    for (const name of whole) {
      if (!MESHES.includes(extname(name).toLowerCase()) || claimed.has(name)) continue;
      const job = { ...(standard as object), part: name };
      await this.#take(name, () => Promise.resolve({ files: [name], job }));
    }
  }

  /** Names of the files that have stood unchanged for a while. */
  async #whole(): Promise<string[]> {
    const { folder, settleMs } = this.#settings;
    const now = performance.now();
    const seen = new Map<string, Seen>();
    const whole: string[] = [];
    for (const name of (await readdir(folder)).sort()) {
      if (!fileName.safeParse(name).success) continue;
      const mark = await markOf(join(folder, name));
      if (mark === undefined || this.#done.has(mark)) continue;
      const before = this.#seen.get(name);
      const since = before?.mark === mark ? before.since : now;
      seen.set(name, { mark, since });
      if (now - since >= settleMs) whole.push(name);
    }
    this.#seen = seen;
    return whole;
  }

  /** A job file with its mesh, or nothing while the mesh is not whole. */
  async #jobFile(
    name: string,
    whole: readonly string[],
    claimed: Set<string>,
  ): Promise<Taken | undefined> {
    const text = await readFile(join(this.#settings.folder, name), 'utf8');
    let job: unknown;
    try {
      job = JSON.parse(text);
    } catch (error) {
      throw new Fault('file/not-json', `${name} is not JSON: ${(error as Error).message}`);
    }
    const { part } = parse(watchedJob.pick({ part: true }).loose(), job, 'job', name);
    claimed.add(part);
    return whole.includes(part) ? { files: [name, part], job } : undefined;
  }

  async #take(name: string, find: () => Promise<Taken | undefined>): Promise<void> {
    let files: readonly string[] = [name];
    try {
      const taken = await find();
      if (!taken) return;
      files = taken.files;
      const id = await this.#submit(taken);
      if (id === undefined) return;
      await this.#move(files, 'accepted', `${id}-`);
      this.#tell(`watched folder: ${name} is job ${id}`);
    } catch (error) {
      const fault = error instanceof Fault ? error : diskFault(error, this.#settings.folder);
      if (!fault) throw error;
      if (PASSING.test(fault.code)) return;
      await this.#move(files, 'refused', '');
      const reason = join(this.#settings.folder, 'refused', `${name}.txt`);
      await writeFile(reason, `${fault.code}: ${fault.message}\n`);
      this.#tell(`watched folder: ${name} refused: ${fault.code}: ${fault.message}`);
    }
  }

  /** The job's number, or nothing if a file changed while it was read. */
  async #submit({ files, job }: Taken): Promise<number | undefined> {
    const { data, inspector, settings } = this.#context;
    const { part: name, machine, material } = parse(watchedJob.loose(), job, 'job');
    const path = join(this.#settings.folder, name);
    const marks = files.map((f) => this.#seen.get(f)!.mark);
    const received = await data.parts.receive(createReadStream(path), settings.uploadMb * 1e6);
    try {
      if ((await markOf(path)) !== this.#seen.get(name)!.mark) return undefined;
      const { format, inspection } = await inspector.inspect(received.path, name);
      const part = await data.parts.keep(received, { name, format, inspection }, Date.now());
      const rest = Object.entries(job as object).filter(([key]) => !(key in watchedJob.shape));
      const asks = { part: part.id, machine, material, priority: 0 };
      const order = { ...asks, settings: parse(jobSettings, Object.fromEntries(rest), 'job') };
      return submit(data, order, `watched ${marks.join(' ')} ${part.id}`).job.id;
    } finally {
      await data.parts.drop(received);
    }
  }

  async #move(files: readonly string[], to: string, prefix: string): Promise<void> {
    const { folder } = this.#settings;
    await mkdir(join(folder, to), { recursive: true });
    for (const name of files) {
      const mark = await markOf(join(folder, name));
      if (mark !== undefined) this.#done.add(mark);
      await rename(join(folder, name), join(folder, to, prefix + name));
    }
  }
}

/** What a file is and when it changed; nothing for what is no plain file. */
async function markOf(path: string): Promise<string | undefined> {
  const s = await lstat(path).catch(() => undefined);
  return s?.isFile() ? `${s.ino}.${s.size}.${s.mtimeMs}.${s.ctimeMs}` : undefined;
}
