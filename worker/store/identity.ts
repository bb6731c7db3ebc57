/**
 * Whether a database and the folder around it belong together. Both bear the store's identity, a
 * random name given once. Both also count: the database numbers its events, and the folder notes the
 * last number that was on the disk (the generation). The note is written after each change and not
 * synchronised, so it may lag behind after a power cut but never runs ahead of a whole database: a
 * database that is behind the note has lost changes, as one whose log was cut off or that was copied
 * without its log.
 */
import { randomUUID } from 'node:crypto';
import {
  closeSync,
  existsSync,
  fsyncSync,
  openSync,
  readFileSync,
  readdirSync,
  renameSync,
  statSync,
  writeFileSync,
  writeSync,
} from 'node:fs';
import { join } from 'node:path';
import { z } from 'zod';
import { Fault } from '../../lib/index.js';
import { DATABASE, type Db } from './database.js';

export const CARD = 'store.json';
export const MARK = 'generation';
/** Stands in a folder for as long as a backup is being written into it. */
export const RESTORING = 'restoring';

const card = z.object({
  tiltwright: z.literal('store'),
  identity: z.string().min(1),
  /** ISO 8601, UTC. */
  made: z.string(),
});
export type Card = z.infer<typeof card>;

/** What can be seen of a store without opening its database. */
export interface Outside {
  readonly card?: Card;
  /** Events that the folder has noted; 0 for a store that was never whole. */
  readonly generation: number;
  readonly database: 'absent' | 'empty' | 'there';
  /** Results and parts. */
  readonly holdings: number;
}

/** @throws Fault `data/mismatch` for a card or generation that cannot be read */
export function lookAt(folder: string): Outside {
  const at = (name: string): string => join(folder, name);
  const bytes = (name: string): number | undefined =>
    statSync(at(name), { throwIfNoEntry: false })?.size;
  const database = bytes(DATABASE);
  const entries = (name: string): number =>
    existsSync(at(name)) ? readdirSync(at(name)).length : 0;
  const known = readCard(folder);
  return {
    ...(known ? { card: known } : {}),
    generation: readMark(folder),
    database: database === undefined ? 'absent' : database === 0 ? 'empty' : 'there',
    holdings: entries('results') + entries('parts'),
  };
}

/** @throws Fault `data/mismatch` for a damaged one */
export function readCard(folder: string): Card | undefined {
  const path = join(folder, CARD);
  if (!existsSync(path)) return undefined;
  try {
    return card.parse(JSON.parse(readFileSync(path, 'utf8')));
  } catch {
    throw mismatch(folder, `${CARD} in it is damaged`);
  }
}

function readMark(folder: string): number {
  const path = join(folder, MARK);
  if (!existsSync(path)) return 0;
  const text = readFileSync(path, 'utf8');
  // As it is made, and as a power cut may leave a new one.
  if (text === '') return 0;
  if (!/^\d{16}\n$/.test(text)) throw mismatch(folder, `${MARK} in it is damaged`);
  return Number(text);
}

export const mismatch = (folder: string, why: string): Fault =>
  new Fault(
    'data/mismatch',
    `the store in ${folder} is not whole: ${why}; nothing was changed. Restore a backup into an empty ` +
      `folder, or see tiltwright store doctor --data ${folder}, which can go on with what is there`,
    { file: folder },
  );

/** Writes the card of a store, whole or not at all. */
export function writeCard(folder: string, identity: string = randomUUID()): Card {
  const content: Card = { tiltwright: 'store', identity, made: new Date().toISOString() };
  const beside = join(folder, `.${CARD}`);
  writeFileSync(beside, `${JSON.stringify(content, null, 2)}\n`);
  sync(beside);
  renameSync(beside, join(folder, CARD));
  sync(folder);
  return content;
}

function sync(path: string): void {
  const file = openSync(path, 'r');
  fsyncSync(file);
  closeSync(file);
}

/**
 * Refuses a folder whose database is not the one that belongs to it, before that is opened (opening
 * makes what is absent, and a log without its database is thrown away).
 * @throws Fault `data/mismatch`, `data/half-restored`
 */
export function checkOutside(folder: string, outside: Outside): void {
  if (existsSync(join(folder, RESTORING)))
    throw new Fault(
      'data/half-restored',
      `a backup was not restored to its end in ${folder}: restore it there once more`,
      { file: folder },
    );
  const { database, holdings, generation } = outside;
  if (database !== 'there' && (holdings > 0 || generation > 0))
    throw mismatch(
      folder,
      `its database ${DATABASE} is ${database}, and it holds ${holdings} results and parts ` +
        `and has seen ${Math.max(0, generation - 1)} events`,
    );
}

/** As the database says; nothing for one that has no identity yet. */
export function identityIn(db: Db): string | undefined {
  const [row] = db.rows('select identity from store');
  return row && String(row['identity']);
}

/** Number of the last event ever written, whether or not it is still there. */
export function lastEvent(db: Db): number {
  const [row] = db.rows(`select seq from sqlite_sequence where name = 'events'`);
  return Number(row?.['seq'] ?? 0);
}

/** Events that the folder has noted, as far as its note can be read. */
export function notedEvents(folder: string): number {
  try {
    return Math.max(0, readMark(folder) - 1);
  } catch {
    return 0;
  }
}

/** Why a database is not of this folder or has lost changes, if so. */
export function disagreement(
  folder: string,
  { card, generation, holdings }: Outside,
  db: Db,
): Fault | undefined {
  const [inside, last] = [identityIn(db), lastEvent(db)];
  if (card && inside !== undefined && inside !== card.identity)
    return mismatch(
      folder,
      `its database is that of another store (${inside}, not ${card.identity})`,
    );
  if (!card && inside !== undefined && (holdings > 0 || last > 0))
    return mismatch(folder, `${CARD} is absent, so the database may have come from elsewhere`);
  const lost = generation - 1 - last;
  if (lost <= 0) return undefined;
  return mismatch(
    folder,
    `its database ends at event ${last} and the folder has seen event ${generation - 1}: ` +
      `the last ${lost} are lost (was ${DATABASE}-wal removed, or the database copied without it?)`,
  );
}

/**
 * Refuses what disagrees, and gives a new store, or one of a version without identities, its own.
 * @throws Fault `data/mismatch`
 */
export function agree(folder: string, outside: Outside, db: Db): Card {
  const refused = disagreement(folder, outside, db);
  if (refused) throw refused;
  const inside = identityIn(db);
  // The card first: a database without an identity takes that of the card, at any time.
  const agreed = outside.card ?? writeCard(folder, inside);
  if (inside === undefined) bearIdentity(db, agreed);
  return agreed;
}

export function bearIdentity(db: Db, { identity }: Card): void {
  db.run('insert into store (identity, made) values (?, ?)', identity, Date.now());
}

/** What the note of a folder holds after an event. */
export const markText = (seq: number): string => `${String(seq + 1).padStart(16, '0')}\n`;

/** The folder's note of the last event, one more than its number, so that 0 is a store never whole. */
export class Mark {
  readonly #file: number;

  constructor(folder: string) {
    const path = join(folder, MARK);
    // Not emptied first: the note stands whole at each moment, for it fits in one sector.
    this.#file = openSync(path, existsSync(path) ? 'r+' : 'w');
  }

  note(seq: number): void {
    writeSync(this.#file, markText(seq), 0);
  }

  sync(): void {
    fsyncSync(this.#file);
  }

  close(): void {
    closeSync(this.#file);
  }
}
