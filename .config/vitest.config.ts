import { existsSync } from 'node:fs';
import { dirname, join, relative, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { type Plugin, defineConfig } from 'vitest/config';

const root = fileURLToPath(new URL('..', import.meta.url));

/**
 * Tests run what is built, as users do: what they import of lib, worker, cli and samples is loaded from dist,
 * which `npm test` builds first. The sources themselves, made over for the test runner, take 1.6 times as
 * long in tight loops.
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

export default defineConfig({
  plugins: [built],
  test: {
    root,
    include: ['test/**/*.test.ts'],
    testTimeout: 600_000,
    hookTimeout: 600_000,
    pool: 'forks',
    maxWorkers: 2,
  },
});
