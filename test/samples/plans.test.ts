/**
 * The four sample parts through the whole chain, held against their expected.json: bounds of region
 * counts and areas whose reasons stand there, and no error from the check.
 */
import { readFileSync } from 'node:fs';
import { afterAll, describe, expect, test } from 'vitest';
import { parse } from '../../lib/base/schema.js';
import { jobFile } from '../../lib/job.js';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import { openPool } from '../../worker/pool.js';
import { partNames, parts } from '../../samples/parts.js';
import { jobOf, runJob } from '../support/jobs.js';

interface Bounds {
  readonly least?: number;
  readonly most?: number;
}

interface Expected {
  readonly part: { readonly volumeMm3: Bounds };
  readonly regions: Bounds;
  readonly unsupported: Readonly<Record<'asPlacedMm2' | 'plannedMm2' | 'fromLayersMm2', Bounds>>;
}

const read = (path: string): unknown =>
  JSON.parse(readFileSync(new URL(`../../samples/${path}`, import.meta.url), 'utf8')) as unknown;

const kernel = await loadSolidKernel();
const pool = openPool();
afterAll(() => pool.close());

describe.each(partNames)('%s', (name) => {
  test('is planned as expected, and its program passes the check', async () => {
    const expected = read(`${name}/expected.json`) as Expected;
    const job = parse(jobFile, read(`${name}/job.json`), 'job');
    const input = { ...jobOf(parts[name](kernel), 'table-table-ac', {}), job };
    const { report } = await runJob(input, pool.run);
    within(report.part.volumeMm3, expected.part.volumeMm3);
    within(report.regions.length, expected.regions);
    within(report.unsupported.asPlacedMm2, expected.unsupported.asPlacedMm2);
    within(report.unsupported.plannedMm2, expected.unsupported.plannedMm2);
    within(report.unsupported.fromLayersMm2, expected.unsupported.fromLayersMm2);
    expect(report.check!.findings.filter((f) => f.severity === 'error')).toEqual([]);
    expect(report.check!.volumeShare).toBeCloseTo(1, 4);
    // What stays is said: a finding for every region that leaves something.
    report.regions.forEach((region, i) => {
      if (region.unsupportedMm2 < 0.02) return;
      expect(
        report.findings.some((f) => f.code.startsWith('regions/unsupported') && f.at?.region === i),
      ).toBe(true);
    });
  }, 300_000);
});

function within(value: number, { least = -Infinity, most = Infinity }: Bounds): void {
  expect(value).toBeGreaterThanOrEqual(least);
  expect(value).toBeLessThanOrEqual(most);
}
