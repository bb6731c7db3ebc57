/**
 * What is asked of each block: the speeds of the job, what the nozzle melts and the least time of a layer, on straight
 * lines of X from rest to rest, whose times are L/v + v/a (uniformly accelerated motion); and what is said of flows.
 */
import { describe, expect, it } from 'vitest';
import type { Finding } from '../../../lib/base/fault.js';
import { BlockList, NO_PATH } from '../../../lib/motion/lay/blocks.js';
import { type Motion, MoveKind } from '../../../lib/motion/motion.js';
import { motionRules } from '../../../lib/motion/rules.js';
import { setTimes } from '../../../lib/motion/timing/block-feeds.js';
import { Complaints } from '../../../lib/motion/transfer/travel-limits.js';
import { material } from '../jobs.js';
import { machine } from '../routes.js';

const { deposit, link, filament, transfer } = MoveKind;

interface Block {
  readonly kind: MoveKind;
  /** Where X leads, mm. */
  readonly x: number;
  readonly speed: number;
  readonly section?: number;
  /** mm; where it is not what X moves by. */
  readonly length?: number;
  readonly filament?: number;
  readonly layer?: number;
  readonly region?: number;
}

interface Timed {
  readonly motion: Motion;
  readonly findings: readonly Finding[];
}

/** X at 1000 mm/s2; a nozzle that lays .1 .. 10 mm3/s. */
function timed(blocks: readonly Block[], least = 0, flow = { least: 0.1, most: 10 }): Timed {
  const list = new BlockList(new Float64Array(5));
  for (const { kind, x, speed, section = 0, layer = 0, region = 0, ...b } of blocks) {
    const far = b.length ?? Math.abs(x - list.now[0]!);
    const tag = { kind, region, layer, pathKind: NO_PATH, speed };
    list.push([x, 0, 0, 0, 0], far, section, b.filament ?? 0, tag);
  }
  const complaints = new Complaints({ outOfTravel: 'report', touch: 'report', tooNear: 'report' });
  const stuff = material({ flow, leastLayerSeconds: least });
  const motion = setTimes(machine(), stuff, list.take(), motionRules.parse({}), complaints);
  return { motion, findings: complaints.findings };
}

const bead = (x: number, change: Partial<Block> = {}): Block => ({
  kind: deposit,
  x,
  speed: 50,
  section: 0.08,
  ...change,
});
/** Nothing moves but filament: segments from rest to rest end there. */
const stop = (x: number, change: Partial<Block> = {}): Block => ({
  kind: filament,
  x,
  speed: 25,
  length: 0,
  filament: 1.5,
  ...change,
});

describe('speeds', () => {
  it('are those of the job: feed L/v, with acceleration v/a more', () => {
    const { motion, findings } = timed([bead(100)]);
    expect(findings).toEqual([]);
    expect(motion.seconds[0]).toBeCloseTo(2, 9);
    expect(motion.lasts[0]).toBeCloseTo(2.05, 9);
    expect(motion.totalSeconds).toBeCloseTo(2.05, 9);
    expect(motion.paceShare.asked).toBeCloseTo(1.95 / 2.05, 9);
    expect(motion.paceShare.joints[0]).toBeCloseTo(0.1 / 2.05, 9);
    expect([...motion.asked.least]).toEqual([2]);
    expect([...motion.asked.start]).toEqual([0, 1]);
  });

  it('at most what the nozzle melts: 10 mm3/s through .4 mm2 is 25 mm/s', () => {
    const { motion, findings } = timed([bead(100, { section: 0.4 })]);
    expect(findings).toEqual([]);
    expect(motion.seconds[0]).toBeCloseTo(4, 9);
    expect(motion.lasts[0]).toBeCloseTo(4.025, 9);
    expect(motion.paceShare.flow).toBeCloseTo(3.975 / 4.025, 9);
    expect(motion.paceShare.asked).toBe(0);
    // Exactly what it melts is not less than what is asked.
    expect(timed([bead(100, { section: 0.2 })]).motion.paceShare).toMatchObject({ flow: 0 });
  });

  it('filament alone takes its length at its speed; a tip that stands is not asked for any', () => {
    const { motion } = timed([stop(0), bead(50), stop(50, { filament: -3 })]);
    expect(motion.seconds[0]).toBeCloseTo(1.5 / 25, 12);
    expect(motion.seconds[2]).toBeCloseTo(3 / 25, 12);
    expect(motion.paceShare.filament).toBeCloseTo(4.5 / 25 / motion.totalSeconds, 9);
    // A transfer in which the tip stays over one place of the part: X alone limits it.
    const still = timed([{ kind: transfer, x: 40, speed: 1, length: 0 }]).motion;
    expect(still.lasts[0]).toBeCloseTo(2 * Math.sqrt(40 / 1000), 9);
    expect(still.asked.least[0]).toBe(0);
  });

  it('tiny pieces share the time of what they are merged to, and keep what they lay', () => {
    const pieces = [10, 30, 60, 100].map((x) => bead(x, { filament: 0.3 }));
    const { motion } = timed(pieces);
    expect([...motion.asked.start]).toEqual([0, 4]);
    [0.1, 0.2, 0.3, 0.4].forEach((share, b) => {
      expect(motion.seconds[b]).toBeCloseTo(2 * share, 9);
      expect(motion.lasts[b]).toBeCloseTo(2.05 * share, 9);
    });
    expect([...motion.filament]).toEqual([0.3, 0.3, 0.3, 0.3]);
    expect([...motion.length]).toEqual([10, 20, 30, 40]);
  });
});

