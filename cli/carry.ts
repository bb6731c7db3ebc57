/**
 * What in a result folder is not ours, or no longer as we wrote it, is carried over into the folder that
 * replaces it: files by hard links, so that they are the same files in both and cost nothing, by copies
 * where a file system or its rules allow no link; links as links, never followed; folders recreated with
 * their permissions and times.
 */
import { constants, type Stats } from 'node:fs';
import {
  chmod,
  copyFile,
  link,
  lstat,
  mkdir,
  readdir,
  readlink,
  rm,
  rmdir,
  symlink,
  unlink,
  utimes,
} from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { Fault } from '../lib/base/fault.js';
import { sha256Of, syncFolder } from '../worker/disk.js';
import { MANIFEST, type Manifest, readManifest } from '../worker/manifest.js';
import { errorCode, ifThere } from './place.js';

/** Something in a result folder that a new result does not replace. */
export interface Kept {
  readonly name: string;
  /** The name that it has now: another one where the new result needs its own. */
  readonly as: string;
  readonly why: 'not ours' | 'changed since it was written';
}

interface Entry {
  readonly name: string;
  readonly kind: 'file' | 'link' | 'folder';
  readonly stats: Stats;
  /** As the manifest says, with its digest checked. */
  readonly ours: boolean;
  readonly why: Kept['why'];
}

/**
 * Every entry of a folder, folders before what they hold. Links are not followed.
 * @throws Fault `out/special-file` for what is neither file, folder nor link
 */
async function survey(root: string, manifest: Manifest | undefined): Promise<Entry[]> {
  const files = manifest?.files ?? {};
  const ourFolders = new Set(Object.keys(files).flatMap(foldersOf));
  const entries: Entry[] = [];
  const visit = async (folder: string): Promise<void> => {
    for (const own of (await readdir(join(root, folder))).sort()) {
      const name = folder === '' ? own : `${folder}/${own}`;
      const stats = await lstat(join(root, name));
      const kind = kindOf(stats, join(root, name));
      const known = Object.hasOwn(files, name);
      const why = known ? 'changed since it was written' : 'not ours';
      const ours =
        kind === 'folder' ? ourFolders.has(name) : await isOurs(root, name, kind, stats, manifest);
      entries.push({ name, kind, stats, ours, why });
      if (kind === 'folder') await visit(name);
    }
  };
  await visit('');
  return entries;
}

/** @throws Fault `out/special-file` for what could not be carried over */
export async function refuseSpecial(folder: string): Promise<void> {
  for (const name of (await ifThere(readdir(folder))) ?? []) {
    const path = join(folder, name);
    if (kindOf(await lstat(path), path) === 'folder') await refuseSpecial(path);
  }
}

const foldersOf = (name: string): string[] => {
  const parts = name.split('/').slice(0, -1);
  return parts.map((_, i) => parts.slice(0, i + 1).join('/'));
};

function kindOf(stats: Stats, path: string): Entry['kind'] {
  if (stats.isFile()) return 'file';
  if (stats.isSymbolicLink()) return 'link';
  if (stats.isDirectory()) return 'folder';
  throw new Fault('out/special-file', `${path} is neither file, folder nor link: move it away`, {
    file: path,
  });
}

async function isOurs(
  root: string,
  name: string,
  kind: Entry['kind'],
  stats: Stats,
  manifest: Manifest | undefined,
): Promise<boolean> {
  if (!manifest || kind !== 'file') return false;
  if (name === MANIFEST) return true;
  const mark = Object.hasOwn(manifest.files, name) ? manifest.files[name]! : undefined;
  if (!mark || mark.bytes !== stats.size) return false;
  return (await sha256Of(join(root, name))) === mark.sha256;
}

/** Puts all of an earlier result folder that is to stay into the one that takes its place. */
export async function carryOver(from: string, to: string): Promise<Kept[]> {
  const kept: Kept[] = [];
  const manifest = await readManifest(from);
  const entries = (await survey(from, manifest)).filter((entry) => !entry.ours);
  const folders: [string, Stats][] = [];
  const renamed = new Map<string, string>();
  const told = new Set<string>();
  for (const { name, kind, stats, why } of entries) {
    const parent = dirname(name) === '.' ? '' : dirname(name);
    const place = renamed.get(parent) ?? parent;
    await mkdir(join(to, place), { recursive: true });
    const as = await putBeside(join(from, name), to, join(place, name.split('/').at(-1)!), kind);
    renamed.set(name, as);
    if (kind === 'folder') folders.push([join(to, as), stats]);
    if (!foldersOf(name).some((folder) => told.has(folder))) kept.push({ name, as, why });
    if (kind === 'folder') told.add(name);
  }
  // Folders last and from within: one that takes no files must take these first.
  for (const [folder, stats] of folders.reverse()) {
    await syncFolder(folder);
    await chmod(folder, stats.mode & 0o7777);
    await utimes(folder, stats.atime, stats.mtime);
  }
  const { mode } = await lstat(from);
  await chmod(to, mode & 0o7777);
  await syncFolder(to);
  return kept;
}

