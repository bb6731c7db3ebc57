/** Joints outside their travel, in words, and what the job's choice makes of a complaint. */
import { describe, expect, it } from 'vitest';
import { DEG } from '../../../lib/base/vector.js';
import { Complaints, spell, violationsOf } from '../../../lib/motion/transfer/travel-limits.js';
import { acJson, machineOf } from '../../machine/machines.js';

const machine = machineOf(acJson());

describe('joints outside their travel', () => {
  it('are named with value and limit, both ends, and none inside', () => {
    expect(violationsOf(machine, [500, -500, 0, 120 * DEG, 9999])).toEqual([]);
    const found = violationsOf(machine, [501, -502.25, 0, -121 * DEG, 0]);
    expect(found.map((v) => v.joint)).toEqual([0, 1, 3]);
    expect(found.map((v) => spell(machine, v))).toEqual([
      'joint X would have to stand at 501 mm, its limit is 500 mm',
      'joint Y would have to stand at -502.25 mm, its limit is -500 mm',
      'joint A would have to stand at -121 deg, its limit is -120 deg',
    ]);
  });
});

describe('complaints', () => {
  const choices = { outOfTravel: 'report', touch: 'report', tooNear: 'report' } as const;
  it('that are reported become findings: a warning where two only come near', () => {
    const complaints = new Complaints(choices);
    expect(complaints.findings).toEqual([]);
    complaints.error('touch', 'a', 'words', { region: 1 });
    complaints.error('tooNear', 'b', 'words', { region: 2 });
    complaints.error('outOfTravel', 'c', 'words', { layer: 3 });
    complaints.add({ code: 'd', severity: 'note', message: 'more' });
    expect(complaints.findings).toEqual([
      { code: 'a', severity: 'error', message: 'words', at: { region: 1 } },
      { code: 'b', severity: 'warning', message: 'words', at: { region: 2 } },
      { code: 'c', severity: 'error', message: 'words', at: { layer: 3 } },
      { code: 'd', severity: 'note', message: 'more' },
    ]);
  });
  it.each(['outOfTravel', 'touch', 'tooNear'] as const)(
    'end the job by its choice: %s',
    (about) => {
      const complaints = new Complaints({ ...choices, [about]: 'refuse' });
      expect(() => complaints.error(about, 'code', 'words', { region: 1 })).toThrow(
        expect.objectContaining({ code: 'code', message: 'words', at: { region: 1 } }),
      );
      expect(complaints.findings).toEqual([]);
    },
  );
  it('follow their blocks to new numbers, and keep the rest of their place', () => {
    const complaints = new Complaints(choices);
    complaints.error('touch', 'a', 'words', { region: 1, block: 2 });
    complaints.error('touch', 'b', 'words', { region: 1 });
    complaints.add({ code: 'c', severity: 'note', message: 'more' });
    complaints.renumber(Uint32Array.of(10, 11, 12));
    expect(complaints.findings.map((f) => f.at)).toEqual([
      { region: 1, block: 12 },
      { region: 1 },
      undefined,
    ]);
  });
});
