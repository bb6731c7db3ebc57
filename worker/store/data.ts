/** Everything that the service keeps, in one folder, held by one process. */
import { type Db, lockFolder, openLocked } from './database.js';
import { EmbeddedQueue, STANDARD_TIMES, type Times } from './embedded.js';
import { type Engine, standardEngine } from './engine.js';
import { Folder, makeFolders } from './folder.js';
import { Mark, agree, checkOutside, lastEvent, lookAt } from './identity.js';
import { Jobs } from './jobs.js';
import { Journal } from './journal.js';
import { Library } from './library.js';
import { answerAsks } from './mailbox.js';
import { Parts } from './parts.js';
import { Sessions } from './sessions.js';
import { finishPublished, takeStock } from './stock.js';
import { Tokens } from './tokens.js';
import { Usage } from './usage.js';

export interface Data {
  readonly folder: Folder;
  readonly journal: Journal;
  readonly jobs: Jobs;
  readonly queue: EmbeddedQueue;
  readonly parts: Parts;
  readonly library: Library;
  readonly tokens: Tokens;
  /** What was found when the folder was opened and a person should know: lines of text. */
  readonly notes: readonly string[];
  readonly sessions: Sessions;
  readonly usage: Usage;
  close(): void;
}

/** After so long without a change the log goes into the database, which then stands by itself. */
const IDLE_MS = 3000;

/**
 * Opens a data folder, new or old, and takes stock of what a crash left in it. No other process holds
 * it, so jobs that were running wait again at once.
 * @throws Fault `data/in-use`, `data/full`, `data/read-only`, `data/newer`, `data/damaged`,
 * `data/mismatch` and `data/half-restored` for a folder that lacks what it once had
 */
export async function openData(
  path: string,
  times: Times = STANDARD_TIMES,
  engine: Engine = standardEngine(),
): Promise<Data> {
  const { db, folder, mark } = openStore(path, engine);
  let stop = (): void => {};
  try {
    let changed = 0;
    const journal = new Journal(db, Date.now, (seq) => {
      mark.note(seq);
      changed = performance.now();
    });
    const queue = new EmbeddedQueue(journal, times);
    const done = await finishPublished(db, queue, folder);
    queue.takeOver();
    const notes = await takeStock(db, folder);
    const parts = new Parts(db, folder);
    await parts.sweep(Date.now());
    const library = new Library(db);
    library.begin(Date.now());
    const tokens = new Tokens(db);
    const deaf = answerAsks(path, tokens);
    const idle = whenIdle(
      () => changed,
      () => {
        mark.sync();
        return db.checkpoint();
      },
    );
    stop = () => {
      deaf();
      idle();
    };
    const close = (): void => {
      stop();
      closeStore(db, mark);
    };
    const finished = done.map((id) => `job ${id} had its result in place: finished`);
    const jobs = new Jobs(journal);
    return {
      ...{ folder, journal, jobs, queue, parts, library, tokens, close },
      sessions: new Sessions(db),
      usage: new Usage(db),
      notes: [...finished, ...notes],
    };
  } catch (error) {
    stop();
    closeStore(db, mark);
    throw error;
  }
}

/** The database of a folder that belongs to it, and what goes with it. */
export interface Store {
  readonly db: Db;
  readonly folder: Folder;
  readonly mark: Mark;
}

/** Opens the database of a folder, or a new one in an empty folder, and nothing more. */
export function openStore(path: string, engine: Engine = standardEngine()): Store {
  makeFolders(path);
  const lock = lockFolder(path, engine);
  let db: Db | undefined;
  try {
    const outside = lookAt(path);
    checkOutside(path, outside);
    db = openLocked(path, lock, engine);
    const { identity } = agree(path, outside, db);
    const mark = new Mark(path);
    mark.note(lastEvent(db));
    return { db, folder: new Folder(path, identity), mark };
  } catch (error) {
    (db ?? lock).close();
    throw error;
  }
}

/** Leaves the whole store in the database file, where the disk lets it. */
export function closeStore(db: Db, mark: Mark): void {
  try {
    mark.sync();
    db.checkpoint();
  } catch {
    // The log stays, which is as safe.
  }
  mark.close();
  db.close();
}

/** Does something once each time that there was no change for a while. */
function whenIdle(changed: () => number, work: () => boolean): () => void {
  let settled = 0;
  const timer = setInterval(() => {
    const last = changed();
    if (last === settled || performance.now() - last < IDLE_MS) return;
    try {
      if (work()) settled = last;
    } catch {
      // A full disk: the log stays as it is, which is safe, and the next change reports it.
    }
  }, IDLE_MS / 3);
  timer.unref();
  return () => clearInterval(timer);
}