/** Puts an entry under its name, or under the first free one like it. Gives the name. */
async function putBeside(
  source: string,
  to: string,
  name: string,
  kind: Entry['kind'],
): Promise<string> {
  for (let count = 0; ; count++) {
    const as = count === 0 ? name : likeName(name, count);
    try {
      await put(source, join(to, as), kind);
      return as;
    } catch (error) {
      if (errorCode(error) !== 'EEXIST') throw error;
      // A folder of this name takes what the other one held.
      if (kind === 'folder' && (await lstat(join(to, as))).isDirectory()) return as;
    }
  }
}

/** `program.ngc` becomes `program.kept.ngc`, then `program.kept-2.ngc`. */
function likeName(name: string, count: number): string {
  const [, stem = name, end = ''] = /^(.*[^/])(\.[^./]+)$/s.exec(name) ?? [];
  return `${stem}.kept${count === 1 ? '' : `-${count}`}${end}`;
}

/** No right to link to files of others, no links at all, too many of them. */
const NO_LINK = ['EPERM', 'EACCES', 'ENOTSUP', 'EOPNOTSUPP', 'ENOSYS', 'EMLINK', 'EXDEV'];

async function put(source: string, target: string, kind: Entry['kind']): Promise<void> {
  if (kind === 'folder') return void (await mkdir(target));
  if (kind === 'link') return symlink(await readlink(source), target);
  try {
    await link(source, target);
  } catch (error) {
    if (!NO_LINK.includes(errorCode(error) ?? '')) throw error;
    await copyFile(source, target, constants.COPYFILE_EXCL);
    const { mode, atime, mtime } = await lstat(source);
    await chmod(target, mode & 0o7777);
    await utimes(target, atime, mtime);
  }
}

/** Removes a new folder that has not taken its place: before its manifest, all in it is ours. */
export async function removeNew(root: string, place: string): Promise<Kept[]> {
  if (await readManifest(root)) return removeTree(root, place);
  await rm(root, { recursive: true, force: true });
  return [];
}

/**
 * Removes a folder that has served: of its files those that are ours and unchanged, and those that
 * stand in `place` as well. What is neither came in at the last moment; it goes to `place`.
 */
export async function removeTree(root: string, place: string): Promise<Kept[]> {
  if (!(await ifThere(lstat(root)))) return [];
  const manifest = await readManifest(root);
  const entries = await survey(root, manifest);
  const standing = await contentsOf(place);
  const kept: Kept[] = [];
  for (const { name, kind } of entries) if (kind === 'folder') await chmod(join(root, name), 0o700);
  for (const { name, kind, stats, ours, why } of entries.reverse()) {
    const path = join(root, name);
    if (kind === 'folder') await rmdir(path).catch(unlessFull);
    // The manifest goes last, by itself: with it, a removal that is cut short can go on.
    else if (name === MANIFEST && ours) continue;
    else if (ours || (await standing(path, kind, stats))) await unlink(path);
    else {
      await mkdir(join(place, dirname(name)), { recursive: true });
      const as = await putBeside(path, place, name, kind);
      await unlink(path);
      kept.push({ name, as, why });
    }
  }
  await ifThere(unlink(join(root, MANIFEST)));
  await rmdir(root).catch(unlessFull);
  return kept;
}

function unlessFull(error: unknown): void {
  if (errorCode(error) !== 'ENOTEMPTY') throw error;
}

/** Whether an entry stands in a folder as well: the same file, a file of equal bytes, an equal link. */
async function contentsOf(
  place: string,
): Promise<(path: string, kind: Entry['kind'], stats: Stats) => Promise<boolean>> {
  const entries = (await ifThere(lstat(place))) ? await survey(place, undefined) : [];
  const known = new Set<string>();
  const sizes = new Map<number, string[]>();
  for (const { name, kind, stats } of entries) {
    if (kind === 'link') known.add(`link ${await readlink(join(place, name))}`);
    if (kind !== 'file') continue;
    known.add(idOf(stats));
    sizes.set(stats.size, [...(sizes.get(stats.size) ?? []), join(place, name)]);
  }
  return async (path, kind, stats) => {
    if (kind === 'link') return known.has(`link ${await readlink(path)}`);
    if (known.has(idOf(stats))) return true;
    const alike = sizes.get(stats.size) ?? [];
    if (alike.length === 0) return false;
    const digest = await sha256Of(path);
    for (const other of alike) if ((await sha256Of(other)) === digest) return true;
    return false;
  };
}

const idOf = ({ dev, ino }: Stats): string => `${dev}:${ino}`;
