/**
 * Where a result may be written. All that can be known before the work is checked before the work: a folder
 * that belongs to somebody else, a mount point (which cannot be renamed), a parent that takes no files.
 */
import {
  access,
  constants,
  lstat,
  mkdtemp,
  readFile,
  readdir,
  realpath,
  rmdir,
  stat,
} from 'node:fs/promises';
import { basename, dirname, join, relative, resolve } from 'node:path';
import { Fault } from '../lib/base/fault.js';
import { MANIFEST, readManifest } from '../worker/manifest.js';
import { fileFault } from './files.js';

export const errorCode = (error: unknown): string | undefined =>
  (error as NodeJS.ErrnoException).code;

/** The value, or nothing where there is no such file. */
export async function ifThere<T>(work: Promise<T>): Promise<T | undefined> {
  return work.catch((error: unknown) => {
    if (errorCode(error) === 'ENOENT') return undefined;
    throw error;
  });
}

/**
 * The folder that is meant, all links followed.
 * @throws Fault `out/unwritable` for a link that leads nowhere
 */
export async function placeOf(folder: string): Promise<string> {
  const wanted = resolve(folder);
  try {
    const found = await ifThere(realpath(wanted));
    if (found !== undefined) return found;
    if (await ifThere(lstat(wanted)))
      throw new Fault('out/unwritable', `${folder} is a link that leads nowhere`, { file: folder });
    return join(await placeOf(dirname(wanted)), basename(wanted));
  } catch (error) {
    throw error instanceof Fault ? error : fileFault('out/unwritable', 'write', folder, error);
  }
}

/**
 * Refuses a place that a result cannot go to.
 * @param place as `placeOf` gives it
 * @throws Fault `out/not-empty`, `out/mount-point`, `out/working-folder`, `out/unwritable`
 */
export async function checkPlace(place: string): Promise<void> {
  try {
    const known = await ifThere(stat(place));
    if (known && !known.isDirectory())
      throw new Fault('out/unwritable', `${place} is no folder`, { file: place });
    if (known) await checkFolder(place);
    await probe(dirname(place));
  } catch (error) {
    throw error instanceof Fault ? error : fileFault('out/unwritable', 'write', place, error);
  }
}

async function checkFolder(place: string): Promise<void> {
  const here = relative(place, process.cwd());
  if (here === '' || !(here === '..' || here.startsWith('../')))
    throw new Fault(
      'out/working-folder',
      `${place} is or holds the working folder, which cannot be replaced: give a folder in it`,
      { file: place },
    );
  const mount = await mountIn(place);
  if (mount !== undefined)
    throw new Fault(
      'out/mount-point',
      `${mount} is a mount point, which cannot be replaced as a whole: give a folder in it`,
      { file: place },
    );
  const count = (await readdir(place)).length;
  if (count > 0 && !(await readManifest(place)))
    throw new Fault(
      'out/not-empty',
      `${place} holds ${count} files or folders and no ${MANIFEST} of ours, so nothing in it is known ` +
        'as ours: give another folder, or move this one away (an older version wrote no manifest)',
      { file: place },
    );
  await access(place, constants.R_OK | constants.W_OK | constants.X_OK);
}

/** A mount point at or below a folder, or nothing. */
async function mountIn(place: string): Promise<string | undefined> {
  const text = await readFile('/proc/self/mountinfo', 'utf8').catch(() => undefined);
  if (text === undefined) {
    const [own, parent] = await Promise.all([stat(place), stat(dirname(place))]);
    return own.dev === parent.dev ? undefined : place;
  }
  // The fifth field is the mount point; blanks and the like stand in octal (proc(5)).
  return text
    .split('\n')
    .map((line) =>
      (line.split(' ')[4] ?? '').replace(/\\(\d{3})/g, (_, octal: string) =>
        String.fromCharCode(parseInt(octal, 8)),
      ),
    )
    .find((mount) => mount === place || mount.startsWith(`${place}/`));
}

/** Makes and removes a folder where the first new one will stand: permissions alone do not show it. */
async function probe(parent: string): Promise<void> {
  let at = parent;
  while (!(await ifThere(stat(at)))) at = dirname(at);
  await rmdir(await mkdtemp(join(at, '.tiltwright-')));
}
