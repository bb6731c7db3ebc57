/**
 * A real browser for tests of the page: the chromium of the system, drawing in software. Where there
 * is none the tests are skipped and say so; in continuous integration that is a failure.
 */
import { existsSync } from 'node:fs';
import { type Browser, chromium } from 'playwright-core';

const PLACES = [process.env['CHROMIUM'], '/usr/bin/chromium', '/usr/bin/chromium-browser'];

export const browserPath = PLACES.find((path) => path && existsSync(path));

/** Why tests of the page are skipped; empty if they run. */
export const noBrowser = browserPath
  ? ''
  : 'SKIPPED: no chromium found; install it or set CHROMIUM to its path';

if (noBrowser && process.env['CI']) throw new Error(noBrowser);

export function openBrowser(): Promise<Browser> {
  return chromium.launch({
    executablePath: browserPath!,
    args: [
      '--no-sandbox',
      '--use-angle=swiftshader',
      '--enable-unsafe-swiftshader',
      '--ignore-gpu-blocklist',
      '--disable-background-networking',
    ],
  });
}
