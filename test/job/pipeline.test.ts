/**
 * The whole chain on small parts and all three sample machines, held against what must be so
 * whatever the plan: volumes of the pieces, places of the program, metered filament, reach.
 */
import { describe, expect, test } from 'vitest';
import { type Vec3, pointAt } from '../../lib/base/vector.js';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import { toPart } from '../../lib/layers/layer-map.js';
import type { Mesh } from '../../lib/base/mesh.js';
import { massOf } from '../../lib/mesh/measure.js';
import type { SliceInput } from '../../lib/job/lay-out.js';
import type { SliceResult } from '../../lib/job/pipeline.js';
import { verify } from '../../lib/verify/verify.js';
import { jobOf, runJob } from '../support/jobs.js';
import { cuboid, cylinder, postWithArm } from '../support/shapes.js';

const machines = ['table-table-ac', 'table-table-bc', 'head-table'];
const quick = { regions: { directions: 40, effort: 12, lean: 0 } };
/** An arm high enough for the head of the sample machines at 90 deg of tilt. */
const highArm = (): Mesh => postWithArm(14, 70, 24, 14);

describe.each(machines)('%s', (machine) => {
  const input = jobOf(highArm(), machine, { ...quick, layers: { thickness: 0.25, first: 0.25 } });
  const result = runJob(input);

  test('the arm is built sideways and nothing hangs', async () => {
    const { report } = await result;
    // Closed form: the underside of the arm, 24 x 14 mm, hangs as placed.
    expect(report.unsupported.asPlacedMm2).toBeCloseTo(24 * 14, 6);
    expect(report.regions.length).toBe(2);
    expect(report.unsupported.plannedMm2).toBeCloseTo(0, 6);
    // Nothing hangs in the open; inside, a few ends of cap lines lie between beads of fill: less than one bead
    // in a thousand.
    const { fromLayersMm2, overFillMm2 } = report.unsupported;
    expect(fromLayersMm2 - overFillMm2).toBeLessThan(0.1);
    expect(overFillMm2).toBeLessThan(1e-3 * report.check!.depositMm * report.check!.print!.widthMm);
  });

  test('region volumes sum to the part within 1e-6', async () => {
    const { plan } = await result;
    const sum = plan.regions.reduce((v, region) => v + massOf(region.mesh).volume, 0);
    // Closed form: post 14 x 14 x 70 and arm 14 x 14 x 24.
    expect(sum / (14 * 14 * 70 + 14 * 14 * 24)).toBeCloseTo(1, 6);
  });

  // Steps of less than 2 um are not made; the last decimal of each joint may add 0.1 um.
  test('program, own reader and machine, give and all, come to every path point within 2.1 um', async () => {
    expect(farthest(input, await result)).toBeLessThan(2.1e-3);
  });

  test('the check finds no error, and metered filament is what was planned', async () => {
    const { report } = await result;
    expect(report.check!.findings.filter((f) => f.severity === 'error')).toEqual([]);
    expect(report.check!.volumeShare).toBeCloseTo(1, 4);
    for (const joint of report.check!.joints) expect(joint.speedShare).toBeLessThan(1.001);
  });

  test('each region holds the volume of its areas times the fill planned, within 1%', async () => {
    const { paths } = await result;
    for (const { figures } of paths) {
      const sum = (list: Float64Array): number => list.reduce((a, b) => a + b, 0);
      expect(Math.abs(sum(figures.laid) / sum(figures.wanted) - 1)).toBeLessThan(0.01);
    }
  });

  test('every region has a direction that the machine reaches, and its base is touched', async () => {
    const { report } = await result;
    for (const region of report.regions) {
      expect(Number.isFinite(region.rotaryDeg)).toBe(true);
      expect(region.contactMm2).toBeGreaterThan(1);
    }
  });
});

/** Greatest distance from a path point to the nearest end of a block, where the joints stand under their load, mm. */
function farthest({ machine, material }: SliceInput, result: SliceResult): number {
  const { trace } = verify(result.program.join(''), machine, material);
  const cell = 0.05;
  const ends = new Map<string, Vec3[]>();
  const cellOf = (p: readonly number[]): number[] => p.map((x) => Math.floor(x / cell));
  for (let b = 0; b < trace.kind.length; b++) {
    const tip = pointAt(trace.tip, b);
    const at = cellOf(tip).join();
    ends.set(at, [...(ends.get(at) ?? []), tip]);
  }
  let worst = 0;
  result.paths.forEach(({ paths }, region) => {
    for (let i = 0; i < paths.points.length; i += 3) {
      const point = toPart(result.layers[region]!.map, [
        paths.points[i]!,
        paths.points[i + 1]!,
        paths.points[i + 2]!,
      ]);
      let least = Infinity;
      const [x, y, z] = cellOf(point) as [number, number, number];
      for (let n = 0; n < 27; n++) {
        const near = [x + (n % 3) - 1, y + (Math.floor(n / 3) % 3) - 1, z + Math.floor(n / 9) - 1];
        for (const end of ends.get(near.join()) ?? []) {
          least = Math.min(
            least,
            Math.hypot(end[0] - point[0], end[1] - point[1], end[2] - point[2]),
          );
        }
      }
      worst = Math.max(worst, least);
    }
  });
  return worst;
}

