/**
 * How the blocks of the runs are asked about and what is made of the answers: chunks and waves are counted, answers
 * are invented here, so that every report is known beforehand.
 */
import { describe, expect, it } from 'vitest';
import type { Finding } from '../../../lib/base/fault.js';
import type { Vec3 } from '../../../lib/base/vector.js';
import type { MotionBlocks } from '../../../lib/motion/lay/blocks.js';
import {
  type BlockSpan,
  type LeastGap,
  answered,
  answeredBy,
  checkSpans,
} from '../../../lib/motion/lay/check-clearance.js';
import type { Near, NearestQuery, Nears } from '../../../lib/motion/lay/nearest-approach.js';
import { Complaints } from '../../../lib/motion/transfer/travel-limits.js';
import { pairsOf } from '../../../lib/clearance/scene.js';
import { acJson, machineOf } from '../../machine/machines.js';
import { boxJob } from '../jobs.js';
import { printed } from '../transfer/scenes.js';

const UP: Vec3 = [0, 0, 1];
const machine = machineOf({
  ...acJson(),
  obstacles: [
    {
      name: 'post',
      carriedBy: 'frame',
      solid: { shape: 'box', from: [200, 0, 0], to: [210, 10, 30] },
    },
  ],
});
const box = boxJob([-40, -5, 0], [-30, 5, 4], UP);
const next = boxJob([30, -5, 0], [40, 5, 4], UP);
const { scene } = printed(machine, [box, next], 0.05, 1);

/** Blocks of which only number, region and layer are looked at; all joints at zero but C. */
function blocksOf(count: number, region = (_: number): number => 0): MotionBlocks {
  const joints = new Float64Array(5 * count);
  for (let b = 0; b < count; b++) joints[5 * b + 4] = Math.PI / 2;
  return {
    jointCount: 5,
    from: new Float64Array(5),
    joints,
    region: Uint32Array.from({ length: count }, (_, b) => region(b)),
    layer: Uint32Array.from({ length: count }, (_, b) => b % 7),
  } as unknown as MotionBlocks;
}

const span = (from: number, to: number, region = 1): BlockSpan => ({ from, to, region, scene });

interface Checked {
  readonly waves: (readonly NearestQuery[])[];
  readonly findings: readonly Finding[];
  /** Findings there were before each wave. */
  readonly before: number[];
  readonly least: LeastGap | undefined;
}

function checked(
  blocks: MotionBlocks,
  spans: readonly BlockSpan[],
  answer: (one: NearestQuery) => Nears,
): Checked {
  const complaints = new Complaints({ outOfTravel: 'report', touch: 'report', tooNear: 'report' });
  const asking = checkSpans(blocks, spans, complaints);
  const waves: (readonly NearestQuery[])[] = [];
  const before: number[] = [];
  let at = asking.next();
  while (!at.done) {
    waves.push(at.value);
    before.push(complaints.findings.length);
    at = asking.next(at.value.map(answer));
  }
  return { waves, before, findings: complaints.findings, least: at.value };
}

const pairs = pairsOf(scene, 1, false);
const pairWith = (things: string): number => pairs.findIndex((p) => p.things.name === things);
/** Answers for all pairs with one of them near. */
const near = (things: string, one: Near): Nears =>
  pairs.map((_, i) => (i === pairWith(things) ? one : undefined));
const nobody = (): Nears => pairs.map(() => undefined);

describe('chunks', () => {
  it('of 20,000 blocks at most, even ones, eight in a wave, cover every run once', () => {
    const spans = [span(0, 5), span(5, 50_005), span(60_000, 250_000)];
    const { waves } = checked(blocksOf(250_000), spans, nobody);
    // One, three and ten of them.
    expect(waves.map((w) => w.length)).toEqual([8, 6]);
    const chunks = waves.flat().map(({ from, to }) => [from, to] as const);
    expect(chunks[0]).toEqual([0, 5]);
    expect(chunks.slice(1, 4)).toEqual([
      [5, 16_672],
      [16_672, 33_338],
      [33_338, 50_005],
    ]);
    expect(chunks.slice(4)).toEqual(
      Array.from({ length: 10 }, (_, k) => [60_000 + 19_000 * k, 79_000 + 19_000 * k]),
    );
  });

  it('ask by the machine, the blocks and what is printed, within three clearances', () => {
    const blocks = blocksOf(10);
    const { waves } = checked(blocks, [span(2, 9, 1)], nobody);
    const [[one]] = waves as [[NearestQuery]];
    expect(one).toMatchObject({ from: 2, to: 9, region: 1, known: 3 });
    expect(one.machine).toBe(machine);
    expect(one.way).toEqual({ jointCount: 5, joints: blocks.joints, from: blocks.from });
    expect(one.printed.map((p) => p.region)).toEqual([0]);
    expect(Object.keys(one.printed[0]!).sort()).toEqual(['beside', 'laid', 'region', 'under']);
  });

  it('look no farther than the least gap of the waves before', () => {
    const spans = Array.from({ length: 18 }, (_, i) => span(i, i + 1));
    const gaps = [5, 2.5, 7, 1.2];
    const { waves } = checked(blocksOf(18), spans, ({ from }) =>
      near('the table', { gap: gaps[from] ?? 2, block: from, at: [0, 0, 0] }),
    );
    expect(waves.map((w) => w.map((q) => q.known))).toEqual([
      Array(8).fill(3),
      Array(8).fill(1.2),
      Array(2).fill(1.2),
    ]);
  });

  it('report a run as soon as it is done, and only then', () => {
    // Two runs of five chunks: the first wave ends within the second run.
    const spans = [span(0, 100_000), span(100_000, 200_000)];
    const { waves, before, findings } = checked(blocksOf(200_000), spans, ({ from }) =>
      near('the table', { gap: 0.5, block: from, at: [0, 0, 0] }),
    );
    expect(waves.map((w) => w.length)).toEqual([8, 2]);
    expect(before).toEqual([0, 1]);
    expect(findings.map((f) => f.at!.layer)).toEqual([0, 100_000 % 7]);
  });
});

