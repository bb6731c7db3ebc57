/**
 * A box of 6 x 4 x 2 mm printed in the computer: its figures, its surface and what is outside of it, against
 * closed forms, and with one thing wrong at a time.
 */
import { describe, expect, it } from 'vitest';
import type { Finding } from '../../lib/base/fault.js';
import type { Vec3 } from '../../lib/base/vector.js';
import { type ProgramCheck, type Facts, type Verdict, verify } from '../../lib/verify/verify.js';
import { checkRules } from '../../lib/verify/rules.js';
import { cuboid } from '../support/shapes.js';
import { FILAMENT, Pen, printer } from './prints.js';

const [W, H] = [0.4, 0.2];
const machine = printer();
const part = cuboid([6, 4, 2]);

function box(size: Vec3 = [6, 4, 2], least: Vec3 = [-3, -2, 0]): Pen {
  const pen = new Pen();
  pen.move([0, 0, 30]);
  pen.box(least, size, W, H);
  return pen;
}
const verdictOf = (pen: Pen, facts: Facts = { part }): Verdict =>
  verify(pen.text(), machine, facts);
const checked = (pen: Pen, facts?: Facts): ProgramCheck => verdictOf(pen, facts).check;
const of = (check: ProgramCheck, code: string): Finding[] =>
  check.findings.filter((f) => f.code === code);
const codes = (check: ProgramCheck): string[] => [
  ...new Set(check.findings.filter((f) => f.severity !== 'note').map((f) => f.code)),
];

const BOUNDS_OF = checkRules.parse({});
const AREA = 2 * (6 * 4 + 6 * 2 + 4 * 2);

describe('a sound box', () => {
  const pen = box();
  const verdict = verdictOf(pen, { part, plannedVolumeMm3: 48 });
  const { check } = verdict;
  it('has figures of what was drawn', () => {
    expect(codes(check)).toEqual([]);
    // Ten layers: ten beads of 6 mm and fifteen of 4 mm in turn.
    expect(check.depositMm).toBeCloseTo(600, 3);
    expect(check.volumeMm3).toBeCloseTo(48, 1);
    expect(check.volumeShare).toBeCloseTo(1, 3);
    expect(check.filamentMm).toBeCloseTo(48 / FILAMENT, 2);
    expect(check.lowestTipMm).toBeCloseTo(H, 9);
    expect(check.lines).toBe(pen.lines.length + 1);
    // Every bead is laid at 1800 mm/min: 30 mm/s times 0.08 mm2.
    expect(check.flow!.least).toBeCloseTo(2.4, 2);
    expect(check.flow!.most).toBeCloseTo(2.4, 2);
    expect(check.print).toMatchObject({ layers: 10, inAirMm: 0, inAirShare: 0, touches: 0 });
    expect(check.print!.edgeMm).toBeCloseTo(0.1, 4);
    expect(check.print!.heightMm).toBeCloseTo(H, 9);
    expect(check.print!.widthMm).toBeCloseTo(W, 4);
    expect(check.print!.lengthMm).toBeCloseTo(600, 3);
    expect(check.print!.meteredMm3).toBeCloseTo(48, 1);
    expect(Math.abs(check.print!.filledMm3 - 48)).toBeLessThan(1);
    // A block a line but for the first three, which heat and set modes.
    expect(check.blocks).toBe(pen.lines.length - 2);
    expect(check.seconds).toBeGreaterThan(600 / 30);
  });
  it('has the surface of the part, to a cube', () => {
    const { shape } = check;
    expect(shape!.areaMm2).toBeCloseTo(AREA, 3);
    expect(Math.abs(shape!.meanMm)).toBeLessThan(0.03);
    expect(shape!.p95Mm).toBeLessThan(0.1);
    expect(shape!).toMatchObject({ missingMm2: 0, tooMuchMm2: 0, openSkinMm2: 0, outsideMm3: 0 });
    expect(shape!.runs).toHaveLength(1);
    expect(shape!.runs[0]!.line).toBe(6);
    expect(shape!.leastMm).toBeLessThanOrEqual(shape!.mostMm);
    const { surface } = verdict;
    const sum = surface!.area.reduce((a, b) => a + b, 0);
    expect(sum).toBeCloseTo(AREA, 3);
    for (let i = 0; i < surface!.area.length; i++) {
      const [x, y, z] = surface!.points.subarray(3 * i, 3 * i + 3) as unknown as Vec3;
      const onFace =
        Math.abs(Math.abs(x) - 3) < 1e-5 ||
        Math.abs(Math.abs(y) - 2) < 1e-5 ||
        z < 1e-5 ||
        z > 2 - 1e-5;
      expect(onFace).toBe(true);
      expect(Math.abs(surface!.error[i]!)).toBeLessThan(0.25);
      expect(surface!.skin[i]!).toBeGreaterThan(0.6);
    }
    expect(verdict.inAir).toEqual([]);
  });
});

