/** The volume that a program lays against what was planned, on one bead that is spelled by hand. */
import { describe, expect, it } from 'vitest';
import { verify } from '../../lib/verify/verify.js';
import { Pen, printer } from './prints.js';

describe('a bead of 20 x 0.4 x 0.2 mm', () => {
  const pen = new Pen();
  pen.move([-10, 0, 0.2]);
  pen.lay([10, 0, 0.2], 0.4, 0.2);
  pen.move([0, 0, 20]);
  const checked = (plannedVolumeMm3?: number) => {
    const { check } = verify(
      pen.text(),
      printer(),
      plannedVolumeMm3 === undefined ? {} : { plannedVolumeMm3 },
    );
    return {
      volumeShare: check.volumeShare,
      said: check.findings.filter((f) => f.code === 'verify/volume'),
    };
  };

  it('is as much as planned, or unknown where no plan is given', () => {
    const { volumeShare, said } = checked(1.6);
    expect(volumeShare).toBeCloseTo(1, 3);
    expect(said).toEqual([]);
    expect(checked().volumeShare).toBeUndefined();
  });

  it('is an error by more than the limit, in words that give both volumes, share and limit', () => {
    const { volumeShare, said } = checked(2);
    expect(volumeShare).toBeCloseTo(0.8, 3);
    expect(said).toHaveLength(1);
    const [, laid, planned, share, limit] = /^the filament lays ([\d.]+) mm3, ([\d.]+) mm3 are planned \((-[\d.]+)%, the limit is ([\d.]+)%\)$/.exec(said[0]!.message)!.map(Number); // prettier-ignore
    expect([laid, planned]).toEqual([1.6, 2]);
    expect(share).toBeCloseTo(-20, 1);
    // The limit that it gives is the one that it keeps.
    const off = (by: number): number => 1.6 / (1 + by / 100);
    for (const sign of [1, -1]) {
      expect(checked(off(sign * (limit! - 0.1))).said).toEqual([]);
      expect(checked(off(sign * (limit! + 0.1))).said).toHaveLength(1);
    }
  });
});
