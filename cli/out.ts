/**
 * Result folders. A result is written whole beside the wanted folder and then takes its place by
 * renaming, so at each moment the folder is the earlier result or the new one. Of an earlier result
 * only what still has the digest of its manifest is replaced; every other file in the folder is
 * somebody's own and is carried over into the new folder, by a hard link, before the folders change
 * places. (To move them over afterwards is simpler, but a kill would leave them beside the result.)
 *
 * The steps, all in one work folder `.<name>.<process>@<host>.<random>` beside:
 *   1. new/ gets the files, then the manifest, all synchronised;
 *   2. what is kept is linked into new/;
 *   3. the folder is renamed to old/;
 *   4. new/ is renamed to the folder;
 *   5. old/ goes, file by file: what is ours and unchanged, or stands in the folder as well.
 * A kill before 3 leaves the earlier result, after 4 the new one. Between 3 and 4 the folder is absent
 * for a moment and both stand whole in the work folder. The next command that writes to this folder
 * finds the work folder of a process that is gone and ends the work: forward if the folder is absent,
 * otherwise from step 5. A first result has no step 2, 3 and 5, and so no such moment.
 */
import { mkdir, mkdtemp, readdir, rename, rmdir, stat } from 'node:fs/promises';
import { hostname } from 'node:os';
import { basename, dirname, join } from 'node:path';
import type { FileContents } from '../lib/index.js';
import { Fault } from '../lib/base/fault.js';
import { syncFolder, writeAll } from '../worker/disk.js';
import { readManifest, writeManifest } from '../worker/manifest.js';
import { type Kept, carryOver, refuseSpecial, removeNew, removeTree } from './carry.js';
import { fileFault } from './files.js';
import { checkPlace, errorCode, ifThere, placeOf } from './place.js';
import { sayLines } from './streams.js';
import { writing } from './wire.js';

/** Lines about what was kept. */
const MOST_LINES = 20;

/**
 * Refuses a folder that a result cannot go to, before the work, and ends what a killed command left.
 * @throws Fault `out/not-empty`, `out/mount-point`, `out/working-folder`, `out/special-file`,
 * `out/unwritable`
 */
export async function claim(folder: string): Promise<void> {
  const place = await placeOf(folder);
  try {
    for (const work of await abandoned(place)) sayKept(folder, await end(work, place, true));
    await checkPlace(place);
    await refuseSpecial(place);
  } catch (error) {
    throw error instanceof Fault ? error : fileFault('out/unwritable', 'write', place, error);
  }
}

/**
 * What is filled in belongs to the one plan it was written with, so an earlier one is not replaced.
 * @param held what may be among the files
 * @throws Fault `out/not-empty`
 */
export async function refuseEarlier(folder: string, held: string): Promise<void> {
  const files = (await ifThere(readdir(folder))) ?? [];
  if (files.length === 0) return;
  throw new Fault(
    'out/not-empty',
    `${folder} holds ${files.length} files, and ${held} may be among them: give a new or empty folder`,
    { file: folder },
  );
}

/**
 * Writes named contents (paths within the folder) as one result folder in place of an earlier one.
 * What is kept of the folder is reported on the error stream.
 * @throws Fault as `claim` does
 */
export async function writeResult(
  folder: string,
  contents: ReadonlyMap<string, FileContents>,
): Promise<void> {
  sayKept(folder, await replaceResult(folder, contents));
}

/** As `writeResult`; gives what was kept. */
export async function replaceResult(
  folder: string,
  contents: ReadonlyMap<string, FileContents>,
): Promise<readonly Kept[]> {
  await claim(folder);
  const place = await placeOf(folder);
  return writing((signal) => replace(place, contents, signal));
}

