/** Threads and child processes run built JavaScript: Node 20 loads no TypeScript there. */
import { existsSync } from 'node:fs';

/** The folder of package.json, from wherever this module is built to. */
function packageFolder(): URL {
  for (let at = new URL('.', import.meta.url); ; at = new URL('..', at)) {
    if (existsSync(new URL('package.json', at))) return at;
  }
}

/** A file of the package, by its path from the root. */
export const packaged = (path: string): URL => new URL(path, packageFolder());

/** The built file for a module path relative to `worker`, also when called from the sources (tests). */
export const built = (path: string): URL => new URL(path, packaged('dist/worker/'));
