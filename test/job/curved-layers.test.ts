/**
 * Whole jobs in curved layers, from the part to the checked program, against what must be so whatever the field: filament
 * as planned, nothing touched, at most half of what flat layers leave hanging, the shape of the part. Figures are those
 * that the project asks for; the shape error is that of a layer thickness of 0.2 mm (half of it, and what the bead's
 * round flank leaves open).
 */
import { describe, expect, test } from 'vitest';
import { areaNormals, massOf } from '../../lib/mesh/measure.js';
import { modelOf } from '../../lib/page/client/model.js';
import { makePage } from '../../lib/page/data/page.js';
import { unpack } from '../../lib/page/data/packing.js';
import { curvedSkin } from '../../lib/report/curved.js';
import { TraceKind } from '../../lib/verify/trace.js';
import { jobOf, runJob } from '../support/jobs.js';
import { cuboid, hollowSphere, ringLying, standing } from '../support/shapes.js';

const ring = ringLying(12, 3);
const one = { regions: { most: 1, footing: 'report' }, paths: { fill: { density: 0.2 } } };
const inForm = (form: string, curved: object = {}, check = true): ReturnType<typeof jobOf> =>
  jobOf(ring, 'table-table-ac', {
    ...one,
    layers: { thickness: 0.2, form, curved },
    check: { run: check },
  });

describe('a ring that lies on the table, in curved layers', () => {
  const curved = runJob(inForm('field'));
  const flat = runJob(inForm('flat'));

  test('leaves at most half of what flat layers leave, but for what lies by the table', async () => {
    // Lower than 0.3 mm no machine can tilt.
    const left = async (job: typeof curved): Promise<number> =>
      (await job).report.unsupported.places
        .filter((p) => p.point[2] > 0.3)
        .reduce((sum, p) => sum + p.mm2, 0);
    expect(await left(flat)).toBeGreaterThan(50);
    expect((await left(curved)) / (await left(flat))).toBeLessThan(0.5);
  });

  test('is laid as planned, touches nothing and has its shape', async () => {
    const { check, leastClearance } = (await curved).report;
    expect(check!.volumeShare).toBeCloseTo(1, 4);
    expect(check!.print!.touches).toBe(0);
    expect(check!.counts['verify/touch']).toBeUndefined();
    expect(check!.shape!.p95Mm).toBeLessThan(0.12);
    expect(check!.shape!.missingMm2).toBe(0);
    for (const joint of check!.joints) expect(joint.speedShare).toBeLessThan(1.001);
    // Kept: the machine's clearance of 1 mm.
    expect(leastClearance!.mm).toBeGreaterThan(1);
  });

  test('turns while it lays, in one run, and takes at most 2.5 times as long', async () => {
    const [bent, straight] = [await curved, await flat];
    const { turning } = bent.trace!;
    expect([...turning]).toEqual([1]);
    expect([...straight.trace!.turning]).toEqual([0]);
    const factor = bent.report.motion.seconds / straight.report.motion.seconds;
    expect(factor).toBeLessThan(2.5);
    expect(bent.report.motion.paceShare.A).toBeLessThan(0.4);
  });

  test('what the check finds in the air is what the layers leave, to the width of a bead about it', async () => {
    const { report } = await curved;
    const found = report.regions[0]!.check!;
    const left = report.unsupported.fromLayersMm2;
    expect(Math.abs(found.inAirMm2 - found.overFillMm2 - left)).toBeLessThan(0.3 * left);
  });

  test('is shown with the layers of the plan and beads as high as the check found them', async () => {
    const { report, plan, trace, time, map, turned } = await curved;
    const { machine } = inForm('field');
    const page = makePage('<!--title--><!--data-->', {
      ...{ report, machine, regions: plan.regions, trace: trace!, time: time!, map: map! },
      turned: turned!,
    });
    const model = modelOf(unpack(page[1]!));
    expect(model.layers).toHaveLength(report.regions[0]!.layers);
    const { curved: grown } = report.regions[0]!;
    // A layer of few beads may be thicker than 99 % of all are, but none than the job allows: half to 1.5 times 0.2 mm.
    const thicknesses = model.layers.slice(1).map(({ thickness }) => thickness);
    expect(Math.min(...thicknesses)).toBeGreaterThan(0.5 * 0.2);
    expect(Math.max(...thicknesses)).toBeLessThan(1.5 * 0.2);
    const [thin, thick] = grown!.thicknessMm;
    const middle = thicknesses.sort((x, y) => x - y)[thicknesses.length >> 1]!;
    expect(middle).toBeGreaterThan(thin);
    expect(middle).toBeLessThan(thick);
    // The head may lean 5 deg from the layer's normal.
    const most = model.tilt.reduce(
      (a, b, i) => (model.kind[i] === TraceKind.deposit ? Math.max(a, b) : a),
      0,
    );
    expect(Math.abs(most - grown!.mostTiltDeg)).toBeLessThan(5.1);
    // What the picture hatches is what the field is judged by, on samples of the same skin.
    const { map: layerMap } = (await curved).layers[0]!;
    if (layerMap.kind !== 'field') throw new Error('flat');
    const skin = curvedSkin(plan.part, layerMap, 0.2, Math.PI / 4);
    const areas = areaNormals(skin.mesh);
    const hatched = skin.hanging.reduce(
      (sum, on, f) => sum + (on ? Math.hypot(...areas.subarray(3 * f, 3 * f + 3)) : 0),
      0,
    );
    expect(Math.abs(hatched / report.unsupported.plannedMm2 - 1)).toBeLessThan(0.1);
  });

  test('says how it is grown, and nothing of flat regions', async () => {
    const { findings, part } = (await curved).report;
    const codes = findings.map((f) => f.code);
    expect(codes).toContain('layers/curved');
    expect(codes.filter((c) => c.startsWith('regions/'))).toEqual([]);
    expect(part.volumeMm3).toBeCloseTo(massOf(ring).volume, 0);
  });
});