test('a solid box and cylinder: metered volume is that of the part within 0.3%', async () => {
  // Closed forms. With the outermost points of the beads on the surface it would be 0.4 to 0.5 % less.
  const solid = { paths: { fill: { density: 1 } } };
  for (const [mesh, volume] of [
    [cuboid([20, 20, 10]), 4000],
    [cylinder(8, 12, 128), massOf(cylinder(8, 12, 128)).volume],
  ] as const) {
    const { report } = await runJob(jobOf(mesh, 'table-table-ac', solid));
    expect(Math.abs(report.material.volumeMm3 / volume - 1)).toBeLessThan(0.003);
    expect(Math.abs(report.check!.shape!.meanMm)).toBeLessThan(0.01);
  }
});

describe('refused before long work, with value, limit and unit', () => {
  const cube = cuboid([20, 20, 20]);
  const cases: [string, object, string, RegExp][] = [
    [
      'a part beyond the table',
      { place: { at: [75, 0] } },
      'place/off-table',
      /85\.\d+ mm .* 80 mm/,
    ],
    ['a part higher than Z travels', { place: { height: 900 } }, 'place/off-table', /mm/],
    [
      'a layer thicker than the nozzle allows',
      { layers: { thickness: 0.5 } },
      'layers/too-thick',
      /0\.5 mm.*0\.3 mm/,
    ],
  ];
  test.each(cases)('%s', async (_name, settings, code, message) => {
    const failure = runJob(jobOf(cube, 'table-table-ac', settings));
    await expect(failure).rejects.toMatchObject({
      code,
      message: expect.stringMatching(message) as string,
    });
  });

  test('a part that the Z joint cannot reach the top of', async () => {
    const tower = cuboid([10, 10, 400]);
    await expect(runJob(jobOf(tower, 'table-table-ac', {}))).rejects.toMatchObject({
      code: 'place/out-of-reach',
      message: expect.stringMatching(
        /joint Z at 400\.00 mm, its travel ends at \d+\.00 mm/,
      ) as string,
    });
  });
});

describe('a portal whose beam spans 16 mm', () => {
  // Two posts of 12 x 12 x 10 mm, 16 mm apart, under a beam of 40 x 12 x 3 mm.
  const portal = async (): Promise<Mesh> =>
    (await loadSolidKernel()).unite([
      cuboid([12, 12, 10], [-14, 0, 0]),
      cuboid([12, 12, 10], [14, 0, 0]),
      cuboid([40, 12, 3], [0, 0, 10]),
    ]);

  test('allowed to be bridged: one region, nothing hangs, and the check agrees', async () => {
    const settings = { ...quick, layers: { bridge: 18 } };
    const { report } = await runJob(jobOf(await portal(), 'table-table-ac', settings));
    // Closed form: 16 x 12 mm less the strips of 0.2 mm that hold themselves at both posts.
    expect(report.unsupported.asPlacedMm2).toBeCloseTo(16 * 12, 4);
    expect(report.regions.length).toBe(1);
    expect(report.unsupported.fromLayersMm2).toBe(0);
    expect(report.unsupported.places).toEqual([]);
    const { allowedMm, places } = report.unsupported.bridges;
    expect(allowedMm).toBe(18);
    expect(places.map(({ layer }) => layer)).toEqual([50]);
    expect(places[0]!.mm2).toBeCloseTo(15.6 * 12, 1);
    expect(places[0]!.spanMm).toBeCloseTo(15.6, 3);
    const codes = report.findings.map((f) => f.code);
    expect(codes).toContain('layers/bridged');
    expect(codes.filter((code) => code.startsWith('regions/unsupported'))).toEqual([]);
    expect(report.check!.counts['verify/in-air']).toBeUndefined();
  });

  test('with an arm that is no bridge: the arm is taken off, the beam stays where it is', async () => {
    const part = (await loadSolidKernel()).unite([
      await portal(),
      cuboid([20, 12, 4], [-30, 0, 5]),
    ]);
    const settings = { ...quick, layers: { bridge: 18 } };
    const { report } = await runJob(jobOf(part, 'table-table-ac', settings));
    // Both undersides, the arm's of 20 x 12 mm; nothing but the arm needs another direction.
    expect(report.unsupported.asPlacedMm2).toBeCloseTo(16 * 12 + 20 * 12, 4);
    expect(report.regions.length).toBe(2);
    expect(report.unsupported.plannedMm2).toBe(0);
    expect(report.unsupported.fromLayersMm2).toBe(0);
    const { places } = report.unsupported.bridges;
    expect(places.map(({ region, layer }) => [region, layer])).toEqual([[0, 50]]);
    expect(places[0]!.spanMm).toBeCloseTo(15.6, 3);
  });

  test('not allowed: the same program would hang, and the check says so', async () => {
    const settings = { regions: { most: 1 } };
    const { report } = await runJob(jobOf(await portal(), 'table-table-ac', settings));
    // Counted from the beads: those along both edges of the gap are cut into pieces of half a millimetre.
    expect(Math.abs(report.unsupported.fromLayersMm2 / (15.6 * 12) - 1)).toBeLessThan(0.01);
    expect(report.unsupported.bridges.places).toEqual([]);
    expect(report.check!.counts['verify/in-air']).toBeGreaterThan(0);
  });
});

test('a cancelled job stops with the reason of its signal', async () => {
  const abort = new AbortController();
  const reason = new Error('no longer wanted');
  const stages = new Set<string>();
  const watch = {
    signal: abort.signal,
    progress: ({ stage }: { stage: string }) => {
      stages.add(stage);
      if (stage === 'paths') abort.abort(reason);
    },
  };
  const failure = runJob(jobOf(cuboid([20, 20, 10]), 'table-table-ac', quick), undefined, watch);
  await expect(failure).rejects.toBe(reason);
  expect(stages).not.toContain('motion');
});
