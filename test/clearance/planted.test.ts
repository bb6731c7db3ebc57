/** Faults that are planted are caught: a bad order, a low transfer, a head that reaches too far down. */
import { describe, expect, it } from 'vitest';
import { settingOf } from '../../lib/clearance/scene.js';
import { forward } from '../../lib/machine/forward.js';
import { ClearMove } from '../../lib/motion/transfer/clear-move.js';
import { GrowingPart } from '../../lib/motion/lay/growing-part.js';
import { type PlannedMotion, planMotion } from '../../lib/motion/plan-motion.js';
import { motionRules } from '../../lib/motion/rules.js';
import { orderRuns } from '../../lib/order/order.js';
import { type Json, acJson, machineOf } from '../machine/machines.js';
import { type BoxJob, boxJob, material, plannedBoxes, post, wholeRun } from '../motion/jobs.js';

const UP = [0, 0, 1] as const;

const plan = (json: Json, parts: readonly BoxJob[], order?: readonly number[]): PlannedMotion =>
  plannedBoxes(machineOf(json), parts, { touch: 'report' }, order);

describe('planted', () => {
  // A bar 2 mm high between posts of 40 mm, 14 mm apart: the head is 9 mm wide 8 mm over the tip.
  const parts = [
    boxJob([-20, -10, 0], [-7, 10, 40], UP),
    boxJob([7, -10, 0], [20, 10, 40], UP),
    boxJob([-4, -10, 0], [4, 10, 2], UP),
  ];
  const touches = (order: readonly number[]): string[] =>
    plan(acJson(), parts, order)
      .findings.filter((f) => f.code === 'motion/part' && /touch/.test(f.message))
      .map((f) => f.message.match(/region \d, .* of region \d/)![0].replace(/, layer.*1 mm/, ''));

  it('a bad order: the low bar last touches both posts, first it touches none', () => {
    expect(touches([0, 1, 2])).toContain('region 3 of region 1');
    expect(touches([0, 1, 2])).toContain('region 3 of region 2');
    expect(touches([2, 0, 1]).filter((t) => t.startsWith('region 3'))).toEqual([]);
  });

  it('a good order of two tall posts, in turns, keeps clear', () => {
    const tall = [boxJob([-20, -10, 0], [-7, 10, 60], UP), boxJob([7, -10, 0], [20, 10, 60], UP)];
    const machine = machineOf(acJson());
    const regions = tall.map((p) => p.region);
    const pathsOf = tall.map((p) => p.paths);
    const sequence = orderRuns(machine, regions, pathsOf);
    const { findings } = planMotion({
      machine,
      material: material(),
      regions,
      layersOf: tall.map((p) => p.layers),
      pathsOf,
      sequence,
      rules: motionRules.parse({ tooNear: 'refuse' }),
    });
    expect(sequence.runs.length).toBeGreaterThan(2);
    expect(findings).toEqual([]);
  });

  it('a low transfer: through the post it is caught, over it it is not', () => {
    const machine = machineOf(acJson());
    const parts = [post()];
    const growth = new GrowingPart({
      setting: settingOf(machine),
      regions: parts.map((p) => p.region),
      layersOf: parts.map((p) => p.layers),
      pathsOf: parts.map((p) => p.paths),
    });
    growth.add(wholeRun(parts, 0));
    const free = new ClearMove(growth.scene());
    const at = (x: number, z: number): Float64Array => Float64Array.from([x, 0, z, 0, 0]);
    expect(forward(machine, at(-30, 20)).tip).toEqual([-30, 0, 20]);
    expect(free.trouble(at(-50, 39), at(50, 39))?.words).toMatch(
      /head comes within 1 mm of region 1/,
    );
    // Top at 40 mm: 40.99 is too low by a hundredth, 41.01 is not.
    expect(free.trouble(at(-50, 40.99), at(50, 40.99))).toBeDefined();
    expect(free.trouble(at(-50, 41.01), at(50, 41.01))).toBeUndefined();
    // Turning by a tenth of a degree on the way changes little, but is asked another way.
    const turned = at(50, 41.5);
    turned[4] = 0.002;
    expect(free.trouble(at(-50, 41.5), turned)).toBeUndefined();
    turned[2] = 40.9;
    expect(free.trouble(at(-50, 40.9), turned)).toBeDefined();
  });

  it('an over-long head: a fan that hangs lower than the part is high', () => {
    const low = [boxJob([-30, -10, 0], [-20, 10, 20], UP), boxJob([20, -10, 0], [30, 10, 5], UP)];
    const head = (bottom: number): Json => ({
      ...acJson(),
      head: {
        ...acJson().head,
        boxes: [{ shape: 'box', from: [-60, -8, bottom], to: [-40, 8, bottom + 20] }],
      },
    });
    const parts = (json: Json): string[] =>
      plan(json, low)
        .findings.filter((f) => f.code === 'motion/part')
        .map((f) => f.message);
    // Over the second block the fan passes the first, 20 mm high, with its bottom at tip + bottom.
    expect(parts(head(22))).toEqual([]);
    expect(parts(head(12))[0]).toMatch(
      /region 2, layer 1, the head comes within 1 mm of region 1: they touch/,
    );
  });

  describe('a low wall beside the tip, 0.2 mm lower than the rim of the head', () => {
    // Bead edge and tip are d + 0.85 mm apart; the head is 0.85 mm wide 1 mm over the tip and widens by
    // 3.6 / 8 from there: distance of its flank to the round side of the bead, radius and height 0.1 mm.
    const slope = Math.atan2(3.6, 8);
    const left = (d: number): number => (d + 0.1) * Math.cos(slope) + 0.1 * Math.sin(slope) - 0.1;
    const told = (d: number, under: boolean): string[] => {
      const wall = boxJob([-20, -10, 0], [0, 10, 1.2], UP);
      const other = boxJob([d - 0.925, -10, 0], [20, 10, 2], UP);
      const s = Math.SQRT1_2;
      // A plane through the edge between both that comes up over the wall.
      const leaning = { point: [0, 0, 0], normal: [s, 0, s] } as const;
      const base = under ? leaning : other.region.base;
      return plan(acJson(), [wall, { ...other, region: { ...other.region, base } }])
        .findings.filter((f) => f.code === 'motion/part')
        .map((f) => f.message);
    };

    it('keeps the whole clearance where it stands beside', () => {
      expect(left(0.5)).toBeCloseTo(0.488, 3);
      // Told from rough beads, so up to 0.04 mm less.
      expect(told(0.5, false)).toEqual([
        expect.stringMatching(/within 1 mm of region 1: 0\.4[5-9] mm is left/),
      ]);
    });

    it('keeps a quarter of it near the tip where it lies under the base plane', () => {
      expect(told(0.5, true)).toEqual([]);
      expect(left(0.2)).toBeLessThan(0.25);
      expect(told(0.2, true)).toEqual([
        expect.stringMatching(/within 0\.25 mm of region 1: 0\.21 mm is left/),
      ]);
    });
  });
});
