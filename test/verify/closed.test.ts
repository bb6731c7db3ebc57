/**
 * What the check finds in programs of solids whose volume is a closed form: how much is laid, where the
 * surface is, and what hangs. A layer of a solid ends in the round flank of its outermost bead, whose mean
 * lies (1 - pi/4) h / 2 inside its outermost point (the bead is a stadium): that mean is the surface.
 */
import { beforeAll, describe, expect, it } from 'vitest';
import { DEG } from '../../lib/base/vector.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import type { Report } from '../../lib/report/report.js';
import { jobOf, runJob } from '../support/jobs.js';
import { cuboid, cylinder, loadShapes, sphere, standing } from '../support/shapes.js';

const dense = { paths: { fill: { density: 1 } } };

const reportOf = async (part: Mesh, settings: object): Promise<Report> =>
  (await runJob(jobOf(part, 'table-table-ac', { ...settings, page: false }))).report;

/** Volume within 0.4 %, mean surface within 0.015 mm (a seventh of the check's cells), within half a bead for 95 % of it. */
function expectWhole({ check }: Report, exact: number): void {
  expect(Math.abs(check!.volumeMm3 / exact - 1)).toBeLessThan(0.004);
  expect(Math.abs(check!.shape!.meanMm)).toBeLessThan(0.015);
  expect(check!.shape!.p95Mm).toBeLessThan(check!.print!.widthMm / 2);
  expect(check!.print!.touches).toBe(0);
}

describe('a solid box', () => {
  it('takes its volume, and its surface is where it should be', async () => {
    const report = await reportOf(cuboid([14, 12, 3]), dense);
    expectWhole(report, 14 * 12 * 3);
    expect(report.check!.print!.inAirMm).toBe(0);
  });
});

describe('a cylinder that leans by 50 deg, level ends, solid', () => {
  const [R, HIGH, N, LEAN] = [4, 8, 96, 50 * DEG];
  let report: Report;
  beforeAll(async () => {
    // Its level section is an ellipse: the round one, wider by 1 / cos along the lean.
    const upright = cylinder(R, HIGH, N);
    const vertices = upright.vertices.map((v, i) =>
      i % 3 === 0 ? v / Math.cos(LEAN) + upright.vertices[i + 2]! * Math.tan(LEAN) : v,
    );
    report = await reportOf(standing({ ...upright, vertices }), dense);
  });
  it('is built in a tilted region and takes its volume', () => {
    expect(Math.min(...report.regions.map((r) => r.direction[2]))).toBeLessThan(Math.cos(4 * DEG));
    const section = ((N / 2) * R * R * Math.sin((2 * Math.PI) / N)) / Math.cos(LEAN);
    expectWhole(report, section * HIGH);
    expect(report.check!.print!.inAirShare).toBeLessThan(1e-3);
  });
});

describe('a sphere on a flat, in three regions', () => {
  it('hangs by less than 0.1 % of its beads', async () => {
    const R = 8;
    const limbs = await loadShapes();
    // The flat lies where the sphere leans by 45 deg, the steepest that carries itself.
    const low = cuboid([4 * R, 4 * R, 2 * R], [0, 0, -2 * R - R * Math.SQRT1_2]);
    const cut = (z: number, lean: number): object => {
      const d = [Math.sin(lean), 0, Math.cos(lean)];
      return { point: [0, 0, z], normal: d, direction: d };
    };
    const report = await reportOf(standing(limbs.without(sphere(R, 96), low)), {
      regions: { most: 3, steer: { cuts: [cut(8.5, 0.5), cut(3.5, -0.4)] } },
    });
    expect(report.regions).toHaveLength(3);
    expect(report.check!.print!.inAirShare).toBeLessThan(1e-3);
    expect(report.check!.print!.touches).toBe(0);
    expect(report.check!.shape!.p95Mm).toBeLessThan(report.check!.print!.widthMm / 2);
  });
});