describe('the least time of a layer', () => {
  it('is what a short layer takes, by slower beads', () => {
    const { motion, findings } = timed([bead(50), stop(50), bead(0), stop(0)], 10);
    expect(findings).toEqual([]);
    expect(motion.totalSeconds).toBeGreaterThan(10 * 0.999 - 1e-9);
    expect(motion.totalSeconds).toBeLessThan(10 * 1.002);
    // Both are as long and so as slow: (10 s - filament) / 2 less v / a.
    const v = 50 / motion.seconds[0]!;
    expect(motion.seconds[2]).toBeCloseTo(motion.seconds[0]!, 6);
    expect(motion.lasts[0]).toBeCloseTo(50 / v + v / 1000, 6);
    expect(motion.paceShare.layerTime).toBeGreaterThan(0.9);
    expect(motion.paceShare.asked).toBe(0);
  });

  it('slows beads alone: a link stays as quick as it was', () => {
    const there = timed([bead(50), { kind: link, x: 100, speed: 120 }, stop(100), bead(50)], 10);
    const free = timed([bead(50), { kind: link, x: 100, speed: 120 }, stop(100), bead(50)]);
    expect(there.motion.totalSeconds).toBeGreaterThan(9.98);
    expect(there.motion.seconds[1]).toBeLessThan(free.motion.seconds[1]! * 1.05);
    expect(there.motion.seconds[0]).toBeGreaterThan(3 * free.motion.seconds[0]!);
  });

  it('counts each layer of each region by itself', () => {
    const layers = [
      ...[bead(100), stop(100)],
      ...[bead(0, { layer: 1 }), stop(0, { layer: 1 })],
      ...[bead(100, { region: 1, layer: 1 }), stop(100, { region: 1, layer: 1 })],
      { kind: transfer, x: 0, speed: 120, region: 1, layer: 2 },
    ];
    const { motion, findings } = timed(layers, 5);
    expect(findings).toEqual([]);
    for (const [a, b] of [
      [0, 2],
      [2, 4],
      [4, 6],
    ] as const) {
      const time = motion.lasts.slice(a, b).reduce((sum, t) => sum + t, 0);
      expect(time / 5).toBeCloseTo(1, 2);
    }
    // A layer in which nothing is laid is not held.
    expect(motion.lasts[6]).toBeCloseTo(100 / 120 + 0.12, 6);
  });

  it('is not asked of a layer that lasts long enough', () => {
    const { motion } = timed([bead(100)], 2.05 * 0.9995);
    expect(motion.totalSeconds).toBeCloseTo(2.05, 9);
    expect(motion.paceShare.layerTime).toBe(0);
  });

  it('is missed where the least flow allows no slower, and that is said of the shortest', () => {
    // .08 mm2 at .1 mm3/s is 1.25 mm/s: 8 s for 10 mm, 4 s for 5.
    const layers = [
      bead(10, { layer: 3 }),
      stop(10, { layer: 3 }),
      bead(5, { layer: 4, region: 1 }),
      stop(5, { layer: 4, region: 1 }),
      bead(100, { layer: 5, speed: 2 }),
    ];
    const { motion, findings } = timed(layers, 20);
    expect(motion.seconds[0]).toBeCloseTo(8, 6);
    expect(motion.seconds[2]).toBeCloseTo(4, 6);
    expect(findings).toEqual([
      {
        code: 'motion/layer-time',
        severity: 'warning',
        message:
          "2 layers are done sooner than the material's 20 s: its least flow of 0.1 mm3/s allows no slower; the shortest takes 4.06 s",
        at: { region: 1, layer: 4 },
      },
    ]);
  });

  it('and the thinnest piece of a merged one decides how slow that is', () => {
    // Within 5 % they are merged: .0776 mm2 at .1 mm3/s over 10 mm in all.
    const { motion } = timed([bead(6), bead(10, { section: 0.0776 })], 20);
    expect([...motion.asked.start]).toEqual([0, 2]);
    expect(motion.asked.least[0]).toBeCloseTo((10 * 0.0776) / 0.1, 6);
  });
});