/** @param signal that the result is no longer wanted; asked until the folders change places */
async function replace(
  place: string,
  contents: ReadonlyMap<string, FileContents>,
  signal: AbortSignal,
): Promise<readonly Kept[]> {
  let work: string | undefined;
  try {
    await mkdir(dirname(place), { recursive: true });
    work = await mkdtemp(`${workName(place)}.`);
    const fresh = join(work, 'new');
    await mkdir(fresh);
    await writeManifest(fresh, await writeAll(fresh, contents));
    signal.throwIfAborted();
    const kept = await exchange(place, work);
    return [...kept, ...(await end(work, place, false))];
  } catch (error) {
    if (work !== undefined) await end(work, place, false).catch(() => {});
    if (error instanceof Fault || signal.aborted) throw error;
    throw fileFault('out/unwritable', 'write', place, error);
  }
}

/** Steps 2 to 4. */
async function exchange(place: string, work: string): Promise<readonly Kept[]> {
  const [fresh, old] = [join(work, 'new'), join(work, 'old')];
  let kept: readonly Kept[] = [];
  if (await ifThere(stat(place))) {
    kept = await carryOver(place, fresh);
    await rename(place, old);
  }
  try {
    await rename(fresh, place);
  } catch (error) {
    await ifThere(rename(old, place));
    throw error;
  }
  await syncFolder(dirname(place));
  return kept;
}

/**
 * Ends the work of a work folder from wherever it stands. Gives what had to be put back into the
 * place because it was neither ours nor there.
 * @param forward whether a complete new result goes to a place where there is none
 */
async function end(work: string, place: string, forward: boolean): Promise<readonly Kept[]> {
  const [fresh, old] = [join(work, 'new'), join(work, 'old')];
  if (!(await ifThere(stat(place)))) {
    const complete = (await readManifest(fresh)) !== undefined;
    if (forward && complete) await rename(fresh, place);
    else await ifThere(rename(old, place));
  }
  const kept = [...(await removeTree(old, place)), ...(await removeNew(fresh, place))];
  // Not empty: something came in just now; it stays, and the next command looks again.
  await rmdir(work).catch((error: unknown) => {
    if (!['ENOTEMPTY', 'ENOENT'].includes(errorCode(error) ?? '')) throw error;
  });
  return kept;
}

/** Name of a work folder without its random end. */
function workName(place: string): string {
  const host = hostname().replace(/[^A-Za-z0-9-]/g, '-');
  return join(dirname(place), `.${basename(place)}.${process.pid}@${host}`);
}

/** Work folders of a place whose process is gone. */
async function abandoned(place: string): Promise<string[]> {
  const parent = dirname(place);
  const names = (await ifThere(readdir(parent).catch(unreadable))) ?? [];
  const host = workName(place).split('@').at(-1)!;
  return names
    .filter((name) => {
      if (!name.startsWith(`.${basename(place)}.`)) return false;
      const rest = /^(\d+)@([A-Za-z0-9-]+)\.\w{6}$/.exec(name.slice(basename(place).length + 2));
      return rest !== null && rest[2] === host && isGone(Number(rest[1]));
    })
    .map((name) => join(parent, name));
}

/** A parent that cannot be listed, or is no folder, is refused by `checkPlace`, with its reason. */
function unreadable(error: unknown): string[] {
  if (['EACCES', 'ENOTDIR', 'ENOENT'].includes(errorCode(error) ?? '')) return [];
  throw error;
}

/** A work folder of this very process that it finds before it begins is of a namesake. */
function isGone(pid: number): boolean {
  if (pid === process.pid) return true;
  try {
    process.kill(pid, 0);
    return false;
  } catch (error) {
    return errorCode(error) === 'ESRCH';
  }
}

/** Says what was kept of a folder. */
export function sayKept(folder: string, kept: readonly Kept[]): void {
  for (const { name, as, why } of kept.slice(0, MOST_LINES)) {
    const renamed = as === name ? '' : ` as ${as}`;
    sayLines([`kept in ${folder}: ${name}${renamed} (${why})`]);
  }
  if (kept.length > MOST_LINES) sayLines([`kept in ${folder}: ${kept.length - MOST_LINES} more`]);
}
