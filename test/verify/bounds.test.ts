/**
 * What the check does about programs that no printer could print: it ends, and says what is wrong. The
 * limits are ours (lib/base/bounds.ts).
 */
import { describe, expect, test } from 'vitest';
import type { Fault } from '../../lib/base/fault.js';
import { verify } from '../../lib/verify/verify.js';
import { cuboid } from '../support/shapes.js';
import { FILAMENT, Pen, printer } from './prints.js';

const machine = printer();
const START = ['M101 P210', 'G21 G90 G94', 'G1 X0 Y0 Z0.2 A0 C0 F3000'];
const check = (...lines: string[]): ReturnType<typeof verify>['check'] =>
  verify([...START, ...lines, 'M2', ''].join('\n'), machine, {}).check;

test('a turn of 277,777 revolutions is a finding at its line', () => {
  const { findings } = check('G1 C99999999', 'G4 P1');
  expect(findings).toContainEqual(
    expect.objectContaining({
      code: 'program/too-far',
      severity: 'error',
      at: expect.objectContaining({ line: 4 }),
    }),
  );
});

test('a bead that is metered metres wide is told, and laid as wide as ten bores', () => {
  // 1 mm long and 0.2 mm high: 1,000 mm of filament are a section of 2,405 mm2, 12 m wide.
  const { findings, print } = check('G1 X1 E1000 F60');
  const wide = findings.find((f) => f.code === 'verify/bead-wide')!;
  expect(wide.message).toContain(
    `${((1000 * FILAMENT) / 0.2).toFixed(2)} mm wide at a height of 0.200 mm (the limit is 4 bores, 1.60 mm)`,
  );
  expect(wide.at?.line).toBe(4);
  expect(print!.filledMm3).toBeCloseTo(4 * 1 * 0.2, 1);
});

test('a bead that is no bead at all does not make the grid endlessly fine', () => {
  const { print } = check('G1 X8 E0.00001 F60');
  expect(print!.edgeMm).toBeGreaterThanOrEqual(0.01);
});

test('beads under the table face have a height', () => {
  const { print, findings } = check('G1 Z-5', 'G1 X10 E0.5 F600');
  expect(print!.heightMm).toBeGreaterThan(0);
  expect(print!.filledMm3).toBeGreaterThan(0);
  expect(findings.some((f) => f.code === 'verify/below-table')).toBe(true);
});

test('a program that only primes what was drawn back lays no bead, and all of the part is missing', () => {
  const lines = [...START, 'G1 E-500 F600', 'G1 X4 E0.2', 'G1 X0 E0.2', 'M2', ''];
  const part = cuboid([4, 4, 0.6], [200, 0, 0]);
  const { print, shape, counts } = verify(lines.join('\n'), machine, { part }).check;
  expect(print).toMatchObject({ lengthMm: 0, meteredMm3: 0, filledMm3: 0, inAirShare: 0 });
  // Surface of the box.
  expect(shape!.missingMm2).toBeCloseTo(2 * 4 * 4 + 4 * 4 * 0.6, 0);
  expect(counts['verify/missing']).toBeGreaterThan(0);
});

test('where the machine cannot be from the first bead on, nothing is laid', () => {
  const { print, findings } = check('G1 X9000 E0.2 F60000', 'G1 X9001 E0.4 F600');
  expect(print).toBeUndefined();
  const beyond = findings.find((f) => f.code === 'verify/beyond')!;
  expect(beyond.message).toMatch(/^X at 9000.*mm, its travel is -\d+.* mm/);
  expect(beyond.at?.line).toBe(START.length + 1);
});

test('the bead next to a place 250 mm away is found', () => {
  const part = cuboid([4, 4, 0.6], [150, 150, 0]);
  const lines = [...START, 'G1 X-100 Y-100', 'G1 X-96 E0.2 F600', 'M2', ''];
  const { findings } = verify(lines.join('\n'), machine, { part }).check;
  const missing = findings.find((f) => f.code === 'verify/missing')!;
  expect(missing.at?.line).toBe(5);
});

describe('refused, with value and limit', () => {
  test('a print over more of the map of heights than there is room for', () => {
    const lines = ['G1 X1900 Y1900 F60000', 'G1 X-1900 Y-1900', 'G1 X0 Y0', 'G1 X5 E0.2 F600'];
    const wide = printer((json) => {
      for (const joint of [...json.head.joints, ...json.table.joints]) {
        if (joint.letter === 'X' || joint.letter === 'Y') joint.travel = [-1000, 1000];
      }
    });
    expect(() => verify([...START, ...lines, 'M2', ''].join('\n'), wide, {})).toThrow(
      expect.objectContaining({
        code: 'verify/too-wide',
        message: expect.stringMatching(/3800 x 3800 mm .* the limit is 32000000/),
      }) as Fault,
    );
  });

  test('a part whose surface takes too many samples', () => {
    const pen = new Pen();
    pen.box([0, 0, 0], [2, 2, 0.4], 0.4, 0.2);
    const part = cuboid([2000, 2000, 10]);
    expect(() => verify(pen.text(), machine, { part })).toThrow(
      expect.objectContaining({ code: 'verify/part-too-large' }) as Fault,
    );
  });
});
