/**
 * Rounded corners and distances: the controller may cut a corner of the program by the corner deviation,
 * so a gap of the program that is less than clearance and deviation together is too small.
 */
import { describe, expect, it } from 'vitest';
import { settingOf } from '../../lib/clearance/scene.js';
import { ClearMove } from '../../lib/motion/transfer/clear-move.js';
import { acJson, machineOf } from '../machine/machines.js';
import { boxJob, plannedBoxes } from './jobs.js';
import type { Finding } from '../../lib/base/fault.js';

describe('a gap smaller than what a rounded corner takes', () => {
  // Two blocks side by side: the first 8 mm high, so the rim of the head, 9 mm wide 8 mm over the tip,
  // passes over the first layers of the second with its flat at a height of tip + 8 mm.
  const told = (top: number, cornerDeviation: number): Finding[] => {
    const parts = [
      boxJob([-30, -10, 0], [-20, 10, top], [0, 0, 1]),
      boxJob([-16, -10, 0], [-4, 10, 2], [0, 0, 1]),
    ];
    const machine = { ...machineOf(acJson()), clearance: 1 + cornerDeviation };
    return plannedBoxes(machine, parts, { touch: 'report', cornerDeviation }).findings.filter(
      (f) => f.code === 'motion/part',
    );
  };
  it('counts as a touch, a gap larger than that does not', () => {
    // Tip 0.2 mm over the table, rim 8.2 mm over it, first block's top at 8 mm: 0.2 mm is left.
    expect(told(8, 0.1)[0]!.severity).toBe('warning');
    expect(told(8, 0.1)[0]!.message).toMatch(/0\.[12]\d mm is left/);
    expect(told(8, 0.25)[0]!.severity).toBe('error');
    expect(told(8, 0.25)[0]!.message).toMatch(/may touch where the corner is rounded/);
    expect(told(8.2, 0.1)[0]!.severity).toBe('error');
  });
});

describe('a turn beside a post of the frame', () => {
  // A cube on a table of radius 100 that turns about C; the tip stands over it. A post of the frame stands
  // beside the rim of the table.
  const trouble = (gap: number, rounding: number): unknown => {
    const json = acJson();
    const from: [number, number, number] = [100 + gap, -5, -20];
    const post = { shape: 'box' as const, from, to: [110 + gap, 5, 20] as typeof from };
    const machine = machineOf({
      ...json,
      obstacles: [{ name: 'post', carriedBy: 'frame', solid: post }],
    });
    const free = new ClearMove({ setting: settingOf(machine, rounding), printed: [] });
    return free.trouble(Float64Array.of(0, 0, 60, 0, 0), Float64Array.of(0, 0, 60, 0, 1));
  };
  it('keeps what the rim strays beyond the tip: 0.05 mm at a lever of 50 mm, twice that at 100', () => {
    expect(trouble(1.02, 0)).toBeUndefined();
    expect(trouble(1.04, 0.05)).toBeDefined();
    // The reach from the axis is a bound: the table's box at most reaches root 2 times its radius.
    expect(trouble(1.11, 0.05)).toBeUndefined();
  });
});
