/** What a job makes of a part that does not hold on to the table, and of the material's density. */
import { describe, expect, it } from 'vitest';
import { GRAVITY } from '../../lib/base/gravity.js';
import { bounds, massOf } from '../../lib/mesh/measure.js';
import { gripOf } from '../../lib/regions/search/pedestal-grip.js';
import { withDensity } from '../../lib/job/footing-remedy.js';
import { jobOf, runJob } from '../support/jobs.js';
import { cubeOnCorner, cuboid, sphere, standing } from '../support/shapes.js';

const little = { directions: 40, effort: 12, lean: 0 };
const cubeOf = (regions: object): ReturnType<typeof jobOf> =>
  jobOf(cubeOnCorner(6), 'table-table-ac', { regions: { ...little, ...regions }, check: false });

describe('a cube on its corner', () => {
  it('is refused, with figure, limit and unit', async () => {
    await expect(runJob(cubeOf({}))).rejects.toMatchObject({
      code: 'footing/contact',
      message: expect.stringMatching(/lays 0\.00 mm2 .* limit is 4 mm2 .* 0\.20 mm/) as string,
    });
  });

  it('is planned all the same where that is wished, with an error and the height of its first bead', async () => {
    const { report } = await runJob(cubeOf({ footing: 'report' }));
    const error = report.findings.find((f) => f.code === 'footing/contact');
    expect(error?.severity).toBe('error');
    // The inscribed circle of the section is as wide as a bead of 0.3 mm from z = 0.21 mm on.
    expect(report.regions[0]!.firstBeadMm).toBeCloseTo(0.2, 6);
    expect(report.findings.map((f) => f.code)).toContain('footing/empty-layers');
    expect(report.footing.contactMm2).toBe(0);
  });

  it('is put on a pedestal where that is wished, whose columns enclose its corner', async () => {
    const { report, plan } = await runJob(cubeOf({ footing: 'pedestal' }));
    expect(report.findings.filter((f) => f.severity === 'error')).toEqual([]);
    expect(report.findings.find((f) => f.code === 'regions/pedestal')?.message).toMatch(/enclose/);
    expect(report.footing.table!.mpa).toBeLessThan(2);
    expect(report.footing.neck!.mpa).toBeLessThan(10);
    expect(report.regions[0]!.firstBeadMm).toBeCloseTo(0, 9);
    expect(bounds(plan.part).most[2]).toBeCloseTo(6 * Math.sqrt(3) + 3, 6);
  });
});

it('on a pedestal that the job asks for the columns enclose the corner as well', async () => {
  const { report } = await runJob(cubeOf({ pedestal: 5 }));
  expect(report.findings.filter((f) => f.severity === 'error')).toEqual([]);
  expect(report.footing.neck!.mpa).toBeLessThan(10);
});

it('a block stands by itself whatever is chosen: no pedestal, no finding', async () => {
  const block = (footing: string): ReturnType<typeof jobOf> =>
    jobOf(cuboid([12, 12, 4]), 'table-table-ac', { regions: { ...little, footing }, check: false });
  for (const footing of ['refuse', 'pedestal']) {
    const { report, plan } = await runJob(block(footing));
    expect(report.findings.filter((f) => /footing|pedestal/.test(f.code))).toEqual([]);
    expect(bounds(plan.part).most[2]).toBeCloseTo(4, 9);
  }
});

describe('columns of a pedestal', () => {
  // A disc of radius r bears (F + W / 2) H on 0.8 of 10 MPa where pi r^3 / 4 is as large; a ball is as
  // wide at R - sqrt(R^2 - r^2) over its lowest point.
  it('enclose as much of a ball as bears it', () => {
    const ball = standing(sphere(10, 144));
    const hold = { force: 2, stress: 10, density: 1.24 };
    const weight = massOf(ball).volume * 1.24e-6 * GRAVITY;
    const r = Math.cbrt(((2 + weight / 2) * (20 + 3) * 4) / (Math.PI * 8));
    const grip = gripOf(ball, 3, 0.05, 4, hold);
    expect(grip).toBeGreaterThan(10 - Math.sqrt(100 - r * r) - 0.01);
    expect(grip).toBeLessThan(10 - Math.sqrt(100 - r * r) + 0.11);
  });
});

describe('the density', () => {
  it('is that of the material, unless the job names another', () => {
    const density = (hold: object): number | undefined =>
      withDensity(cubeOf({ hold })).job.regions.hold.density;
    // PLA 1.24 g/cm3 (ASTM D792 data sheet value, samples/materials).
    expect(density({})).toBe(1.24);
    expect(density({ density: 2 })).toBe(2);
  });
});
