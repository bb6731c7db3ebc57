/** What the plan counts as hanging, on a few beads laid by hand, to the last digit where it has a closed form. */
import { describe, expect, it } from 'vitest';
import { rectangle } from '../flat.js';
import { H, W, type Way, hangingAlone } from './by-hand.js';

const sum = (values: readonly { readonly mm2: number }[]): number =>
  values.reduce((all, { mm2 }) => all + mm2, 0);

describe('a bead of 20 mm beside the one below', () => {
  // Its outer flank is off + W / 2 away; the material below ends at W / 2, and at 45 degrees H more is carried.
  it.each([0.25, 0.3, 0.33, 0.45])('%f mm off hangs by all that is beyond', (off) => {
    const along = (x: number): Way => [
      [x, -10],
      [x, 10],
    ];
    const sections = [[rectangle(-W / 2, -10, W, 20)], [rectangle(-W / 2, -10, W + off, 20)]];
    const hung = hangingAlone([[along(0)], [along(off)]], sections);
    expect(sum(hung)).toBeCloseTo(20 * (off - H), 9);
    // The place is named on the bead.
    expect(hung[0]!.point[0]).toBeCloseTo(off, 9);
  });
});

describe('a loop over two beads of fill, 6 mm apart', () => {
  const fill: Way[] = [0, 6].map((x): Way => [
    [x, -10],
    [x, 10],
  ]);
  const section = [rectangle(-5, -12, 16, 24)];
  /** Its sides lie on the two beads, and it begins and ends half way between them, `apart` mm from itself. */
  const round = (apart: number): Way => [
    [3 + apart / 2, 3],
    [6, 3],
    [6, 7],
    [0, 7],
    [0, 3],
    [3 - apart / 2, 3],
  ];

  it('closed it is a bridge where it begins as on the other side', () => {
    expect(hangingAlone([fill, [round(0)]], [section, section])).toEqual([]);
  });

  it('open by more than its width it hangs there from both beads to its ends', () => {
    // Carried up to the flank of the bead below, found to a piece of half a millimetre.
    const mm2 = sum(hangingAlone([fill, [round(1)]], [section, section]));
    const length = 2 * (3 - 0.5 - W / 2);
    expect(mm2).toBeGreaterThan((length - 1) * W);
    expect(mm2).toBeLessThan((length + 1) * W);
  });
});
