/**
 * What the check finds in the air against what the plan leaves, on parts of which it is known what
 * hangs: a hook in one region, whose finger begins in the air and whose arm spans a gap, and a cuboid.
 */
import { describe, expect, it } from 'vitest';
import { loadPolygonKernel } from '../../lib/kernel/polygon.js';
import { unsupportedFromLayers } from '../support/hanging.js';
import { type Motion, MoveKind } from '../../lib/motion/motion.js';
import { writeProgram } from '../../lib/program/write-program.js';
import { type PlannedAir, airByRegion, airFindings } from '../../lib/report/air.js';
import { type Trace, TraceKind, verify } from '../../lib/verify/verify.js';
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
    // The self-supporting angle carries 0.3 mm along the post's edge; caps run into contours by a quarter of a
    // bead (at most 0.6 mm wide), which counts twice, along the outlines of the undersides.
    const twice = 0.25 * 0.6 * (2 * (20 + DEPTH) + 2 * (6 + DEPTH));
    for (const mm2 of [planned, inAirMm2]) {
      expect(mm2).toBeGreaterThan(0.95 * HANGS);
      expect(mm2).toBeLessThan(HANGS + twice);
    }
    expect(Math.abs(inAirMm2 - planned)).toBeLessThan(0.1 * planned);
    expect(region!.check!.unplannedMm2).toBeLessThan(0.1 * planned);
    expect(inAirMm).toBeCloseTo(report.check!.print!.inAirMm, 6);
    expect(beadMm).toBeCloseTo(report.check!.depositMm, 6);
    const told = report.findings.find((f) => f.code === 'check/air-planned');
    expect(told?.message).toContain(`${planned.toFixed(1)} mm2`);
    expect(report.findings.map((f) => f.code)).not.toContain('check/air-unplanned');
  });
});

describe('a hook in one region, of whose post layers are taken away', () => {
  it('hangs over the gap as well, which is told as unplanned although the rest of it is planned', async () => {
    const input = jobOf(hook, 'table-table-ac', {
      ...settings,
      regions: { most: 1 },
      paths: { fill: { density: 1 } },
    });
    const { plan, layers, motion, program } = await runJob(input);
    const written = writeProgram(motion, input.machine, input.material, {
      part: input.partName,
      directions: plan.regions.map((r) => r.direction),
    });
    expect(written.chunks.join('')).toBe(program.join(''));
    const lines = program.join('').split('\n');
    const [first, last] = [9, 12];
    motion.kind.forEach((kind, b) => {
      const gone = motion.layer[b]! >= first && motion.layer[b]! < last;
      if (kind === MoveKind.deposit && gone) lines[written.lineOf[b]! - 1] = '';
    });
    const { trace, inAir } = verify(lines.join('\n'), input.machine, {
      flow: input.material.flow,
      part: plan.part,
      bridge: 0,
    });
    const rules = { theta: Math.PI / 4, bridge: 0 };
    const kernel = await loadPolygonKernel();
    const planned = {
      hanging: unsupportedFromLayers(plan.regions, layers, rules, kernel),
      layers,
    };
    const air = airByRegion(trace, inAir, motion, written.lineOf, planned);
    // The layer over the gap, solid, is as large as the post; its fill runs into the contours by a
    // quarter of a bead, along at most 52 mm.
    expect(air[0]!.unplannedMm2).toBeGreaterThan(0.9 * 8 * DEPTH);
    expect(air[0]!.unplannedMm2).toBeLessThan(8 * DEPTH + 52 * 0.25 * 0.6);
    expect(airFindings(air, planned).map((f) => f.code)).toEqual(['check/air-unplanned']);
  });
});

describe('what hangs on the border of two layers', () => {
  /** The plan leaves 2 mm2 in the third of five layers; the check finds 2 mm2 in one of them. */
  const unplannedIn = (layer: number): number => {
    const tops = new Float64Array(5);
    const one = { kind: Uint8Array.of(TraceKind.deposit), line: Uint32Array.of(1) };
    const place = { region: 0, layer: 2, mm2: 2 };
    const [air] = airByRegion(
      { ...one, length: Float64Array.of(10) } as unknown as Trace,
      [{ block: 0, lengthMm: 4, mm2: 2, overFill: false }],
      { region: Uint32Array.of(0), layer: Uint32Array.of(layer) } as unknown as Motion,
      Uint32Array.of(1),
      {
        hanging: { places: [place] } as unknown as PlannedAir['hanging'],
        layers: [{ top: tops }],
      },
    );
    return air!.unplannedMm2;
  };

  it.each([1, 2, 3])('is planned if it is counted in layer %d', (layer) => {
    expect(unplannedIn(layer)).toBe(0);
  });

  it.each([0, 4])('is not if it is counted in layer %d', (layer) => {
    expect(unplannedIn(layer)).toBe(2);
  });
});

describe('a cuboid', () => {
  it('hangs nowhere, and nothing is said', async () => {
    const { report } = await runJob(jobOf(cuboid([6, 5, 3]), 'table-table-ac', settings));
    expect(report.regions.map((r) => r.check!.inAirMm2)).toEqual([0]);
    expect(report.findings.filter((f) => f.code.startsWith('check/air'))).toEqual([]);
  });
});
