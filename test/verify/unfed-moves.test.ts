/**
 * Moves without filament, material while the head stands, and beads at the speed of travel: programs drawn
 * block by block on both sides of each limit.
 */
import { describe, expect, it } from 'vitest';
import type { Finding } from '../../lib/base/fault.js';
import type { Vec3 } from '../../lib/base/vector.js';
import { heightsOf } from '../../lib/verify/layers.js';
import type { Print } from '../../lib/verify/print.js';
import { type CheckRules, checkRules } from '../../lib/verify/rules.js';
import { Tally } from '../../lib/verify/tally.js';
import { TraceKind } from '../../lib/verify/trace.js';
import { judgeDry } from '../../lib/verify/unfed-moves.js';
import { type Block, traceOfBlocks } from './traces.js';

const bounds = checkRules.parse({});

/** Judges blocks after a first level: two beads of 10 mm at z = 0.2, 0.08 mm2. */
function judged(blocks: readonly Block[], change: Partial<CheckRules> = {}): Finding[] {
  const first: Block[] = [
    { to: [0, 0, 0.2] },
    { to: [10, 0, 0.2], volume: 0.8 },
    { to: [0, 0, 0.2], volume: 0.8 },
  ];
  const all = [...first, ...blocks];
  const trace = traceOfBlocks([0, 0, 5], all);
  const heights = heightsOf(trace, 0.4);
  const tally = new Tally();
  const seconds = Float64Array.from([1, ...all.map((b) => b.seconds ?? 1)]);
  judgeDry(trace, seconds, { heights } as Print, { ...bounds, ...change }, tally);
  return tally.findings();
}
/** Line of the first of the blocks. */
const LINE = 5;

/** Round a square of a size, so many sides of it. */
const sides = (size: number, count: number, z = 0.2): Block[] =>
  Array.from({ length: count }, (_, i): Block => {
    const corners: [number, number][] = [
      [size, 0],
      [size, size],
      [0, size],
      [0, 0],
    ];
    return { to: [...corners[i % 4]!, z] as unknown as Vec3 };
  });

describe('a way round without filament', () => {
  it('turns by a quarter at each corner: five of them are more than a full turn', () => {
    // Five sides have four corners, which are one full turn and no more.
    expect(judged(sides(10, 5))).toEqual([]);
    const [finding, ...more] = judged(sides(10, 6));
    expect(more).toEqual([]);
    expect(finding).toMatchObject({ code: 'verify/dry', severity: 'error', at: { line: LINE } });
    // 60 mm of 0.08 mm2 are 4.8 mm3.
    expect(finding!.message).toBe(
      'run 1: the head goes round 1.3 times over 60.0 mm and 1 level and no filament is fed: about 5 mm3 are missing (the limit is 30 mm)',
    );
  });

  it('must be longer than the limit', () => {
    expect(judged(sides(5, 6), { dry: 30 })).toEqual([]);
    expect(judged(sides(5, 6), { dry: 29.99 })).toHaveLength(1);
  });

  it('ends where a bead is laid', () => {
    const lay: Block = { to: [3, 10, 0.2], volume: 0.5 };
    expect(judged([...sides(10, 3), lay, ...sides(10, 5).slice(1)])).toEqual([]);
    expect(judged([...sides(10, 6), lay])).toHaveLength(1);
  });

  it('counts levels, and a rise between them turns nothing', () => {
    const rise: Block[] = [...sides(10, 4), { to: [0, 0, 0.4] }, ...sides(10, 4, 0.4)];
    const [finding] = judged(rise);
    // Three corners on either level; the one between them is not counted.
    expect(finding!.message).toContain('goes round 1.5 times over 80.0 mm and 2 levels');
    const once: Block[] = [
      ...sides(10, 3),
      { to: [0, 10, 3] },
      { to: [0, 0, 3] },
      { to: [9, 0, 3] },
    ];
    expect(judged(once)).toEqual([]);
  });

  it('straight back and forth is no way round, nor are blocks too short to turn', () => {
    const back = Array.from({ length: 12 }, (_, i): Block => ({ to: [i % 2 ? 0 : 10, 0, 0.2] }));
    expect(judged(back)).toEqual([]);
    const tiny = Array.from({ length: 12 }, (_, i): Block => ({
      to: [10 + 10 * Math.floor(i / 2), i % 2 ? 0.005 : 0, 0.2],
    }));
    expect(judged(tiny).map((f) => f.code)).toEqual([]);
  });

  it('before the first bead is no matter', () => {
    const trace = traceOfBlocks([0, 0, 5], [...sides(20, 9), { to: [5, 5, 0.2], volume: 1 }]);
    const tally = new Tally();
    const heights = heightsOf(trace, 0.4);
    judgeDry(trace, new Float64Array(11).fill(1), { heights } as Print, bounds, tally);
    expect(tally.findings()).toEqual([]);
  });
});

describe('material while the head stands', () => {
  const wait = (volume: number): Block[] => [{ to: [0, 0, 0.2], kind: TraceKind.wait, volume }];
  it('is told from the limit on, with its line', () => {
    expect(judged(wait(0.5))).toEqual([]);
    expect(judged(wait(0.6))).toEqual([
      {
        code: 'verify/blob',
        severity: 'error',
        message:
          '0.60 mm3 leave the nozzle while it stands: more is primed than was drawn back (the limit is 0.5 mm3)',
        at: { line: LINE, time: 5, point: [0, 0, 0.2], frame: 'part' },
      },
    ]);
    expect(judged([{ to: [0, 0, 0.2], kind: TraceKind.link, volume: 2 }])).toEqual([]);
  });
  it('before the first bead is no matter', () => {
    const trace = traceOfBlocks(
      [0, 0, 0.2],
      [
        { to: [0, 0, 0.2], kind: TraceKind.wait, volume: 9 },
        { to: [5, 5, 0.2], volume: 1 },
      ],
    );
    const tally = new Tally();
    const heights = heightsOf(trace, 0.4);
    judgeDry(trace, new Float64Array(3).fill(1), { heights } as Print, bounds, tally);
    expect(tally.findings()).toEqual([]);
  });
});

describe('a bead much faster than the others', () => {
  /** A hundred beads of 10 mm at 10 mm/s, and one of a length at a speed. */
  const fast = (size: number, speed: number): Block[] => [
    ...Array.from({ length: 100 }, (_, i): Block => ({
      to: [i % 2 ? 0 : 10, 0, 0.2],
      volume: 0.8,
      seconds: 1,
    })),
    { to: [0, size, 0.2], volume: 0.08 * size, seconds: size / speed },
  ];
  it.each([
    ['at one and a half times their speed', 6, 15, 0],
    ['faster', 6, 15.1, 1],
    ['as long as the limit', 5, 15.1, 1],
    ['shorter', 4.99, 40, 0],
  ])('%s', (_, size, speed, count) => {
    const findings = judged(fast(size, speed));
    expect(findings).toHaveLength(count);
    if (!count) return;
    expect(findings[0]).toMatchObject({
      code: 'verify/laid-fast',
      severity: 'error',
      at: { line: LINE + 100 },
    });
    expect(findings[0]!.message).toContain(
      `${size.toFixed(1)} mm of bead are laid at ${speed.toFixed(1)} mm/s, all but a hundredth of this program's beads at 10.0 mm/s or less`,
    );
  });
  it('and one that takes no time is not compared with', () => {
    expect(judged([{ to: [0, 3, 0.2], volume: 0.3, seconds: 0 }])).toEqual([]);
  });
});