describe('flow below the least of the material', () => {
  const low = (speed: number, x = 100, more: readonly Block[] = []): readonly Finding[] =>
    timed([bead(x, { speed, layer: 2, region: 1 }), ...more], 0, { least: 1, most: 10 }).findings;

  it('is told with its time and the lowest: 5 mm/s of .08 mm2', () => {
    expect(low(5)).toEqual([
      {
        code: 'motion/low-flow',
        severity: 'warning',
        message:
          "for 20.0 s, longer than 0.2 s at a time, the feed asks for less flow than the material's least of 1 mm3/s; the lowest is 0.400 mm3/s",
        at: { region: 1, layer: 2, block: 0 },
      },
    ]);
  });

  it('is not told at the least, nor for moments', () => {
    expect(low(12.5)).toEqual([]);
    expect(low(12.4)).toHaveLength(1);
    // 1 mm at 5 mm/s and 5 / 1000 s more: .205 s. 0.9 mm: .185 s.
    expect(low(5, 1)).toHaveLength(1);
    expect(low(5, 0.9)).toEqual([]);
  });

  it('adds stretches that are long by themselves, and those that follow one another', () => {
    const quick = { kind: link, speed: 100 } as const;
    const two = low(5, 2, [
      { ...quick, x: 12 },
      bead(15, { speed: 8 }),
      stop(15),
      bead(15.5, { speed: 5 }),
    ]);
    // .4 s at .4 mm3/s, .375 s at .64; half a millimetre of .1 s is left out.
    expect(two[0]!.message).toMatch(/^for 0\.[78] s.*the lowest is 0\.400 mm3\/s$/);
    // Two of them that each are too short make a stretch that is not: .15 and .2 s.
    const next = low(5, 0.75, [bead(1.75, { speed: 6 })]);
    expect(next).toHaveLength(1);
    expect(next[0]!.message).toContain('the lowest is 0.400');
  });

  it('is a note where it is less than .5 % of the job', () => {
    const rest = (x: number): Block => bead(x, { speed: 50 });
    const far = (x: number): readonly Finding[] => low(5, 1.2, [stop(1.2), rest(x)]);
    // .245 s of a job of 40 s and of one of 60 s.
    expect(far(2000)[0]!.severity).toBe('warning');
    expect(far(3000)[0]!.severity).toBe('note');
  });

  it('names the first of the pieces that were merged', () => {
    const [found] = timed(
      [bead(10), bead(20), stop(20), bead(25, { speed: 5 }), bead(30, { speed: 5 })],
      0,
      { least: 1, most: 10 },
    ).findings;
    expect(found!.at!.block).toBe(3);
  });
});

it('without blocks there is no time', () => {
  const { motion, findings } = timed([]);
  expect([motion.totalSeconds, motion.paceShare.asked, findings.length]).toEqual([0, 0, 0]);
});
