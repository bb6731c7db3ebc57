/** Uploaded parts, named by the SHA-256 of their bytes, with what an inspection found. */
import { createHash } from 'node:crypto';
import { open, rm } from 'node:fs/promises';
import { Fault } from '../../lib/index.js';
import { type Db, diskFault } from './database.js';
import { settle } from '../disk.js';
import type { Folder } from './folder.js';
import type { PartRecord } from './job.js';

/** A file that has come in whole but has not been looked at. */
export interface Received {
  readonly path: string;
  readonly id: string;
  readonly bytes: number;
}

/** Parts that no job names are forgotten after this. */
const UNUSED_MS = 24 * 3600_000;

export class Parts {
  readonly #db: Db;
  readonly #folder: Folder;
  readonly #clock: () => number;
  /** Parts that came in while this process ran, with the moment of the clock. */
  readonly #recent = new Map<string, number>();

  /** @param clock moments in ms, by a clock that is never set */
  constructor(db: Db, folder: Folder, clock: () => number = () => performance.now()) {
    this.#db = db;
    this.#folder = folder;
    this.#clock = clock;
  }

  /**
   * Writes a stream to the disk as it comes.
   * @throws Fault `upload/too-large` as soon as there is more than the limit, `upload/empty`
   */
  async receive(stream: AsyncIterable<Uint8Array>, limitBytes: number): Promise<Received> {
    const path = this.#folder.incoming();
    try {
      const { id, bytes } = await write(path, stream, limitBytes);
      if (bytes === 0) throw new Fault('upload/empty', 'the upload holds 0 bytes');
      return { path, id, bytes };
    } catch (error) {
      await this.drop({ path });
      throw diskFault(error, this.#folder.path) ?? error;
    }
  }

  async drop({ path }: Pick<Received, 'path'>): Promise<void> {
    await rm(path, { force: true });
  }

  /** Takes a received file in. The same bytes are one part, under the name that came last. */
  async keep(
    { path, id, bytes }: Received,
    about: Pick<PartRecord, 'name' | 'format' | 'inspection'>,
    now: number,
  ): Promise<PartRecord> {
    try {
      await settle(path, this.#folder.part(id));
    } catch (error) {
      throw diskFault(error, this.#folder.path) ?? error;
    }
    this.#db.run(
      `insert into parts (id, name, bytes, format, inspection, made) values (?, ?, ?, ?, ?, ?)
       on conflict (id) do update set name = excluded.name, made = excluded.made`,
      id,
      about.name,
      bytes,
      about.format,
      JSON.stringify(about.inspection),
      now,
    );
    this.#recent.set(id, this.#clock());
    return { id, bytes, made: now, ...about };
  }

  show(id: string): PartRecord | undefined {
    const [row] = this.#db.rows('select * from parts where id = ?', id);
    return (
      row && {
        id,
        name: String(row['name']),
        bytes: Number(row['bytes']),
        format: String(row['format']),
        inspection: JSON.parse(String(row['inspection'])) as unknown,
        made: Number(row['made']),
      }
    );
  }

  /**
   * Removes parts that no job has named for a day. For those that came in while this process ran the
   * day is one of its own clock: setting the clock of the machine takes no part from under a client.
   */
  async sweep(now: number): Promise<void> {
    const clock = this.#clock();
    for (const [id, at] of this.#recent) if (clock - at > UNUSED_MS) this.#recent.delete(id);
    const rows = this.#db.rows(
      'select id from parts where made < ? and id not in (select part from jobs)',
      now - UNUSED_MS,
    );
    for (const row of rows) {
      if (this.#recent.has(String(row['id']))) continue;
      this.#db.run('delete from parts where id = ?', row['id']!);
      await rm(this.#folder.part(String(row['id'])), { force: true });
    }
  }
}

async function write(
  path: string,
  stream: AsyncIterable<Uint8Array>,
  limitBytes: number,
): Promise<{ id: string; bytes: number }> {
  const hash = createHash('sha256');
  const file = await open(path, 'wx', 0o640);
  let bytes = 0;
  try {
    for await (const chunk of stream) {
      bytes += chunk.byteLength;
      if (bytes > limitBytes) throw tooLarge(bytes, limitBytes);
      hash.update(chunk);
      await file.write(chunk);
    }
    await file.sync();
  } finally {
    await file.close();
  }
  return { id: hash.digest('hex'), bytes };
}

export function tooLarge(bytes: number, limitBytes: number): Fault {
  const mb = (n: number): string => (n / 1e6).toFixed(1);
  return new Fault(
    'upload/too-large',
    `the upload holds at least ${mb(bytes)} MB; the limit is ${mb(limitBytes)} MB`,
  );
}
