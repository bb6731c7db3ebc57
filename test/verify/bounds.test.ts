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

describe('refused, with value and limit', () => {
  test('a print over more of the map of heights than there is room for', () => {
    const lines = ['G1 X9000 Y9000 F60000', 'G1 X-9000 Y-9000', 'G1 X0 Y0', 'G1 X5 E0.2 F600'];
    expect(() => check(...lines)).toThrow(
      expect.objectContaining({
        code: 'verify/too-wide',
        message: expect.stringMatching(/18000 x 18000 mm .* the limit is 32000000/),
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
