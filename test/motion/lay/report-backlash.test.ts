/**
 * Play that shows: how often a joint comes from its other flank before or while material is laid, and by how
 * much that moves the tip (the play itself, or its angle times the distance from the axis).
 */
import { describe, expect, it } from 'vitest';
import type { Finding } from '../../../lib/base/fault.js';
import { DEG } from '../../../lib/base/vector.js';
import type { Machine } from '../../../lib/machine/machine.js';
import { reportBacklash } from '../../../lib/motion/lay/report-backlash.js';
import { type Motion, MoveKind } from '../../../lib/motion/motion.js';
import { Complaints } from '../../../lib/motion/transfer/travel-limits.js';
import { acJson, machineOf } from '../../machine/machines.js';

const { deposit, link } = MoveKind;
const base = machineOf(acJson());
const choices = { outOfTravel: 'report', touch: 'report', tooNear: 'report' } as const;

type Play = Machine['dialect']['play'];

/** X or A with play; `steps` are values of that joint, a letter of `kinds` per block: d lays. */
function said(
  joint: number,
  play: number,
  steps: readonly number[],
  kinds: string,
  { by = 'nobody', deviation = 0.05, y = 0 }: { by?: Play; deviation?: number; y?: number } = {},
): Finding[] {
  const machine: Machine = {
    ...base,
    dialect: { ...base.dialect, play: by },
    joints: base.joints.map((j, i) => ({ ...j, backlash: i === joint ? play : 0 })),
  };
  const n = steps.length;
  const joints = new Float64Array(5 * n);
  steps.forEach((v, b) => {
    joints[5 * b + 1] = y;
    joints[5 * b + joint] = v;
  });
  const from = new Float64Array(5);
  const motion = {
    jointCount: 5,
    joints,
    from,
    kind: Uint8Array.from(kinds, (k) => (k === 'd' ? deposit : link)),
    region: new Uint32Array(n).fill(3),
    layer: Uint32Array.from(steps, (_, b) => b + 10),
  } as unknown as Motion;
  const complaints = new Complaints(choices);
  reportBacklash(machine, motion, deviation, complaints);
  return complaints.findings;
}
const times = (steps: readonly number[], kinds: string): number =>
  Number(
    /turns round (\d+) times/.exec(
      said(0, 1, steps, kinds)[0]?.message ?? '0 turns round 0 times',
    )![1],
  );

describe('a linear joint', () => {
  it('is told with count, play and the first block on the other flank', () => {
    expect(said(0, 0.06, [1, 2, 1, 2, 3, 2], 'dddddd')).toEqual([
      {
        code: 'motion/backlash',
        severity: 'note',
        message:
          "joint X turns round 3 times before or while material is laid: its play of 0.06 mm moves the tip by up to 0.060 mm, the corners' deviation is 0.05 mm",
        at: { region: 3, layer: 12, block: 2 },
      },
    ]);
  });
  it.each([
    ['never', [1, 2, 3, 4], 'dddd', 0],
    ['once', [1, 2, 1, 0], 'dddd', 1],
    ['where it stands still it stays on its flank', [1, 1, 2, 2], 'dddd', 0],
    ['and comes from where it moved last', [1, 2, 1, 1], 'ddld', 1],
    ['there and back between two beads', [1, 5, 1, 2], 'dlld', 0],
    ['before anything is laid', [1, -1, -2, -3], 'lldd', 0],
    ['on links alone', [1, 0, 1, 0], 'llll', 0],
    ['from where the motion begins down', [-1, -2, -1, 0], 'dddd', 1],
  ])('%s', (_, steps, kinds, count) => {
    expect(times(steps, kinds)).toBe(count);
  });
  it('is not told up to the deviation, nor where program or controller make up for it', () => {
    const steps = [1, 2, 1];
    expect(said(0, 0.05, steps, 'ddd')).toEqual([]);
    expect(said(0, 0, steps, 'ddd')).toEqual([]);
    expect(said(0, 1, steps, 'ddd', { by: 'program' })).toEqual([]);
    expect(said(0, 1, steps, 'ddd', { by: 'controller' })).toEqual([]);
  });
});

describe('a rotary joint', () => {
  // A turns about X: the tip at J = (0, 40, 0) is 40 mm from its axis.
  const steps = [0.1, 0.2, 0.1];
  it('moves the tip by its play times the distance from its axis', () => {
    const [found] = said(3, 0.1 * DEG, steps, 'ddd', { y: 40 });
    expect(found!.message).toContain(
      'its play of 0.1 deg moves the tip, 40 mm from its axis, by up to 0.070 mm',
    );
    expect(said(3, 0.1 * DEG, steps, 'ddd', { y: 28 })).toEqual([]);
    expect(said(3, 0.1 * DEG, steps, 'ddd', { y: 29 })).toHaveLength(1);
  });
  it('is told where the program makes up for linear joints alone', () => {
    expect(said(3, 0.1 * DEG, steps, 'ddd', { y: 40, by: 'program' })).toHaveLength(1);
    expect(said(3, 0.1 * DEG, steps, 'ddd', { y: 40, by: 'controller' })).toEqual([]);
  });
});
