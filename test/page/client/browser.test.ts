/**
 * The page in a real browser: opens from a file without a network and without errors, plays, jumps to
 * a finding, answers to slider and keys, fits a phone, follows light and dark. Drawn in software, so
 * nothing here is timed.
 */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { decode } from 'fast-png';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { makePage } from '../../../lib/page/data/page.js';
import { verify } from '../../../lib/verify/verify.js';
import { noBrowser, openBrowser } from '../../support/browser.js';
import { jobOf, runJob } from '../../support/jobs.js';
import { postWithArm } from '../../support/shapes.js';

const folder = mkdtempSync(join(tmpdir(), 'tiltwright-page-'));
const file = join(folder, 'report.html');
const template = new URL('../../../dist/page/page.html', import.meta.url);
const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
let browser: Browser;
let page: Page;
const errors: string[] = [];
const asked: string[] = [];
let plantedLine = 0;

/** A program in which one block in the middle feeds five times as much as it should. */
async function makeFaulty(): Promise<void> {
  const input = jobOf(postWithArm(20, 70, 30, 20), 'table-table-ac', {
    regions: { directions: 40, effort: 12, lean: 0 },
    layers: { thickness: 0.3, first: 0.3 },
    paths: { fill: { density: 0.1 } },
  });
  const { report, plan, map, program, time } = await runJob(input);
  const lines = program.join('').split('\n');
  const middle = Math.floor(lines.length / 2);
  const at = lines.findIndex((l, i) => i > middle && / E0\.[1-9]/.test(l) && !/F/.test(l));
  lines[at] = lines[at]!.replace(/E(\S+)/, (_, e: string) => `E${(5 * Number(e)).toFixed(5)}`);
  plantedLine = at + 1;
  const facts = { flow: input.material.flow };
  const { check, trace } = verify(lines.join('\n'), input.machine, facts);
  const page = makePage(readFileSync(template, 'utf8'), {
    report: { ...report, check, findings: check.findings },
    machine: input.machine,
    regions: plan.regions,
    trace,
    time: time!,
    map: map!,
  });
  writeFileSync(file, page.join(''));
}

async function open(): Promise<void> {
  page = await browser.newPage({ viewport: { width: 900, height: 640 }, colorScheme: 'light' });
  page.on('pageerror', (e) => errors.push(e.message));
  page.on('console', (m) => {
    if (m.type() === 'error') errors.push(m.text());
  });
  page.on('request', (r) => asked.push(r.url()));
  await page.goto(`file://${file}`);
  await page.waitForSelector('main:not([hidden])');
  await drawn();
}

/** Waits until the view has drawn what is asked of it. */
const drawn = (): Promise<unknown> =>
  page.evaluate(
    `new Promise((done) => { const { frames } = tiltwright.view; const from = frames.drawn; frames.change();
      const look = () => frames.drawn > from ? done(0) : requestAnimationFrame(look);
      look(); })`,
  );

const state = (): Promise<Record<string, unknown>> =>
  page.evaluate('({ ...tiltwright.store.state })');

/** Pixels of the 3-D view in which blue, or red, is clearly the stronger: the colours of the two regions. */
async function coloured(): Promise<{ blue: number; orange: number }> {
  await drawn();
  const { data, channels } = decode(await page.locator('#canvas').screenshot());
  let [blue, orange] = [0, 0];
  for (let i = 0; i < data.length; i += channels) {
    if (data[i + 2]! > 1.5 * data[i]!) blue++;
    if (data[i]! > 1.6 * data[i + 2]!) orange++;
  }
  return { blue, orange };
}

