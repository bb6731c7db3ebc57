/** The finished motion against travel and speed of the joints: each joint once a region, at its worst, in words. */
import { describe, expect, it } from 'vitest';
import type { Fault, Finding } from '../../../lib/base/fault.js';
import { DEG } from '../../../lib/base/vector.js';
import { type Motion, MoveKind } from '../../../lib/motion/motion.js';
import { checkLimits } from '../../../lib/motion/timing/check-limits.js';
import { Complaints } from '../../../lib/motion/transfer/travel-limits.js';
import { acJson, machineOf } from '../../machine/machines.js';

// X Y Z to 500 mm at 200 mm/s, A to 120 deg, A and C at 90 deg/s.
const machine = machineOf(acJson());
const { deposit, transfer } = MoveKind;

interface Block {
  readonly to: readonly number[];
  readonly seconds?: number;
  readonly kind?: MoveKind;
  readonly region?: number;
  readonly layer?: number;
}

/** Angles in degrees. */
function found(
  blocks: readonly Block[],
  outOfTravel: 'report' | 'refuse' = 'report',
  from: readonly number[] = [0, 0, 0, 0, 0],
): readonly Finding[] {
  const joints = (q: readonly number[]): number[] => q.map((x, j) => (j > 2 ? x * DEG : x));
  const motion = {
    jointCount: 5,
    from: Float64Array.from(joints(from)),
    joints: Float64Array.from(blocks.flatMap((b) => joints(b.to))),
    seconds: Float64Array.from(blocks, (b) => b.seconds ?? 1e3),
    kind: Uint8Array.from(blocks, (b) => b.kind ?? deposit),
    region: Uint32Array.from(blocks, (b) => b.region ?? 0),
    layer: Uint32Array.from(blocks, (b) => b.layer ?? 0),
  } as unknown as Motion;
  const complaints = new Complaints({ outOfTravel, touch: 'report', tooNear: 'report' });
  checkLimits(machine, motion, complaints);
  return complaints.findings;
}

describe('travel', () => {
  it('is kept up to its ends', () => {
    expect(found([{ to: [500, -500, 0, 120, 9999] }, { to: [-500, 500, 0, -120, 0] }])).toEqual([]);
  });

  it('is told at the worst of its blocks, with their number', () => {
    const blocks = [501, 499, 503, 502].map((x, layer) => ({ to: [x, 0, 0, 0, 0], layer }));
    expect(found(blocks)).toEqual([
      {
        code: 'motion/travel',
        severity: 'error',
        message:
          'in region 1, layer 3, joint X would have to stand at 503 mm, its limit is 500 mm (3 blocks of the region are outside)',
        at: { region: 0, layer: 2, block: 2 },
      },
    ]);
  });

  it('below and above alike, in its own unit, and where it is only one block', () => {
    const [one] = found([{ to: [0, 0, 0, -121.5, 0], region: 2, kind: transfer }]);
    expect(one!.message).toBe(
      'on the way to or from region 3 joint A would have to stand at -121.5 deg, its limit is -120 deg (1 block of the region is outside)',
    );
    const [worst] = found([{ to: [0, 502, 0, 0, 0] }, { to: [0, -504, 0, 0, 0] }]);
    expect(worst!.message).toContain('stand at -504 mm, its limit is -500 mm (2 blocks');
  });

  it('once for each joint and region', () => {
    const all = found([
      { to: [501, 501, 0, 0, 0] },
      { to: [501, 0, 0, 0, 0] },
      { to: [501, 0, 0, 0, 0], region: 1 },
      { to: [0, 501, 0, 0, 0], region: 1 },
    ]);
    expect(all.map((f) => f.at)).toEqual([
      { region: 0, layer: 0, block: 0 },
      { region: 0, layer: 0, block: 0 },
      { region: 1, layer: 0, block: 2 },
      { region: 1, layer: 0, block: 3 },
    ]);
    expect(all.map((f) => /joint (.)/.exec(f.message)![1])).toEqual(['X', 'Y', 'X', 'Y']);
  });

  it('ends the job where it is to be refused', () => {
    expect(() => found([{ to: [0, 0, 501, 0, 0], layer: 6 }], 'refuse')).toThrow(
      expect.objectContaining<Partial<Fault>>({
        code: 'motion/travel',
        at: { region: 0, layer: 6, block: 0 },
      }),
    );
  });
});

describe('speed', () => {
  it('is kept up to the limit, from the place before', () => {
    const steps = [100, 300, 100].map((x, i) => ({
      to: [x, 0, 0, 0, 0],
      seconds: i === 0 ? 0.25 : 1,
    }));
    // 50 mm in a quarter of a second, then 200 mm in a second, there and back.
    expect(found(steps, 'report', [50, 0, 0, 0, 0])).toEqual([]);
    expect(found(steps, 'report', [49, 0, 0, 0, 0])).toHaveLength(1);
    // What rounding makes of it is no excess.
    expect(found([{ to: [1e-13, 0, 0, 0, 0], seconds: 0 }])).toEqual([]);
    expect(found([{ to: [200 * (1 + 5e-10), 0, 0, 0, 0], seconds: 1 }])).toEqual([]);
    expect(found([{ to: [200 * (1 + 2e-9), 0, 0, 0, 0], seconds: 1 }])).toHaveLength(1);
  });

  it('is told at its worst, in the unit of the joint', () => {
    const blocks = [
      { to: [0, 220, 0, 0, 0], seconds: 1 },
      { to: [0, -30, 0, 0, 0], seconds: 1, layer: 4 },
      { to: [0, 180, 0, 0, 0], seconds: 1 },
      { to: [0, 180, 0, 0, 50], seconds: 0.5 },
    ];
    expect(found(blocks)).toEqual([
      {
        code: 'motion/joint-speed',
        severity: 'error',
        message:
          'in region 1, layer 5, joint Y would have to run at 250 mm/s, its limit is 200 mm/s (3 blocks of the region)',
        at: { region: 0, layer: 4, block: 1 },
      },
      {
        code: 'motion/joint-speed',
        severity: 'error',
        message:
          'in region 1, layer 1, joint C would have to run at 100 deg/s, its limit is 90 deg/s (1 block of the region)',
        at: { region: 0, layer: 0, block: 3 },
      },
    ]);
  });
});
