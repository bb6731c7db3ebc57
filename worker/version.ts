/** The version of the package, as package.json states it. */
import { readFileSync } from 'node:fs';
import { packaged } from './built.js';

/** Of this package, for `SliceTools.version`. */
export const version = (
  JSON.parse(readFileSync(packaged('package.json'), 'utf8')) as { version: string }
).version;
