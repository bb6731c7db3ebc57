/** The pages' templates as the build leaves them beside the compiled code. */
import { readFile } from 'node:fs/promises';
import { built } from './built.js';

/** The template of the page of results, for `resultFiles`. */
export const readTemplate = (): Promise<string> => readFile(built('../page/page.html'), 'utf8');

/** The template of the page of a machine, for `machinePage`. */
export const readMachineTemplate = (): Promise<string> =>
  readFile(built('../page/machine.html'), 'utf8');
