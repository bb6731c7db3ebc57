/**
 * What the check finds in the air against what the plan leaves, on parts of which it is known what
 * hangs: a hook in one region, whose finger begins in the air and whose arm spans a gap, and a cuboid.
 */
import { describe, expect, it } from 'vitest';
import { jobOf, runJob } from '../support/jobs.js';
import { cuboid, upright } from '../support/shapes.js';

/** Post, arm and a finger that ends over the table; outline in x and z, mm. */
const DEPTH = 18;
const hook = upright(
  [
    [-4, 0],
    [4, 0],
    [4, 12],
    [24, 12],
    [24, 6],
    [30, 6],
    [30, 16],
    [-4, 16],
  ],
  DEPTH,
);
/** Undersides of finger and arm, mm2. */
const HANGS = DEPTH * (6 + 20);

const settings = { layers: { thickness: 0.3 }, page: false };

describe('a hook in one region', () => {
  it('hangs as far as its undersides say, by the plan and by the check alike', async () => {
    const { report } = await runJob(
      jobOf(hook, 'table-table-ac', { ...settings, regions: { most: 1 } }),
    );
    const [region, ...others] = report.regions;
    expect(others).toEqual([]);
    const planned = region!.unsupportedFromLayersMm2;
    const { beadMm, inAirMm, inAirMm2 } = region!.check!;
    // The plan leaves out what the self-supporting angle carries: 0.3 mm along the post's edge.
    expect(planned).toBeGreaterThan(0.97 * HANGS);
    expect(planned).toBeLessThanOrEqual(HANGS);
    // Beads that have a fifth of their width on something count as carried by the check.
    expect(inAirMm2).toBeGreaterThan(0.85 * HANGS);
    expect(inAirMm2).toBeLessThanOrEqual(planned);
    expect(inAirMm).toBeCloseTo(report.check!.print!.inAirMm, 6);
    expect(beadMm).toBeCloseTo(report.check!.depositMm, 6);
    const told = report.findings.find((f) => f.code === 'check/air-planned');
    expect(told?.message).toContain(`${planned.toFixed(1)} mm2`);
    expect(report.findings.map((f) => f.code)).not.toContain('check/air-unplanned');
  });
});

describe('a cuboid', () => {
  it('hangs nowhere, and nothing is said', async () => {
    const { report } = await runJob(jobOf(cuboid([6, 5, 3]), 'table-table-ac', settings));
    expect(report.regions.map((r) => r.check!.inAirMm2)).toEqual([0]);
    expect(report.findings.filter((f) => f.code.startsWith('check/air'))).toEqual([]);
  });
});