it('a volume that is off by more than a hundredth is told, with its share', () => {
  expect(codes(checked(box(), { plannedVolumeMm3: 48.4 }))).toEqual([]);
  const check = checked(box(), { plannedVolumeMm3: 50 });
  expect(check.volumeShare).toBeCloseTo(0.96, 3);
  expect(of(check, 'verify/volume')[0]!.message).toMatch(
    /^the filament lays 48\.0 mm3, 50\.0 mm3 are planned \(-4\.\d\d%, the limit is 1%\)$/,
  );
  expect(checked(box(), { plannedVolumeMm3: 0 }).volumeShare).toBeUndefined();
});

describe('against another part', () => {
  it('0.2 mm wider to each side: the material ends that much inside', () => {
    const { shape, ...check } = checked(box(), { part: cuboid([6.4, 4, 2]) });
    const x = 2 * 4 * 2;
    // Two faces of 4 x 2 mm lack 0.2 mm, less than half a bead and a cube: nothing is missing.
    expect(shape!.missingMm2).toBe(0);
    const area = 2 * (6.4 * 4 + 6.4 * 2 + 4 * 2);
    expect(Math.abs(shape!.meanMm * area + x * 0.2)).toBeLessThan(2.5);
    expect(shape!.leastMm).toBeLessThan(-0.15);
    expect(Math.abs(shape!.leastAt[0])).toBeGreaterThan(2.95);
    expect(of({ shape, ...check } as ProgramCheck, 'verify/missing')).toEqual([]);
  });
  it('0.5 mm longer at one end: material is missing there', () => {
    const check = checked(box(), { part: cuboid([6.5, 4, 2], [0.25, 0, 0]) });
    const [found] = of(check, 'verify/missing');
    expect(found!.severity).toBe('error');
    // The face of 4 x 2 mm, and of the four about it the strips farther than 0.3 mm from the material.
    expect(check.shape!.missingMm2).toBeGreaterThan(7);
    expect(check.shape!.missingMm2).toBeLessThan(8 + 0.25 * 12);
    expect(found!.at!.point![0]).toBeGreaterThan(3.2);
    expect(found!.message).toMatch(
      /^material is missing over \d+\.\d mm2 of the part's surface, by up to 0\.[45]/,
    );
    expect(found!.message).toContain('(the limit is 5 mm2 in one place)');
    const lax = checked(box(), {
      part: cuboid([6.5, 4, 2], [0.25, 0, 0]),
      bounds: { ...BOUNDS_OF, surface: 20 },
    });
    expect(of(lax, 'verify/missing').every((f) => f.severity === 'warning')).toBe(true);
  });
  it('0.6 mm shorter at one end: it stands out there, and lies outside', () => {
    const check = checked(box(), { part: cuboid([5.4, 4, 2], [-0.3, 0, 0]) });
    const [found] = of(check, 'verify/too-much');
    expect(found!.message).toMatch(
      /^material stands out of the part's surface over \d+\.\d mm2, by up to 0\.[567]/,
    );
    expect(Math.abs(found!.at!.point![0] - 2.4)).toBeLessThan(0.1);
    expect(check.shape!.tooMuchMm2).toBeGreaterThan(5);
    expect(check.shape!.tooMuchMm2).toBeLessThan(9);
  });
  it('2 mm shorter: what lies more than 0.4 mm beyond it is outside, by its volume', () => {
    const check = checked(box(), { part: cuboid([4, 4, 2], [-1, 0, 0]) });
    // 1.6 x 4 x 1.7 mm over the level of a brim; half bricks count as a whole by their middles.
    const { outsideMm3, onTableMm3 } = check.shape!;
    expect(outsideMm3).toBeGreaterThan(0.7 * 1.6 * 4 * 1.7);
    expect(outsideMm3).toBeLessThan(1.2 * 1.7 * 4 * 1.9);
    expect(Math.abs(onTableMm3 + outsideMm3 - 1.6 * 4 * 2)).toBeLessThan(2.5);
    for (const f of of(check, 'verify/outside').slice(0, 20)) {
      expect(f.message).toMatch(
        /^\d+\.\d\d mm3 of material lie outside the part, up to \d\.\d\d mm/,
      );
      if (f.at?.point) expect(f.at.point[0]).toBeGreaterThan(1);
    }
    expect(of(check, 'verify/run-outside')).toHaveLength(1);
  });
  it('0.15 mm aside: the run is shifted by that', () => {
    const large = cuboid([10, 8, 2], [0, 0, 0]);
    const shifted = box([10, 8, 2], [-5 + 0.15, -4, 0]);
    const check = checked(shifted, { part: large });
    const [run] = check.shape!.runs;
    expect(Math.abs(run!.shiftMm[0] - 0.15)).toBeLessThan(0.04);
    expect(Math.abs(run!.shiftMm[1])).toBeLessThan(0.03);
    const [found] = of(check, 'verify/shifted');
    expect(found!.severity).toBe('error');
    expect(found!.message).toMatch(/is off the part by 0\.1\d mm, along 0\.1\d -?0\.0\d -?0\.0\d/);
    expect(of(checked(box([10, 8, 2], [-5, -4, 0]), { part: large }), 'verify/shifted')).toEqual(
      [],
    );
  });
});

