/** Hints that can be copied into a shell and run as they stand. */
import { basename, relative } from 'node:path';

/** A line that calls this program as it was called itself, with these words. */
export function callWith(...words: readonly string[]): string {
  const script = process.argv[1] ?? 'tiltwright';
  const own = basename(script) === 'tiltwright' ? ['tiltwright'] : ['node', shortest(script)];
  return [...own, ...words].map(quoted).join(' ');
}

/** From the current folder, unless that leads up and is no shorter. */
function shortest(path: string): string {
  const near = relative(process.cwd(), path);
  return near.length < path.length ? near : path;
}

/** A word for a POSIX shell. */
const quoted = (word: string): string =>
  /^[\w@%+=:,./-]+$/.test(word) ? word : `'${word.replaceAll("'", `'\\''`)}'`;
