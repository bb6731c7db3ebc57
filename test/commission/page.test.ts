/**
 * The page and the picture of a machine in a real browser: no network and no errors, joints by slider, number and
 * keys, what meets, phone and dark. Figures against closed forms and hand arithmetic on the sample. Drawn in
 * software, so nothing here is timed.
 */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Browser, BrowserContextOptions, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { machinePage } from '../../lib/commission/machine-page.js';
import { noBrowser, openBrowser } from '../support/browser.js';

const root = fileURLToPath(new URL('../..', import.meta.url));
const folder = mkdtempSync(join(tmpdir(), 'tiltwright-machine-page-'));
const [file, picture] = [join(folder, 'machine.html'), join(folder, 'machine.svg')];
const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
let browser: Browser;
const errors: string[] = [];
const asked: string[] = [];

async function open(options: BrowserContextOptions = {}, path = file): Promise<Page> {
  const page = await browser.newPage({ viewport: { width: 1000, height: 700 }, ...options });
  page.on('pageerror', (e) => errors.push(e.message));
  page.on('console', (m) => {
    if (m.type() === 'error') errors.push(m.text());
  });
  page.on('request', (r) => {
    if (!/^(file|data|blob):/.test(r.url())) asked.push(r.url());
  });
  await page.goto(`file://${path}`);
  return page;
}

const template = (): string => readFileSync(join(root, 'dist/page/machine.html'), 'utf8');

const textOf = async (page: Page, selector: string): Promise<string> =>
  (await page.textContent(selector)) ?? '';

/** The line beside a joint, once it is found what meets. */
async function touchOf(page: Page, letter: string, words: RegExp): Promise<void> {
  const line = page
    .locator('.joint-row', { has: page.locator('strong', { hasText: letter }) })
    .locator('.touch');
  await expect.poll(() => line.textContent(), { timeout: 30_000 }).toMatch(words);
}

const pixels = (page: Page): Promise<string> =>
  page.evaluate<string>("document.getElementById('canvas').toDataURL()");

