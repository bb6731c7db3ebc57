/**
 * The sample parts through the whole chain, held against their expected.json: bounds of region
 * counts and areas whose reasons stand there, and no error from the check.
 */
import { readFileSync } from 'node:fs';
import { afterAll, describe, expect, test } from 'vitest';
import { parse } from '../../lib/base/schema.js';
import { type Vec3, dot, pointAt, sub } from '../../lib/base/vector.js';
import { jobFile } from '../../lib/job/job-file.js';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import { toPart } from '../../lib/layers/layer-map.js';
import { headRadius, headTop } from '../../lib/machine/head.js';
import type { Machine } from '../../lib/machine/machine.js';
import type { SliceResult } from '../../lib/job/pipeline.js';
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
  /** Whether the layers are curved. */
  readonly curved?: boolean;
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
    const result = await runJob(input, pool.run);
    const { report } = result;
    within(report.part.volumeMm3, expected.part.volumeMm3);
    within(report.regions.length, expected.regions);
    within(report.unsupported.asPlacedMm2, expected.unsupported.asPlacedMm2);
    within(report.unsupported.plannedMm2, expected.unsupported.plannedMm2);
    // In the open; between beads of fill, inside, less than half a percent of the beads.
    const { fromLayersMm2, overFillMm2 } = report.unsupported;
    within(fromLayersMm2 - overFillMm2, expected.unsupported.fromLayersMm2);
    expect(overFillMm2).toBeLessThan(5e-3 * report.check!.depositMm * report.check!.print!.widthMm);
    expect(report.check!.findings.filter((f) => f.severity === 'error')).toEqual([]);
    expect(report.check!.volumeShare).toBeCloseTo(1, 4);
    expect(report.regions.some((r) => r.curved)).toBe(expected.curved ?? false);
    // Of a head that turns the plan's own proof speaks, and the recount of another test.
    if (!expected.curved) expect(leastGap(input.machine, result)).toBeGreaterThan(0);
    // What stays is said: a finding for every region that leaves something.
    report.regions.forEach((region, i) => {
      if (region.unsupportedMm2 < 0.02) return;
      expect(
        report.findings.some((f) => f.code.startsWith('regions/unsupported') && f.at?.region === i),
      ).toBe(true);
    });
  });
});

/**
 * A recount that knows only outlines: over a sample of tip places, the least distance from the head's
 * round outline to a sample of what was printed before, mm. Infinity if nothing stands beside a tip.
 */
function leastGap(machine: Machine, result: SliceResult): number {
  const order = [...result.program.join('').matchAll(/\(region (\d+), layer/g)].map(
    (m) => Number(m[1]) - 1,
  );
  const top = headTop(machine);
  const printed: Vec3[] = [];
  let least = Infinity;
  for (const region of new Set(order)) {
    const { direction, mesh } = result.plan.regions[region]!;
    for (const tip of placesOf(result, region, 61)) {
      for (const p of printed) {
        const away = sub(p, tip);
        const above = dot(away, direction);
        if (above < BEAD || above > top) continue;
        const beside = Math.sqrt(Math.max(0, dot(away, away) - above * above));
        least = Math.min(least, beside - headRadius(machine, above));
      }
    }
    for (const p of placesOf(result, region, 53)) printed.push(p);
    for (let v = 0; v < mesh.vertices.length / 3; v++) printed.push(pointAt(mesh.vertices, v));
  }
  return least;
}

/** Material less than this over the tip is the bead's own neighbourhood, mm. */
const BEAD = 0.25;

/** Every so-many-th path point of a region, part frame. */
function placesOf({ paths, layers }: SliceResult, region: number, step: number): Vec3[] {
  const { points } = paths[region]!.paths;
  const { map } = layers[region]!;
  const out: Vec3[] = [];
  for (let i = 0; i < points.length / 3; i += step) out.push(toPart(map, pointAt(points, i)));
  return out;
}

function within(value: number, { least = -Infinity, most = Infinity }: Bounds): void {
  expect(value).toBeGreaterThanOrEqual(least);
  expect(value).toBeLessThanOrEqual(most);
}
