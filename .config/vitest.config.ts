import { existsSync } from 'node:fs';
import { dirname, join, relative, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { type Plugin, type TestProjectInlineConfiguration, defineConfig } from 'vitest/config';
import { long, whole } from './lanes.js';

const root = fileURLToPath(new URL('..', import.meta.url));

/**
 * The lanes `whole` and `long` run what is built, as users do: what their tests import of lib, worker, cli and
 * samples is loaded from dist, which `npm test` builds first. The sources themselves, made over for the test
 * runner, take 1.6 times as long in tight loops. The lane `fast` runs on the sources, so it needs no build, and
 * `vitest related` and watching see what a test depends on.
 */
const built: Plugin = {
  name: 'built',
  enforce: 'pre',
  resolveId(source, importer) {
    if (!importer || !/^\.\.?\//.test(source)) return undefined;
    const path = relative(root, resolve(dirname(importer), source));
    const id = join(root, 'dist', path);
    return /^(lib|worker|cli|samples)\//.test(path) && existsSync(id)
      ? { id, external: true }
      : undefined;
  },
};

const lane = (
  name: string,
  include: readonly string[],
  exclude: readonly string[],
  plugins: Plugin[],
): TestProjectInlineConfiguration => ({
  plugins,
  test: {
    name,
    root,
    include: [...include],
    exclude: [...exclude],
    testTimeout: 600_000,
    hookTimeout: 600_000,
    pool: 'forks',
    // The tests of the fast lane leave nothing behind, so that modules are loaded once for many files.
    isolate: name !== 'fast',
  },
});

export default defineConfig({
  test: {
    maxWorkers: 2,
    projects: [
      lane('fast', ['test/**/*.test.ts'], [...whole, ...long], []),
      lane('whole', whole, [], [built]),
      lane('long', long, [], [built]),
    ],
  },
});