describe.skipIf(noBrowser)(`the page of a machine ${noBrowser}`, () => {
  beforeAll(async () => {
    const made = spawnSync(process.execPath, [
      join(root, 'dist/cli/main.js'),
      ...[
        'machine',
        'show',
        join(root, 'samples/machines/table-table-ac.json'),
        '--out',
        file,
        '--picture',
        picture,
      ],
    ]);
    expect(made.status, String(made.stderr)).toBe(0);
    browser = await openBrowser();
  });
  afterAll(async () => {
    await browser?.close();
    rmSync(folder, { recursive: true });
  });

  test('opens at the ready place and says what meets first', async () => {
    const page = await open();
    expect(await textOf(page, '#title')).toMatch(/A-C/);
    // Ready is X 0 Y 0 Z 240: the tip stands 240 mm over the middle, the head upright.
    await expect
      .poll(() => textOf(page, '#figures'))
      .toMatch(/0\.0, 0\.0, 240\.0 mm.*0\.0 deg.*upright/);
    // The head keeps its 1 mm from the face, so it goes down to Z 1.
    await touchOf(page, 'Z', /at 1 mm the head meets the table/);
    await touchOf(page, 'C', /endless; free all the way/);
    expect(await textOf(page, '#verdict')).toMatch(/keeps its 1 mm/);
    await page.close();
  });

  test('number, slider and keys move a joint, and the picture follows', async () => {
    const page = await open();
    const before = await pixels(page);
    await page.keyboard.press('4');
    for (let i = 0; i < 3; i++) await page.keyboard.press('Shift+ArrowRight');
    await expect.poll(() => textOf(page, '#where')).toMatch(/A 30 deg/);
    // Over an axis 6 mm above the face, a tip 234 mm over that axis leans to 234 sin 30 across and 6 + 234 cos 30 up.
    await expect.poll(() => textOf(page, '#figures')).toMatch(/0\.0, 117\.0, 208\.6 mm.*30\.0 deg/);
    await expect.poll(() => pixels(page)).not.toBe(before);
    await page.getByLabel('value of Z, mm').fill('-20');
    await expect
      .poll(() => textOf(page, '#verdict'), { timeout: 30_000 })
      .toMatch(/the head is within 1 mm of/);
    await page.locator('body').press('Escape');
    await page.getByRole('button', { name: 'ready place' }).click();
    await expect.poll(() => textOf(page, '#where')).toMatch(/Z 240 mm.*A 0 deg/);
    await page.getByRole('slider', { name: /^A, carries the table/ }).focus();
    await page.keyboard.press('End');
    await expect.poll(() => textOf(page, '#where')).toMatch(/A 100 deg/);
    await page.close();
  });

  test('tells and draws the work room at a tilt', async () => {
    const page = await open();
    await page.getByLabel('tilt', { exact: false }).first().fill('90');
    await page.getByLabel('part height').fill('80');
    // By hand: heights over the axis go from 6 - r to 6 + r, and Z to -60, so r = 66.
    await expect
      .poll(() => textOf(page, '#room-text'))
      .toMatch(/132 mm across; Z \(-60 to 260 mm\)/);
    expect(await page.isChecked('#room')).toBe(true);
    await page.close();
  });

  test('says what the check finds, guesses included', async () => {
    const page = await open();
    // A goes to 100 deg either way and C has no end.
    await expect
      .poll(() => textOf(page, '#findings'))
      .toMatch(/note.*the head reaches every direction up to 100 deg/);
    await page.close();
    const sample = JSON.parse(
      readFileSync(join(root, 'samples/machines/table-table-ac.json'), 'utf8'),
    ) as object;
    const guessed = join(folder, 'guessed.html');
    const content = { ...sample, guessed: { clearance: 'a <b>guess</b> of the test' } };
    writeFileSync(guessed, machinePage(template(), 'guessed', content));
    const other = await open({}, guessed);
    await expect
      .poll(() => textOf(other, '#findings'))
      .toContain('clearance is assumed: a <b>guess</b> of the test');
    await other.close();
  });

  test('what is no machine file of this version is told in words', async () => {
    const old = join(folder, 'old.html');
    // Which way the axes count is what no file may leave open.
    writeFileSync(old, machinePage(template(), 'Shed <2>', { name: 'Shed' }));
    const page = await browser.newPage();
    await page.goto(`file://${old}`);
    expect(await textOf(page, '#title')).toBe('Shed <2>');
    expect(await page.getByRole('alert').textContent()).toMatch(
      /^This machine file cannot be read: positive is missing, it must be "body" or "tool"/,
    );
    await page.close();
  });

  test('fits a phone, and passes the rules of axe in light and dark', async () => {
    for (const colorScheme of ['light', 'dark'] as const) {
      const page = await open({ viewport: { width: 390, height: 800 }, colorScheme });
      await touchOf(page, 'Z', /meets/);
      expect(await page.evaluate('document.documentElement.scrollWidth')).toBeLessThanOrEqual(390);
      await page.evaluate(axe);
      const found = await page.evaluate<string[]>(`axe.run().then(({ violations }) =>
        violations.map((v) => v.id + ': ' + v.nodes[0].html),
      )`);
      expect(found).toEqual([]);
      await page.close();
    }
  });

  test('the picture names machine, joints, travels and a scale, and draws something', async () => {
    const text = readFileSync(picture, 'utf8');
    for (const words of ['A-C', 'A, -100 to 100 deg', 'C, endless', 'X+', 'mm along the picture'])
      expect(text).toContain(words);
    const page = await open({ viewport: { width: 900, height: 760 } }, picture);
    expect(await page.locator('polygon').count()).toBeGreaterThan(100);
    await page.close();
  });

  test('the form of a proof keeps what was entered, marks what is no number, and saves what is judged', async () => {
    const main = join(root, 'dist/cli/main.js');
    const machine = join(root, 'samples/machines/table-table-ac.json');
    const proof = join(folder, 'proof');
    expect(
      spawnSync(process.execPath, [main, 'machine', 'prove', machine, '--out', proof]).status,
    ).toBe(0);
    const page = await open({}, join(proof, 'seen.html'));
    // What the sample does, by its axes: Z Y X carry the head, A about X and C about Z the table.
    const seen = [
      'the head goes up',
      'the head goes away from you',
      'the head goes right',
      "the table's near edge goes down",
      'the table turns counter-clockwise',
    ];
    for (const [i, words] of seen.entries()) {
      await page.getByLabel(`what was seen at step ${i + 1}`).selectOption(words);
    }
    const place = (
      JSON.parse(readFileSync(join(proof, 'plan.json'), 'utf8')) as { place: number[] }
    ).place;
    for (const pose of [1, 2, 3]) {
      for (const [c, name] of ['x', 'y', 'z'].entries()) {
        await page.getByLabel(`${name} of the tip at pose ${pose}, mm`).fill(String(place[c]));
      }
    }
    await page.getByLabel('x of the tip at pose 1, mm').fill('2x');
    expect(await textOf(page, '#state')).toBe(
      '5 of 5 steps and 2 of 3 poses entered; 1 field holds no number',
    );
    await page.getByLabel('x of the tip at pose 1, mm').fill(`${place[0]},5`);
    await page.reload();
    expect(await textOf(page, '#state')).toBe('5 of 5 steps and 3 of 3 poses entered');
    const [download] = await Promise.all([page.waitForEvent('download'), page.click('#save')]);
    const csv = join(folder, 'saved.csv');
    await download.saveAs(csv);
    await page.close();
    const judged = spawnSync(
      process.execPath,
      [main, 'machine', 'judge', machine, '--plan', join(proof, 'plan.json'), '--seen', csv],
      { encoding: 'utf8' },
    );
    expect(judged.status, judged.stdout + judged.stderr).toBe(0);
    expect(judged.stdout).toMatch(/the tip stands within 0\.5 mm of its place in every pose/);
  });

  test('asked for nothing from a network and met no error', () => {
    expect(errors).toEqual([]);
    expect(asked).toEqual([]);
  });
});
