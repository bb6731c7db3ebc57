/** The version of the package, as package.json states it. */
import { createRequire } from 'node:module';

// dist/worker/version.js and worker/version.ts stand at different depths below package.json.
const up = import.meta.url.includes('/dist/') ? '../../package.json' : '../package.json';

export const version = (createRequire(import.meta.url)(up) as { version: string }).version;