describe.skipIf(noBrowser)(`the page in chromium ${noBrowser}`, () => {
  beforeAll(async () => {
    await makeFaulty();
    browser = await openBrowser();
    await open();
  });
  afterAll(async () => {
    await browser?.close();
    rmSync(folder, { recursive: true });
  });

  test('opens by itself, asks for nothing else, has no errors and shows both regions', async () => {
    expect(await page.title()).toBe('part.stl');
    expect(errors).toEqual([]);
    expect(asked.filter((url) => !/^(file|data|blob):/.test(url))).toEqual([]);
    expect(asked.filter((url) => url.startsWith('file:'))).toHaveLength(1);
    const seen = await coloured();
    expect(seen.blue).toBeGreaterThan(2000);
    expect(seen.orange).toBeGreaterThan(1000);
  });

  test('plays from the beginning and stops when told', async () => {
    await page.getByRole('button', { name: 'play' }).click();
    await expect.poll(async () => (await state())['time'], { timeout: 60_000 }).toBeGreaterThan(60);
    await page.getByRole('button', { name: 'pause' }).click();
    const { time, playing } = await state();
    expect(playing).toBe(false);
    await drawn();
    expect((await state())['time']).toBe(time);
    expect(errors).toEqual([]);
  });

  test('on a device that draws slowly every picture shown is whole, and it says that it draws', async () => {
    // Each step of drawing is made to take 150 ms longer than it does, and pixels are counted at each frame.
    const seen = await page.evaluate<{ counts: number[]; labelled: boolean }>(`(async () => {
      const { view, store, player } = tiltwright;
      const gl = view.frames.context;
      const read = gl.readPixels.bind(gl);
      gl.readPixels = (...all) => {
        const began = performance.now();
        while (performance.now() < began + 150);
        read(...all);
      };
      const canvas = document.getElementById('canvas');
      const filled = () => {
        const { data } = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
        let n = 0;
        for (let i = 3; i < data.length; i += 4) if (data[i] > 0) n++;
        return n / (canvas.width * canvas.height);
      };
      store.set({ time: Infinity, playing: false });
      const counts = [];
      let labelled = false;
      const label = document.getElementById('drawing');
      new MutationObserver(() => (labelled ||= !label.hidden)).observe(label, { attributes: true });
      for (let i = 0; i < 24; i++) {
        // Played from a late moment, then turned, then left at rest.
        if (i === 2) store.set({ time: 0.9 * store.state.time, playing: true });
        if (i === 10) store.set({ playing: false });
        if (i > 10 && i < 14) view.orbit(0.05, 0);
        await new Promise((done) => setTimeout(done, 120));
        counts.push(filled());
      }
      delete gl.readPixels;
      return { counts, labelled };
    })()`);
    expect(seen.labelled).toBe(true);
    const least = Math.min(...seen.counts);
    expect(least).toBeGreaterThan(0.5 * Math.max(...seen.counts));
    await drawn();
    expect(await page.locator('#drawing').isHidden()).toBe(true);
  });

  test('the time slider changes the picture: less is laid the earlier it is', async () => {
    const slider = page.getByRole('slider', { name: 'time of the program' });
    await slider.fill('10000');
    const whole = await coloured();
    await slider.fill('5000');
    const half = await coloured();
    await slider.fill('0');
    const none = await coloured();
    expect(half.blue + half.orange).toBeLessThan(0.9 * (whole.blue + whole.orange));
    expect(none.blue + none.orange).toBeLessThan(0.1 * (half.blue + half.orange));
    expect(await slider.getAttribute('aria-valuetext')).toContain('region 1, layer 1');
  });

  test('a finding brings time and view to its line', async () => {
    const finding = page.getByRole('button', { name: new RegExp(`line ${plantedLine}\\b`) });
    await finding.first().click();
    expect(await finding.first().getAttribute('aria-pressed')).toBe('true');
    expect(await page.locator('#line').textContent()).toBe(`line ${plantedLine}`);
    expect(await page.evaluate('tiltwright.view.marker.group.visible')).toBe(true);
    const near = await page.evaluate(
      `(() => { const { model, store, view } = tiltwright; const b = model.blockAt(store.state.time);
        return view.controls.target.distanceTo({ x: model.tips[3 * b + 3], y: model.tips[3 * b + 4], z: model.tips[3 * b + 5] }); })()`,
    );
    expect(near).toBeLessThan(0.01);
  });

  test('keys step, play, colour and turn', async () => {
    await page.locator('#canvas').focus();
    await page.keyboard.press('Home');
    expect((await state())['time']).toBe(0);
    await page.keyboard.press('ArrowUp');
    expect(await page.locator('#where').textContent()).toBe('region 1, layer 1');
    await page.keyboard.press('ArrowUp');
    expect(await page.locator('#where').textContent()).toBe('region 1, layer 2');
    await page.keyboard.press('ArrowLeft');
    await page.keyboard.press('c');
    expect((await state())['mode']).toBe('flow');
    expect(await page.locator('#legend').textContent()).toContain('mm³/s');
    // From the finding that was chosen one back and one on again.
    await page.keyboard.press('Shift+F');
    expect(await page.locator('#line').textContent()).not.toBe(`line ${plantedLine}`);
    await page.keyboard.press('f');
    expect(await page.locator('#line').textContent()).toContain(`line ${plantedLine}`);
    const before = await page.evaluate('tiltwright.view.camera.position.x');
    await page.keyboard.press('d');
    expect(await page.evaluate('tiltwright.view.camera.position.x')).not.toBe(before);
    await page.keyboard.press(' ');
    expect((await state())['playing']).toBe(true);
    await page.keyboard.press(' ');
    expect((await state())['playing']).toBe(false);
  });

  test.each(['light', 'dark'] as const)(
    'has no fault by the rules of axe-core (WCAG 2.1 A and AA, best practice), %s',
    async (scheme) => {
      await page.emulateMedia({ colorScheme: scheme });
      await page.evaluate(axe);
      const found = await page.evaluate<string[]>(
        `axe.run({ runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'best-practice'] })
          .then((r) => r.violations.map((v) => v.id + ' ' + v.nodes[0].html.slice(0, 120)))`,
      );
      expect(found).toEqual([]);
    },
  );

  test.each([360, 390, 768])('fits a width of %d pixels with nothing beside it', async (width) => {
    await page.setViewportSize({ width, height: 780 });
    await drawn();
    const over = await page.evaluate('document.documentElement.scrollWidth - innerWidth');
    expect(over).toBeLessThanOrEqual(0);
    const canvas = await page.locator('#canvas').boundingBox();
    expect(canvas!.width).toBeGreaterThan(width * 0.9);
    expect(errors).toEqual([]);
  });

  test('follows light and dark', async () => {
    const ground = async (scheme: 'light' | 'dark'): Promise<number> => {
      await page.emulateMedia({ colorScheme: scheme });
      const colour = await page.evaluate('getComputedStyle(document.body).backgroundColor');
      return Number(/\d+/.exec(String(colour))![0]);
    };
    expect(await ground('light')).toBeGreaterThan(200);
    expect(await ground('dark')).toBeLessThan(60);
  });
});
