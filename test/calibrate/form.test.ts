/** The page of readings in a real browser: typed, pasted, saved; keyboard, phone, light and dark. */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { formPage } from '../../lib/calibrate/form.js';
import { type PlanFile, readReadings } from '../../lib/calibrate/touch-files.js';
import { noBrowser, openBrowser } from '../support/browser.js';
import { sampleMachine } from './machines.js';

const machine = sampleMachine('table-table-ac');
const plan: PlanFile = {
  machine: machine.name,
  also: [],
  noise: 0.02,
  targets: [{ kind: 'face' }],
  weight: { kg: 1, at: [0, -70, 0] },
  touches: [1, 2, 3, 4].map((touch) => ({
    touch,
    aim: 'face' as const,
    joints: { Z: 20.5 + touch, Y: -10, X: 4, A: 15, C: -30 },
    play: {
      place: 0,
      joint: 'A',
      from: touch % 2 ? ('below' as const) : ('above' as const),
      loaded: touch > 2,
    },
  })),
};
const folder = mkdtempSync(join(tmpdir(), 'tiltwright-form-'));
const file = join(folder, 'readings.html');
const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
let browser: Browser;
let page: Page;
const errors: string[] = [];
const asked: string[] = [];

describe.skipIf(noBrowser)(`the page of readings ${noBrowser}`, () => {
  beforeAll(async () => {
    writeFileSync(file, formPage(machine, plan));
    browser = await openBrowser();
    page = await browser.newPage({ viewport: { width: 390, height: 780 }, colorScheme: 'light' });
    page.on('pageerror', (e) => errors.push(e.message));
    page.on('request', (r) => asked.push(r.url()));
    await page.goto(`file://${file}`);
  });
  afterAll(async () => {
    await browser?.close();
    rmSync(folder, { recursive: true });
  });

  const field = (letter: string, touch: number) =>
    page.getByLabel(`${letter} of touch ${touch}, mm`);
  const state = (): Promise<string> => page.locator('#state').innerText();
  const saved = async (): Promise<string> => {
    const [download] = await Promise.all([
      page.waitForEvent('download'),
      page.getByRole('button', { name: 'Save readings.csv' }).click(),
    ]);
    return readFileSync((await download.path())!, 'utf8');
  };

  test('typed with the keyboard alone, a comma for the point; Enter goes on', async () => {
    await field('Z', 1).focus();
    for (const value of ['21,4871', '-10', '4']) {
      await page.keyboard.type(value);
      await page.keyboard.press('Enter');
    }
    expect(await state()).toBe('1 of 4 touches entered');
    expect(await page.evaluate('document.activeElement.ariaLabel')).toBe('Z of touch 2, mm');
    expect(await page.locator('tbody tr').nth(3).innerText()).toMatch(
      /A from above, with the weight/,
    );
  });

  test('what is no number is marked and said, and a row that is unfinished', async () => {
    await field('Z', 2).fill('2l.5');
    expect(await field('Z', 2).getAttribute('aria-invalid')).toBe('true');
    expect(await state()).toMatch(/1 fields hold no number; unfinished: 2/);
    await field('Z', 2).fill('');
  });

  test('pasted from a spreadsheet: columns by tabs from the first empty row on, and whole rows', async () => {
    await page.getByText('Paste from a spreadsheet').click();
    await page.locator('#paste').fill('22.5\t-10\t4\n23,25\t-10\t4');
    await page.getByRole('button', { name: 'Take over' }).click();
    expect(await state()).toBe('3 of 4 touches entered; 2 rows taken over');
    await page.locator('#paste').fill('touch,aim\n4,face,24.75,-10,4,15,-30\n9,face,1,1,1,1,1');
    await page.getByRole('button', { name: 'Take over' }).click();
    expect(await state()).toMatch(/^4 of 4 .* 1 rows taken over, not understood: rows 2$/);
  });

  test('what is saved is what the fit reads', async () => {
    const { touches, missing } = readReadings(await saved(), machine, plan);
    expect(missing).toEqual([]);
    expect(touches.map((t) => t.joints[0])).toEqual([21.4871, 22.5, 23.25, 24.75]);
  });

  test('a page that is opened again still holds the readings', async () => {
    await page.reload();
    expect(await field('Z', 3).inputValue()).toBe('23,25');
    expect(await state()).toBe('4 of 4 touches entered');
  });

  test.each(['light', 'dark'] as const)(
    'fits a phone, %s, by the rules of axe-core for WCAG 2.2 AA',
    async (colorScheme) => {
      await page.emulateMedia({ colorScheme });
      const wide = await page.evaluate('document.documentElement.scrollWidth');
      expect(wide).toBeLessThanOrEqual(390);
      await page.evaluate(axe);
      const found = (await page.evaluate(
        `axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21aa', 'wcag22aa'] })
          .then((r) => r.violations.map((v) => v.id + ' ' + v.nodes.map((n) => n.target).join(' ')))`,
      )) as string[];
      expect(found).toEqual([]);
    },
  );

  test('asks nothing of a network and raises no error', () => {
    expect(asked.filter((url) => !/^(file|data|blob):/.test(url))).toEqual([]);
    expect(errors).toEqual([]);
  });
});