describe('what is told of a pair', () => {
  const told = (things: string, gap: number): Finding[] => [
    ...checked(
      blocksOf(10, () => 4),
      [span(0, 10)],
      () => near(things, { gap, block: 3, at: [10, 20.12345, 30] }),
    ).findings,
  ];

  it('is nothing from the clearance on', () => {
    expect(told('the table', 1)).toEqual([]);
    expect(told('the table', 1 - 5e-7)).toEqual([]);
    expect(told('the table', 0.99)).toHaveLength(1);
  });

  it('is a warning with what is left, at the point in the part frame', () => {
    // A point of the table stays where it is in the part; one of the frame turns back by C, a quarter.
    expect(told('the table', 0.5)).toEqual([
      {
        code: 'motion/table',
        severity: 'warning',
        message: 'in region 5, layer 4, the head comes within 1 mm of the table: 0.50 mm is left',
        at: { region: 4, layer: 3, point: [10, 20.123, 30], frame: 'part' },
      },
    ]);
    const [post] = told('"post"', 0.5);
    expect(post!.code).toBe('motion/obstacle');
    expect(post!.at!.point).toEqual([20.123, -10, 30]);
    expect(told('region 1', 0.5)[0]!.code).toBe('motion/part');
  });

  it('is an error where they touch, or may where a corner is rounded by .05 mm', () => {
    const [just] = told('the table', 0.05);
    expect(just).toMatchObject({
      severity: 'error',
      message: expect.stringMatching(
        /: 0\.05 mm is left, they may touch where the corner is rounded$/,
      ),
    });
    expect(told('the table', 0.06)[0]!.severity).toBe('warning');
    expect(told('the table', 0)[0]!.message).toMatch(/: they touch, 0\.00 mm deep$/);
    expect(told('the table', -0.25)[0]).toMatchObject({
      severity: 'error',
      message: expect.stringMatching(/: they touch, 0\.25 mm deep$/),
    });
  });

  it('is its worst place in the run, the first of equal ones', () => {
    const gaps = [0.7, 0.4, 0.4, 0.9, undefined];
    const { findings, least } = checked(blocksOf(100_000), [span(0, 100_000)], ({ from }) => {
      const gap = gaps[from / 20_000];
      return gap === undefined
        ? nobody()
        : near('the table', { gap, block: from + 2, at: [1, 2, 3] });
    });
    expect(findings).toHaveLength(1);
    expect(findings[0]!.message).toContain('0.40 mm is left');
    expect(findings[0]!.at!.layer).toBe(20_002 % 7);
    expect(least).toEqual({
      gap: 0.4,
      between: ['the head', 'the table'],
      region: 0,
      layer: 20_002 % 7,
      point: [expect.closeTo(1, 9), expect.closeTo(2, 9), expect.closeTo(3, 9)],
    });
  });
});

describe('the least gap', () => {
  it('is the least of all runs and pairs, the first of equal ones', () => {
    const answers = [
      near('the table', { gap: 2, block: 0, at: [0, 0, 1] }),
      near('"post"', { gap: 1.5, block: 1, at: [0, 0, 2] }),
      near('the table', { gap: 1.5, block: 2, at: [0, 0, 3] }),
    ];
    const spans = [0, 1, 2].map((b) => span(b, b + 1));
    const { least, findings } = checked(blocksOf(3), spans, ({ from }) => answers[from]!);
    expect(findings).toEqual([]);
    expect(least).toMatchObject({ gap: 1.5, between: ['the head', '"post"'], layer: 1 });
  });

  it('is not told where nothing comes near, or nothing is laid', () => {
    expect(checked(blocksOf(3), [span(0, 3)], nobody).least).toBeUndefined();
    expect(checked(blocksOf(0), [], nobody).least).toBeUndefined();
  });
});

it('answers come from wherever they are asked, all of a wave at once', async () => {
  function* asking(): Generator<readonly NearestQuery[], string, readonly Nears[]> {
    const first = yield [{ from: 1 }, { from: 2 }] as unknown as NearestQuery[];
    const second = yield [{ from: 3 }] as unknown as NearestQuery[];
    return JSON.stringify([first, second]);
  }
  let open = 0;
  let most = 0;
  const ask = async ({ from }: NearestQuery): Promise<Nears> => {
    most = Math.max(most, ++open);
    await Promise.resolve();
    open--;
    return [{ gap: from, block: 0, at: [0, 0, 0] }];
  };
  const gaps = JSON.parse(await answeredBy(ask, asking())) as Near[][][];
  expect(gaps.map((w) => w.map(([n]) => n!.gap))).toEqual([[1, 2], [3]]);
  expect(most).toBe(2);
  // Without anything to ask the end comes at once.

  function* none(): Generator<readonly NearestQuery[], string, readonly Nears[]> {
    return 'done';
  }
  expect(answered(none())).toBe('done');
});
