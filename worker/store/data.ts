/** Everything that the service keeps, in one folder, held by one process. */
import { lockFolder, openDatabase } from './database.js';
import { EmbeddedQueue, STANDARD_TIMES, type Times } from './embedded.js';
import { Folder } from './folder.js';
import { Jobs } from './jobs.js';
import { Journal } from './journal.js';
import { Library } from './library.js';
import { Parts } from './parts.js';
import { Tokens } from './tokens.js';

export interface Data {
  readonly folder: Folder;
  readonly journal: Journal;
  readonly jobs: Jobs;
  readonly queue: EmbeddedQueue;
  readonly parts: Parts;
  readonly library: Library;
  readonly tokens: Tokens;
  close(): void;
}

/**
 * Opens a data folder, new or old, and clears what a crash left in it. No other process holds it, so
 * jobs that were running wait again at once.
 * @throws Fault `data/in-use`, `data/full`, `data/read-only`, `data/newer`, `data/damaged`
 */
export async function openData(path: string, times: Times = STANDARD_TIMES): Promise<Data> {
  const folder = new Folder(path);
  const lock = lockFolder(path);
  try {
    const db = openDatabase(path);
    const journal = new Journal(db);
    const jobs = new Jobs(journal);
    const queue = new EmbeddedQueue(journal, times);
    queue.takeOver();
    await folder.sweep(jobs);
    const parts = new Parts(db, folder);
    await parts.sweep(Date.now());
    const library = new Library(db);
    library.begin(Date.now());
    const close = (): void => {
      db.close();
      lock.close();
    };
    return { folder, journal, jobs, queue, parts, library, tokens: new Tokens(db), close };
  } catch (error) {
    lock.close();
    throw error;
  }
}