describe('the skin', () => {
  it('is open where every other bead of the last two layers is left out', () => {
    const pen = box([6, 4, 1.6]);
    for (const z of [1.8, 2]) {
      for (let i = 0; i < 15; i += 2) {
        const x = -3 + (i + 0.5) * W;
        pen.move([x, -2, z]);
        pen.lay([x, 2, z], W, H);
      }
    }
    const check = checked(pen);
    const open = of(check, 'verify/open-skin');
    expect(open).toHaveLength(1);
    expect(open[0]!.severity).toBe('warning');
    expect(open[0]!.message).toContain("% of a bead's depth is filled");
    // Of seven slots of 0.4 x 4 mm the middle: 35 deg aside a flank is met within a bead's depth.
    expect(check.shape!.openSkinMm2).toBeGreaterThan(1);
    expect(check.shape!.openSkinMm2).toBeLessThan(11.2);
    expect(open[0]!.at!.point![2]).toBeCloseTo(2, 3);
  });
});

describe('programs as a whole', () => {
  it('that move nothing, or state no units', () => {
    const empty = verify('M101 P210\nM2\n', machine, {}).check;
    expect(of(empty, 'verify/nothing-moves')[0]).toMatchObject({
      severity: 'error',
      message: '2 lines, and none of them moves anything',
    });
    expect(empty.print).toBeUndefined();
    expect(empty.flow).toBeUndefined();
    expect(empty.lowestTipMm).toBeUndefined();
    const pen = box();
    pen.lines[1] = 'G90 G94';
    const [units] = of(checked(pen), 'verify/units-not-stated');
    expect(units).toMatchObject({ severity: 'warning', at: { line: 3 } });
    expect(of(checked(box()), 'verify/units-not-stated')).toEqual([]);
  });
  it('that lay a bead over nothing tell where and how long', () => {
    const pen = box();
    pen.move([-10, 0, 3]);
    pen.lay([10, 0, 3], W, H);
    const { inAir } = verdictOf(pen);
    expect(inAir).toHaveLength(1);
    expect(inAir[0]!.lengthMm).toBeCloseTo(20, 3);
    expect(inAir[0]!.mm2).toBeCloseTo(8, 2);
    expect(inAir[0]!.overFill).toBe(false);
  });
});
