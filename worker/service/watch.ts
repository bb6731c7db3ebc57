/**
 * A folder whose job files and meshes become jobs. A file is taken when it has not changed for a while; it
 * is moved to `accepted` once its job is in the store, or to `refused` with the reason beside it. A crash
 * between the two makes no second job: the file's identity is the job's key.
 *
 * A fault of the job file leaves its mesh where it is, so that a corrected job file is all that is needed;
 * a fault of the mesh moves both. Whatever is wrong with one file, the others are examined.
 */
import { lstat, readFile, readdir } from 'node:fs/promises';
import { extname, join } from 'node:path';
import { z } from 'zod';
import { Fault, parse, readJsonText } from '../../lib/index.js';
import { diskFault } from '../store/database.js';
import type { Context } from './context.js';
import { checkChosen, contentOf, jobSettings, submit } from './submit.js';
import { bytesOf, fileName, markOf, moveTo, readText, writeReason } from './watched-files.js';

export interface WatchSettings {
  readonly folder: string;
  /** A file that has not changed for so long is whole. */
  readonly settleMs: number;
  /** A job file whose part has not come after so long is refused. */
  readonly missingMs: number;
  /** Job file's content for bare meshes; left out: they are left alone. */
  readonly standard?: unknown;
}

const POLL_MS = 500;
const MESHES = ['.stl', '.obj', '.ply', '.3mf', '.glb', '.step', '.stp'];
const JOB_BYTES = 1_000_000;
/** Faults of the service, not of the file: everything is tried again after a while. */
const PASSING = /^(data|service)\//;
const PASSING_MS = 5000;

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

/** A job file with its mesh, or a mesh by itself. */
interface Taken {
  readonly part: string;
  readonly job: unknown;
}

/** What a job file asks for, its part aside. */
type Asks = Omit<Parameters<typeof submit>[1], 'part' | 'name'>;

export class WatchedFolder {
  readonly #context: Context;
  readonly #settings: WatchSettings;
  readonly #timer: NodeJS.Timeout;
  readonly #say: (line: string) => void;
  #seen = new Map<string, Seen>();
  /** Files that are done with but could not be moved. */
  readonly #done = new Set<string>();
  /** Meshes whose job file was refused: they wait for another one, and are no bare meshes. */
  #awaiting: Set<string> | undefined;
  #looking: Promise<void> | undefined;
  #notBefore = 0;
  #complaint = '';

  /** @param say hears of each file that was taken or refused */
  constructor(context: Context, settings: WatchSettings, say: (line: string) => void) {
    this.#context = context;
    this.#settings = settings;
    this.#say = say;
    this.#timer = setInterval(() => this.#poll(), POLL_MS);
  }

