/** The page's template as the build leaves it beside the compiled code. */
import { readFile } from 'node:fs/promises';

export const readTemplate = (): Promise<string> =>
  readFile(new URL('../page/page.html', import.meta.url), 'utf8');
