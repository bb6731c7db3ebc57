/** The pages' templates as the build leaves them beside the compiled code. */
import { readFile } from 'node:fs/promises';

/** The page's template, for `resultFiles`. */
export const readTemplate = (): Promise<string> =>
  readFile(new URL('../page/page.html', import.meta.url), 'utf8');

export const readMachineTemplate = (): Promise<string> =>
  readFile(new URL('../page/machine.html', import.meta.url), 'utf8');