  async stop(): Promise<void> {
    clearInterval(this.#timer);
    await this.#looking;
  }

  #poll(): void {
    if (performance.now() < this.#notBefore) return;
    this.#looking ??= this.#look()
      .then(() => (this.#complaint = ''))
      .catch((error: unknown) => this.#complain((error as Error).message))
      .finally(() => (this.#looking = undefined))
      .then(() => {});
  }

  /** Once, not at every look. */
  #complain(message: string): void {
    if (message !== this.#complaint) this.#say(`watched folder: ${message}`);
    this.#complaint = message;
  }

  async #look(): Promise<void> {
    this.#awaiting ??= await this.#recall();
    const whole = await this.#whole();
    const claimed = new Set<string>();
    for (const name of whole.filter(isJob))
      await this.#take(name, () => this.#jobFile(name, whole, claimed));
    const { standard } = this.#settings;
    if (standard === undefined) return;
    for (const name of whole) {
      if (!isMesh(name) || claimed.has(name) || this.#awaiting.has(this.#markOf(name))) continue;
      const job = { ...(standard as object), part: name };
      await this.#take(name, () => Promise.resolve({ part: name, job }));
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

  #markOf(name: string): string {
    return this.#seen.get(name)?.mark ?? '';
  }

  /** A job file with its mesh, or nothing while the mesh is not whole. */
  async #jobFile(
    name: string,
    whole: readonly string[],
    claimed: Set<string>,
  ): Promise<Taken | undefined> {
    const { folder, missingMs } = this.#settings;
    const text = await readText(join(folder, name), name, JOB_BYTES);
    for (const part of namedBy(name, text)) claimed.add(part);
    const job = readJsonText(text, name).value;
    const { part } = parse(watchedJob.pick({ part: true }).loose(), job, 'job', name);
    if (whole.includes(part)) return { part, job };
    const waited = performance.now() - this.#seen.get(name)!.since;
    if (!this.#seen.has(part) && waited >= missingMs)
      throw new Fault(
        'job/part-missing',
        `${name} names the part ${part}, which did not come within ${missingMs / 1000} s`,
      );
    return undefined;
  }

  async #take(name: string, find: () => Promise<Taken | undefined>): Promise<void> {
    /** What goes with the job file if this fails. */
    let files: readonly string[] = [name];
    try {
      const taken = await find();
      if (!taken) return;
      const { part } = taken;
      const both = part === name ? [name] : [name, part];
      const asks = this.#checked(taken);
      files = both;
      const id = await this.#submit(taken, asks, both);
      if (id === undefined) return;
      for (const file of both) await this.#move(file, 'accepted', `${id}-`);
      this.#say(`watched folder: ${name} is job ${id}`);
    } catch (error) {
      await this.#refuse(name, files, error);
    }
  }

  /** Everything that can be said of a job file without its mesh. @throws Fault `job/*`, `library/*` */
  #checked({ job }: Taken): Asks {
    checkChosen(job, 'by its name there');
    const { machine, material } = parse(watchedJob.loose(), job, 'job');
    const rest = Object.entries(job as object).filter(([key]) => !(key in watchedJob.shape));
    const settings = parse(jobSettings, Object.fromEntries(rest), 'job');
    contentOf(this.#context.data, 'machine', machine);
    contentOf(this.#context.data, 'material', material);
    return { machine, material, priority: 0, settings: settings as Record<string, unknown> };
  }

  /** The job's number, or nothing if a file changed while it was read. */
  async #submit(
    { part: name }: Taken,
    asks: Asks,
    files: readonly string[],
  ): Promise<number | undefined> {
    const { data, inspector, settings } = this.#context;
    const path = join(this.#settings.folder, name);
    const marks = files.map((f) => this.#markOf(f));
    const received = await data.parts.receive(bytesOf(path, name), settings.uploadMb * 1e6);
    try {
      if ((await markOf(path)) !== this.#markOf(name)) return undefined;
      const { format, inspection } = await inspector.inspect(received.path, name, 'watched folder');
      const part = await data.parts.keep(received, { name, format, inspection }, Date.now());
      return submit(data, { ...asks, part: part.id }, `watched ${marks.join(' ')} ${part.id}`).job
        .id;
    } finally {
      await data.parts.drop(received);
    }
  }

  async #refuse(name: string, files: readonly string[], error: unknown): Promise<void> {
    const { folder } = this.#settings;
    const fault =
      error instanceof Fault
        ? error
        : (diskFault(error, folder) ??
          new Fault('job/defect', `a defect of the program: ${(error as Error).message}`));
    if (PASSING.test(fault.code)) {
      this.#notBefore = performance.now() + PASSING_MS;
      return this.#complain(`${name} waits: ${fault.code}: ${fault.message}`);
    }
    if (isJob(name) && files.length === 1) await this.#keepWaiting(name);
    let moved = name;
    for (const file of files) {
      const at = await this.#move(file, 'refused');
      if (file === name) moved = at ?? name;
    }
    await writeReason(folder, moved, fault).catch((e: unknown) =>
      this.#complain((e as Error).message),
    );
    this.#say(`watched folder: ${name} refused: ${fault.code}: ${fault.message}`);
  }

  /** The meshes that a refused job file names stay, for the next job file. */
  async #keepWaiting(name: string): Promise<void> {
    const text = await readText(join(this.#settings.folder, name), name, JOB_BYTES).catch(() => '');
    for (const part of namedBy(name, text)) {
      const mark = this.#markOf(part);
      if (mark) this.#awaiting?.add(mark);
    }
  }

  /** What `#keepWaiting` knew in an earlier run: meshes older than the refusal of a job file of theirs. */
  async #recall(): Promise<Set<string>> {
    const { folder } = this.#settings;
    const refused = join(folder, 'refused');
    const waiting = new Set<string>();
    for (const name of (await readdir(refused).catch(() => [])).filter(isJob)) {
      const [text, since] = await Promise.all([
        readFile(join(refused, name), 'utf8').catch(() => ''),
        lstat(join(refused, name)).catch(() => undefined),
      ]);
      for (const part of namedBy(name, text)) {
        const path = join(folder, part);
        const mesh = await lstat(path).catch(() => undefined);
        if (mesh && since && mesh.ctimeMs <= since.ctimeMs) waiting.add((await markOf(path)) ?? '');
      }
    }
    return waiting;
  }

  /** The name after the move; nothing where the system did not let it move, which is said once. */
  async #move(name: string, to: string, prefix = ''): Promise<string | undefined> {
    const { folder } = this.#settings;
    const mark = await markOf(join(folder, name));
    if (mark === undefined) return undefined;
    this.#done.add(mark);
    try {
      return await moveTo(folder, name, to, prefix);
    } catch (error) {
      this.#say(`watched folder: ${name} cannot be moved: ${(error as Error).message}`);
      return undefined;
    }
  }
}

const isJob = (name: string): boolean => extname(name).toLowerCase() === '.json';
const isMesh = (name: string): boolean => MESHES.includes(extname(name).toLowerCase());

/** The mesh that a job file names; for one that cannot be read, those of its own name. */
function namedBy(name: string, text: string): string[] {
  const stem = name.slice(0, name.length - extname(name).length);
  const alike = MESHES.map((kind) => stem + kind);
  try {
    const { part } = JSON.parse(text) as { part?: unknown };
    return typeof part === 'string' && fileName.safeParse(part).success ? [part] : alike;
  } catch {
    return alike;
  }
}
