/** Threads and child processes run built JavaScript: Node 20 loads no TypeScript there. */

/** The built file for a module path relative to `worker`, also when called from the sources (tests). */
export const built = (path: string): URL =>
  import.meta.url.endsWith('.ts')
    ? new URL(`../dist/worker/${path}`, import.meta.url)
    : new URL(path, import.meta.url);
