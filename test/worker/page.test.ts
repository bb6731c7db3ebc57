/**
 * The page in a real browser: drop a part, submit, watch, read the report, download; with the
 * keyboard alone; accessibility by the rules of axe-core (WCAG 2.1 A and AA).
 */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { writeStl } from '../../lib/mesh/write.js';
import { browserPath, noBrowser, openBrowser } from '../support/browser.js';
import { startTestService } from '../support/service.js';
import { cuboid } from '../support/shapes.js';

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const bytes = writeStl(cuboid([10, 10, 6]));
/** Where pictures of the page are kept, if anybody wants to look at them. */
const pictures = process.env['PICTURES'];

describe.skipIf(!browserPath)(`the page of the service ${noBrowser}`, () => {
  let service: Awaited<ReturnType<typeof startTestService>>;
  let browser: Browser;
  let folder: string;
  beforeAll(async () => {
    folder = mkdtempSync(join(tmpdir(), 'tiltwright-page-'));
    writeFileSync(join(folder, 'cap.stl'), bytes);
    [service, browser] = await Promise.all([startTestService(), openBrowser()]);
  });
  afterAll(async () => {
    await browser.close();
    await service.close();
    rmSync(folder, { recursive: true });
  });

  test('a dropped part becomes a program that can be downloaded', async () => {
    const { page, complaints } = await openPage(service.url);
    await drop(page, 'cap.stl');
    await page.getByText('12 triangles').waitFor();
    expect(await page.locator('#part').innerText()).toContain('10.0 × 10.0 × 6.0 mm');
    await setQuick(page);
    await shoot(page, 'order');
    await page.getByRole('button', { name: 'Submit job' }).click();
    await page.getByRole('heading', { name: /^Job \d+: cap\.stl$/ }).waitFor();
    await page.getByRole('link', { name: 'Download program' }).waitFor();
    await page.locator('.pictures img').first().waitFor();
    await shoot(page, 'finished');

    const id = Number(/job-(\d+)$/.exec(page.url())![1]);
    const [download] = await Promise.all([
      page.waitForEvent('download'),
      page.getByRole('link', { name: 'Download program' }).click(),
    ]);
    const wanted = await service.call<{ text: string }>(`/v1/jobs/${id}/files/program.ngc`);
    expect(readFileSync(await download.path(), 'utf8')).toBe(wanted.body.text);
    const [report] = await Promise.all([
      page.waitForEvent('popup'),
      page.getByRole('link', { name: 'Open report' }).click(),
    ]);
    // The page unpacks the program first, and shows it then.
    await report.getByRole('heading', { name: 'cap.stl' }).waitFor();
    await shoot(report, 'report');
    const shown = await page
      .locator('.pictures img')
      .evaluateAll((images) =>
        (images as unknown as { naturalWidth: number }[]).map((image) => image.naturalWidth > 0),
      );
    expect(shown).toEqual(shown.map(() => true));
    expect(complaints).toEqual([]);
    await page.close();
  });

  test('a file that is no mesh is refused in words, and the form stays usable', async () => {
    const { page } = await openPage(service.url);
    await page.setInputFiles('#file', {
      name: 'notes.stl',
      mimeType: 'text/plain',
      buffer: Buffer.from('water the beans'),
    });
    await page.locator('#part .problem').waitFor();
    await page.getByRole('button', { name: 'Submit job' }).click();
    await page.getByText('Choose a part first.').waitFor();
    await page.setInputFiles('#file', join(folder, 'cap.stl'));
    await page.getByText('12 triangles').waitFor();
    await page
      .locator('summary')
      .filter({ hasText: /^Layers/ })
      .first()
      .click();
    await page.locator('#set-layers-thickness').fill('-1');
    await page.getByRole('button', { name: 'Submit job' }).click();
    await page.locator('#answer .problem').waitFor();
    expect(await page.locator('#answer').innerText()).toMatch(/thickness/);
    await page.close();
  });

  test('with the keyboard alone: settings, submitting, opening a job', async () => {
    const { page } = await openPage(service.url);
    await page.setInputFiles('#file', join(folder, 'cap.stl'));
    await page.getByText('12 triangles').waitFor();
    await page.locator('#file').focus();
    const seen: string[] = [];
    for (let i = 0; i < 40 && seen.at(-1) !== 'Submit job'; i++) {
      await page.keyboard.press('Tab');
      seen.push(await page.evaluate<string>(FOCUSED));
    }
    expect(seen).toEqual(
      expect.arrayContaining(['machine', 'material', 'name', 'priority', 'group', 'Submit job']),
    );
    await page.keyboard.press('Enter');
    await page.waitForURL(/#job-\d+$/);
    // The reader is taken to the new job.
    await page.locator('#job-title:focus').waitFor();
    await page.getByRole('button', { name: 'Cancel job' }).focus();
    await page.keyboard.press('Enter');
    await page.locator('.job .cancelled').waitFor();
    await page.close();
  });

  test.each([
    ['light', 1200],
    ['dark', 1200],
    ['light', 360],
    ['dark', 360],
  ] as const)('no serious fault of accessibility: %s, %d px wide', async (colorScheme, width) => {
    const { page } = await openPage(service.url, { colorScheme, viewport: { width, height: 800 } });
    await page.locator('#list a').first().click();
    await page.locator('#job dl').waitFor();
    await page
      .locator('details')
      .evaluateAll((all) => all.forEach((d) => d.setAttribute('open', '')));
    expect(await faults(page)).toEqual([]);
    // Nothing is cut off or scrolls sideways on a phone.
    const wide = await page.evaluate<number>('document.documentElement.scrollWidth');
    expect(wide).toBeLessThanOrEqual(width);
    await shoot(page, `${colorScheme}-${width}`);
    await page.close();
  });

  test('beyond loopback the page asks for a token, shows nothing before, and remembers it', async () => {
    const open = await startTestService({ host: '0.0.0.0' });
    const { page } = await openPage(open.url);
    await page.getByRole('heading', { name: 'Token needed' }).waitFor();
    expect(await faults(page)).toEqual([]);
    await page.getByLabel('Token of this service').fill('wrong');
    await page.getByRole('button', { name: 'Go on' }).click();
    await page.getByText('does not know this token').waitFor();
    expect(await page.locator('#machine option').count()).toBe(0);
    await page.getByLabel('Token of this service').fill(open.token);
    await page.getByRole('button', { name: 'Go on' }).click();
    await page.locator('#machine option').first().waitFor({ state: 'attached' });
    await page.reload();
    await page.getByText('connected', { exact: true }).waitFor();
    await page.close();
    await open.close();
  });

  async function openPage(
    url: string,
    options: Parameters<Browser['newContext']>[0] = {},
  ): Promise<{ page: Page; complaints: string[] }> {
    const context = await browser.newContext({
      viewport: { width: 1200, height: 900 },
      ...options,
    });
    const page = await context.newPage();
    const complaints: string[] = [];
    page.on('console', (m) => m.type() === 'error' && complaints.push(m.text()));
    page.on('pageerror', (error) => complaints.push(error.message));
    await page.goto(url);
    return { page, complaints };
  }
});

/** What has the focus, as the test names it. */
const FOCUSED = `(({ id, tagName }) =>
  id === 'submit' ? 'Submit job' : tagName === 'SUMMARY' ? 'group' : id)(document.activeElement)`;

/** Drops the part on its place, as a person does. */
async function drop(page: Page, name: string): Promise<void> {
  const base64 = JSON.stringify(Buffer.from(bytes).toString('base64'));
  const transfer = await page.evaluateHandle(`(() => {
    const data = new DataTransfer();
    const raw = Uint8Array.from(atob(${base64}), (c) => c.charCodeAt(0));
    data.items.add(new File([raw], ${JSON.stringify(name)}));
    return data;
  })()`);
  await page.dispatchEvent('#drop', 'drop', { dataTransfer: transfer });
}

/** Settings under which the part is sliced quickly. */
async function setQuick(page: Page): Promise<void> {
  for (const group of await page.locator('#settings summary').all()) await group.click();
  for (const [id, value] of [
    ['regions-directions', '40'],
    ['regions-effort', '4'],
    ['layers-thickness', '0.3'],
  ])
    await page.locator(`#set-${id}`).fill(value!);
  for (const group of await page.locator('#settings summary').all()) await group.click();
}

interface AxeResult {
  readonly violations: readonly { id: string; impact: string; nodes: { html: string }[] }[];
}

async function faults(page: Page): Promise<string[]> {
  // The page's own policy lets no script in; the checker comes in by the debugger.
  await page.evaluate(axe);
  const rules = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'best-practice'];
  const result = await page.evaluate<AxeResult>(
    `window.axe.run({ runOnly: ${JSON.stringify(rules)} })`,
  );
  return result.violations
    .filter((v) => v.impact === 'serious' || v.impact === 'critical')
    .map((v) => `${v.id}: ${v.nodes.map((n) => n.html.slice(0, 120)).join(' | ')}`);
}

async function shoot(page: Page, name: string): Promise<void> {
  if (pictures) await page.screenshot({ path: join(pictures, `${name}.png`), fullPage: true });
}
