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
import { writeStl } from '../../lib/formats/write-mesh.js';
import { browserPath, noBrowser, openBrowser } from '../support/browser.js';
import { quick, startTestService } from '../support/service.js';
import { cuboid, postWithArm } from '../support/shapes.js';

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
    // The service chooses nothing by itself.
    await page.getByRole('button', { name: 'Submit job' }).click();
    await page.getByText('Choose a machine first.').waitFor();
    await page.locator('#machine:focus').waitFor();
    await page.getByLabel('Machine', { exact: true }).selectOption('table-table-ac');
    await page.getByRole('button', { name: 'Submit job' }).click();
    await page.getByText('Choose a material first.').waitFor();
    await page.getByLabel('Material', { exact: true }).selectOption('pla');
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
    await choose(page);
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
    await choose(page);
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
    await page.getByLabel('Machine', { exact: true }).selectOption('table-table-ac');
    await page.locator('#machine-page').waitFor();
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

  test('again with other settings: the form has what the job had, the choice is remembered', async () => {
    const { page } = await openPage(service.url);
    const { id: part } = (await service.upload(bytes, 'cap.stl')).body;
    const settings = { ...quick, regions: { ...quick.regions, tilt: 30 }, check: true };
    const own = { ...(await service.call('/v1/materials/pla')).body, name: 'Shed PLA' };
    const sent = { part, settings, name: 'Bed 3', material: own };
    const { id } = (await service.submit(sent)).body;
    await page.goto(`${service.url}#job-${id}`);
    await page.getByRole('button', { name: 'Again with other settings' }).focus();
    await page.keyboard.press('Enter');
    await page.locator('#order-title:focus').waitFor();
    expect(await page.locator('#part').innerText()).toContain('10.0 × 10.0 × 6.0 mm');
    expect(await page.locator('#set-layers-thickness').inputValue()).toBe('0.3');
    expect(await page.locator('#set-regions-tilt').inputValue()).toBe('30');
    expect(await page.locator('#name').inputValue()).toBe('Bed 3');
    await page.getByText(`as in job ${id}: Shed PLA`).waitFor({ state: 'attached' });
    await shoot(page, 'again');
    await page.locator('#set-layers-thickness').fill('0.25');
    await page.getByRole('button', { name: 'Submit job' }).click();
    await page.waitForURL((url) => /#job-\d+$/.test(url.hash) && url.hash !== `#job-${id}`);
    const next = Number(/job-(\d+)$/.exec(page.url())![1]);
    const { body } = await service.call<{ settings: object }>(`/v1/jobs/${next}/order`);
    const first = (await service.call<{ settings: object }>(`/v1/jobs/${id}/order`)).body;
    const other = structuredClone(first) as { settings: { layers: { thickness: number } } };
    other.settings.layers.thickness = 0.25;
    expect(body).toEqual(other);

    await page.getByLabel('Machine', { exact: true }).selectOption('head-table');
    await page.reload();
    await page.locator('#machine option:checked', { hasText: 'head-table' }).waitFor({
      state: 'attached',
    });
    await page.close();
  });

  test('a job that finished with errors says so in list and view, with the findings', async () => {
    const { page } = await openPage(service.url);
    const { id: part } = (await service.upload(writeStl(postWithArm(12, 24, 12, 8)), 'arm.stl'))
      .body;
    const regions = { ...quick.regions, most: 1, pose: 'given' };
    const { id } = (await service.submit({ part, settings: { ...quick, regions, check: true } }))
      .body;
    await service.ended(id);
    await page.goto(`${service.url}#job-${id}`);
    await page.locator(`#to-${id} .state.problem`, { hasText: 'finished, 2 errors' }).waitFor();
    await page.locator('#job .state.problem', { hasText: 'finished, 2 errors' }).waitFor();
    await page.locator('.findings', { hasText: 'verify/in-air-share' }).waitFor();
    await page.locator('#job dd', { hasText: 'do not print it as it is' }).waitFor();
    await shoot(page, 'errors');
    await page.close();
  });

  test('a machine is added from a file; a bad one is refused with what is wrong', async () => {
    const { page } = await openPage(service.url);
    const good = JSON.parse(readFileSync('samples/machines/head-table.json', 'utf8')) as object;
    const put = async (file: object): Promise<void> => {
      await page.setInputFiles('#add-file', {
        name: 'shed 2.json',
        mimeType: 'application/json',
        buffer: Buffer.from(JSON.stringify(file)),
      });
      await page.getByRole('button', { name: 'Add to the library' }).click();
    };
    await page.locator('#add summary').click();
    await put({ ...good, clearance: -1 });
    await page.locator('#add-answer .problem', { hasText: 'clearance' }).waitFor();
    await shoot(page, 'add-refused');
    await put(good);
    await page.getByText('Added and chosen: the machine shed 2.').waitFor();
    expect(await page.locator('#machine option:checked').innerText()).toBe('shed 2');
    expect((await service.call('/v1/machines/shed 2')).body).toEqual(good);
    // What is there already is replaced by a second press alone.
    await page.getByRole('button', { name: 'Add to the library' }).click();
    await page.getByRole('button', { name: 'Replace shed 2' }).waitFor();
    await page.close();
  });

  test('beside the chosen machine is a link to its page, on which the joints move', async () => {
    const { page, complaints } = await openPage(service.url);
    const link = page.locator('#machine-page');
    await page.locator('#machine option[value="name:head-table"]').waitFor({ state: 'attached' });
    expect(await link.isVisible()).toBe(false);
    await page.getByLabel('Machine', { exact: true }).selectOption('head-table');
    expect(await link.innerText()).toBe('Show head-table');
    await page.getByLabel('Machine', { exact: true }).selectOption('table-table-ac');
    await shoot(page, 'machine-link');
    const asked: string[] = [];
    page.context().on('request', (r) => asked.push(r.url()));
    await link.focus();
    const [shown] = await Promise.all([page.waitForEvent('popup'), page.keyboard.press('Enter')]);
    shown.on('pageerror', (error) => complaints.push(error.message));
    shown.on('console', (m) => m.type() === 'error' && complaints.push(m.text()));
    await shown.getByRole('heading', { name: /A-C/ }).waitFor();
    await shown.getByLabel('value of A, deg').fill('30');
    // Over an axis 6 mm above the face, a tip 234 mm over that axis leans to 234 sin 30 across and 6 + 234 cos 30 up.
    await shown.locator('#figures', { hasText: '0.0, 117.0, 208.6 mm' }).waitFor();
    // A goes to 100 deg either way and C has no end.
    await shown
      .locator('#findings', { hasText: 'reaches every direction up to 100 deg' })
      .waitFor();
    await shoot(shown, 'machine-page');
    expect(asked.filter((url) => !/^(data|blob):/.test(url))).toEqual([
      `${service.url}/v1/machines/table-table-ac/page`,
    ]);
    expect(complaints).toEqual([]);
    await shown.close();
    await page.close();
  });

  test('the unit of a part is doubted as inspect doubts it', async () => {
    const { page } = await openPage(service.url);
    const small = writeStl(cuboid([0.5, 0.5, 0.4]));
    await page.setInputFiles('#file', {
      name: 'inches.stl',
      mimeType: 'model/stl',
      buffer: Buffer.from(small),
    });
    // 0.5 inches are 12.7 mm (1 inch = 25.4 mm, exactly, by international agreement of 1959).
    await page.locator('#part .warning', { hasText: '12.7 mm if its unit is the inch' }).waitFor();
    await page.getByRole('button', { name: 'Take it as inch' }).click();
    expect(await page.locator('#set-place-unit').inputValue()).toBe('"inch"');
    await shoot(page, 'unit');
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
    // The session lets in whoever follows the link to a machine's page, too.
    await page.getByLabel('Machine', { exact: true }).selectOption('head-table');
    const [shown] = await Promise.all([
      page.waitForEvent('popup'),
      page.locator('#machine-page').click(),
    ]);
    await shown.locator('#joints .joint-row').first().waitFor();
    await shown.close();
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
    // Jobs take as long as they take; a test that hangs ends by its own limit.
    context.setDefaultTimeout(0);
    const page = await context.newPage();
    const complaints: string[] = [];
    page.on('console', (m) => m.type() === 'error' && complaints.push(m.text()));
    page.on('pageerror', (error) => complaints.push(error.message));
    await page.goto(url);
    return { page, complaints };
  }
});

/** Chooses a machine and a material. */
async function choose(page: Page): Promise<void> {
  await page.getByLabel('Machine', { exact: true }).selectOption('table-table-ac');
  await page.getByLabel('Material', { exact: true }).selectOption('pla');
}

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