/*
 * The fronts of a crown close on one another from all sides: grown only so that each is carried, a head in one of them
 * stands in the one across, and the job is refused.
 */
test('a hollow ball closes over its cavity, untouched, and leaves at most a third of what flat layers leave', async () => {
  const ball = standing(hollowSphere(8, 6, 64));
  const inBall = (form: string): ReturnType<typeof jobOf> =>
    jobOf(ball, 'table-table-ac', {
      ...one,
      layers: { form },
      check: { run: form === 'field' },
      page: false,
    });
  const [flat, curved] = [await runJob(inBall('flat')), await runJob(inBall('field'))];
  const open = ({ report }: typeof flat): number =>
    report.unsupported.fromLayersMm2 - report.unsupported.overFillMm2;
  expect(curved.report.check!.print!.touches).toBe(0);
  expect(open(flat)).toBeGreaterThan(40);
  expect(open(curved) / open(flat)).toBeLessThan(1 / 3);
});

describe('the form that a job may choose', () => {
  test('stays flat, without a word, where flat layers leave nothing', async () => {
    const { report, trace } = await runJob(
      jobOf(cuboid([12, 12, 4]), 'table-table-ac', { layers: { form: 'auto' } }),
    );
    expect(report.findings.map((f) => f.code)).not.toContain('layers/form');
    expect([...trace!.turning]).toEqual([0]);
  });

  test('stays flat where curved layers would take too long, with the figures', async () => {
    const { report, motion } = await runJob(inForm('auto', { slower: 1.1 }, false));
    const note = report.findings.find((f) => f.code === 'layers/form')!;
    expect(note.message).toMatch(/^the layers stay flat: .* the limit is 1.1 times$/);
    expect(motion.totalSeconds).toBeCloseTo(
      (await runJob(inForm('flat', {}, false))).motion.totalSeconds,
      6,
    );
  });

  test('is curved where that is better', async () => {
    const { report } = await runJob(inForm('auto', {}, false));
    const note = report.findings.find((f) => f.code === 'layers/form')!;
    expect(note.message).toMatch(/^the layers are curved: /);
  });

  test('stays flat with the reason where the part has no field', async () => {
    // Walls of the ring are thinner than the cubes of the lattice.
    const { report } = await runJob(inForm('auto', { lattice: 8 }, false));
    const note = report.findings.find((f) => f.code === 'layers/form')!;
    expect(note.message).toMatch(/^the layers stay flat: .*8 mm/);
  });

  test('is refused where curved layers are asked for and the part has no field', async () => {
    await expect(runJob(inForm('field', { lattice: 8 }))).rejects.toMatchObject({
      code: 'field/unresolved',
    });
  });
});
