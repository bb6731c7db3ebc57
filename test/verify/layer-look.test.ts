/**
 * One layer seen by itself. Marks along its beads against a count in which every mark is held against every
 * other bead; fullness, widths and lengths of layers whose beads are drawn.
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { type Vec3, add, cross, scale, square, unit } from '../../lib/base/vector.js';
import { BeadSpacing } from '../../lib/verify/bead-spacing.js';
import { type LayerLook, looksOf } from '../../lib/verify/layer-look.js';
import { type Heights, heightsOf } from '../../lib/verify/layers.js';
import type { Trace } from '../../lib/verify/trace.js';
import { type Block, traceOfBlocks, zigzag } from './traces.js';

const BORE = 0.4;
const WIDTH = 0.5;

type Point = readonly [number, number];

/** What lies beside a place p of bead `own` going along t, among beads a to b, asked one by one. */
function beside(
  p: Point,
  t: Point,
  own: number,
  beads: readonly (readonly [Point, Point])[],
  blocks: readonly number[],
) {
  const reach = 1.5 * WIDTH;
  const gaps: [number, number] = [Infinity, Infinity];
  const by: [number, number] = [-1, -1];
  let over = 0;
  beads.forEach(([a, b], o) => {
    if (Math.abs(blocks[o]! - blocks[own]!) <= 1) return;
    // In a frame along the bead, its crossing with the line across.
    const local = ([x, y]: Point): Point => [
      (x - p[0]) * t[0] + (y - p[1]) * t[1],
      (y - p[1]) * t[0] - (x - p[0]) * t[1],
    ];
    const [c, d] = [local(a), local(b)];
    if (c[0] * d[0] > 0 || c[0] === d[0]) return;
    const y = c[1] + ((d[1] - c[1]) * c[0]) / (c[0] - d[0]);
    const angle = Math.atan2(Math.abs(d[1] - c[1]), Math.abs(d[0] - c[0]));
    const alongside = angle <= (15 * Math.PI) / 180;
    if (Math.abs(y) < 0.25 * WIDTH) {
      if (alongside) over++;
      return;
    }
    const side = y > 0 ? 0 : 1;
    if (Math.abs(y) > reach || Math.abs(y) >= gaps[side]) return;
    gaps[side] = Math.abs(y);
    by[side] = alongside ? blocks[o]! : -1;
  });
  return { gaps: gaps.map((g, s) => (by[s]! < 0 ? Infinity : g)), by, over };
}

describe.each<[string, Vec3, number]>([
  ['upright', [0, 0, 1], 1],
  ['leaning', unit([0.4, -0.5, 0.7]), 2],
  ['in millimetres by the hundred', [0, 0, 1], 3],
])('marks of beads at random, %s', (_, d, seed) => {
  const random = seeded(seed);
  const large = seed === 3;
  const spread = large ? 60 : 5;
  const [u, v] = [square(d), cross(d, square(d))];
  const at = ([x, y]: Point): Vec3 => add(scale(d, 2), add(scale(u, x), scale(v, y)));
  const points: Point[] = [];
  const blocks: Block[] = [];
  const beads: [Point, Point][] = [];
  const numbers: number[] = [];
  let here: Point = [0, 0];
  for (let i = 0; i < 160; i++) {
    const step: Point = [
      spread * (random() - 0.5),
      random() < 0.6 ? 0.2 * (random() - 0.5) : 3 * random(),
    ];
    const lays = random() < 0.7;
    const to: Point = lays
      ? [here[0] + step[0], here[1] + step[1]]
      : [spread * random(), spread * random()];
    blocks.push({ to: at(to), ...(lays ? { volume: 0.01 + random() } : {}) });
    if (lays) {
      beads.push([here, to]);
      numbers.push(blocks.length);
    }
    points.push(to);
    here = to;
  }
  const trace: Trace = {
    ...traceOfBlocks(at([0, 0]), [{ ...blocks[0]!, direction: d }, ...blocks.slice(1)]),
  };
  const layer = {
    first: numbers[0]!,
    last: numbers.at(-1)!,
    length: beads.reduce((sum, [a, b]) => sum + Math.hypot(b[0] - a[0], b[1] - a[1]), 0),
  } as Parameters<BeadSpacing['look']>[0];
  // The first look is at another layer, which must leave nothing.
  const spacing = new BeadSpacing(trace, WIDTH, BORE);
  spacing.look({ ...layer, last: numbers[20]!, length: layer.length / 8 });
  const marks = spacing.look(layer);

  it('stand 1.5 mm apart, and know what lies beside', () => {
    let n = 0;
    let due = 0.75;
    let found = 0;
    let twice = 0;
    let missed = 0;
    beads.forEach(([a, b], own) => {
      const size = Math.hypot(b[0] - a[0], b[1] - a[1]);
      for (; due < size; due += 1.5, n++) {
        const s = due / size;
        const p: Point = [a[0] + s * (b[0] - a[0]), a[1] + s * (b[1] - a[1])];
        const want = beside(p, [(b[0] - a[0]) / size, (b[1] - a[1]) / size], own, beads, numbers);
        expect(marks.block[n]).toBe(numbers[own]);
        expect(marks.section[n]).toBeCloseTo(trace.volume[numbers[own]!]! / size, 9);
        const near = (got: number, to: number): boolean => got === to || Math.abs(got - to) < 1e-9;
        const alike = [0, 1].every((side) => {
          const by = want.by[side]!;
          const gap = want.gaps[side]!;
          if (gap < Infinity) found++;
          const section = gap < Infinity ? trace.volume[by]! / trace.length[by]! : 0;
          return near(marks.gap[2 * n + side]!, gap) && near(marks.beside[2 * n + side]!, section);
        });
        if (want.over > 0) twice++;
        if (!alike || marks.over[n]! >= 0 !== want.over > 0) missed++;
      }
      due -= size;
    });
    expect(marks.count).toBe(n);
    // The way across is followed in steps of half a cell, which pass by the corner of a cell now and then.
    expect(missed).toBeLessThanOrEqual(n / 50);
    expect(found).toBeGreaterThan(5);
    if (!large) expect(twice).toBeGreaterThan(0);
  });
});

/** The looks of stacked levels; each level is given as blocks at its height. */
function looks(levels: readonly (readonly Block[])[]): { looks: LayerLook[]; heights: Heights } {
  const trace = traceOfBlocks([0, 0, 9], levels.flat());
  const heights = heightsOf(trace, BORE);
  return { looks: looksOf(trace, heights, BORE), heights };
}

describe('a closed layer', () => {
  const H = 0.2;
  const plain = (k: number, share = 1): Block[] => zigzag(8, 12, 0.4, H * (k + 1), share * 0.4 * H);
  it.each([1, 0.7, 1.3])('is as full as its filament: %d', (share) => {
    const { looks: all } = looks([plain(0), plain(1), plain(2, share), plain(3), plain(4)]);
    const look = all[2]!;
    expect(look.height).toBeCloseTo(H, 9);
    for (const full of [look.low, look.middle, look.high]) expect(full).toBeCloseTo(share, 9);
    expect(look.width).toBeCloseTo(share * 0.4, 9);
    // Eight beads of 12 mm have seven gaps, each seen from both sides at eight marks of either bead.
    expect(look.pairs).toBe(2 * 7 * 8);
    expect([look.closed, look.open]).toEqual([0, expect.closeTo(96, 9)]);
    expect([look.twice, look.twiceAt]).toEqual([0, -1]);
  });

  it('has quantiles of its fullness where beads differ', () => {
    // Two beads 0.4 mm apart and two 0.5 mm apart, and nothing between the pairs: half is 1, half 0.8.
    const rows = [0, 0.4, 5, 5.5];
    const layer = (z: number): Block[] =>
      rows.flatMap((y): Block[] => [{ to: [0, y, z] }, { to: [30, y, z], volume: 30 * 0.4 * H }]);
    const look = looks([layer(0.2), layer(0.4), layer(0.6)]).looks[1]!;
    expect(look.pairs).toBe(4 * 20);
    expect(look.low).toBeCloseTo(0.8, 9);
    expect(look.middle).toBeCloseTo(1, 9);
    expect(look.high).toBeCloseTo(1, 9);
  });

  it('without beads side by side has a width and no fullness', () => {
    const lone = (z: number): Block[] => zigzag(1, 30, 1, z, 0.1);
    const look = looks([lone(0.2), lone(0.4), lone(0.6)]).looks[1]!;
    expect(look.pairs).toBe(0);
    expect([look.low, look.middle, look.high]).toEqual([NaN, NaN, NaN]);
    expect(look.width).toBeCloseTo(0.5, 9);
    // Too short for a mark: the mean.
    const short = (z: number): Block[] => zigzag(1, 0.5, 1, z, 0.06);
    expect(looks([short(0.2), short(0.4)]).looks[1]!.width).toBeCloseTo(0.3, 9);
  });
});

describe('what is laid twice', () => {
  const layer = (z: number, again: number, share = 1): Block[] => [
    { to: [0, 0, z] },
    { to: [30, 0, z], volume: 30 * 0.08 },
    { to: [30, 5, z] },
    { to: [0, 5, z], volume: 30 * 0.08 },
    { to: [0, again, z] },
    { to: [30, again, z], volume: 30 * 0.08 * share },
  ];
  const plain = [layer(0.2, 9), layer(0.4, 9), layer(0.6, 9)];
  it.each([
    ['a bead over the first', 0, 1, 30],
    ['a bead that tapers off', 0, 0.55, 0],
    ['a bead a quarter of a width aside', 0.09, 1, 30],
    ['a bead farther aside', 0.11, 1, 0],
  ])('%s', (_, again, share, want) => {
    const { looks: all, heights } = looks([...plain, layer(0.8, again, share)]);
    expect(heights.width).toBeCloseTo(0.4, 9);
    expect(all[3]!.twice).toBeCloseTo(want, 9);
    expect(all[3]!.twiceAt).toBe(want > 0 ? 24 : -1);
    expect(all[2]!.twice).toBe(0);
  });
});

describe('beads that close', () => {
  /** A square of a size whose last side ends `short` of its beginning. */
  const square4 = (size: number, short: number, z: number): Block[] =>
    (
      [
        [size, 0],
        [size, size],
        [0, size],
        [0, short],
      ] as const
    ).reduce<Block[]>(
      (all, [x, y], i) => {
        const volume = 0.08 * (i === 3 ? size - short : size);
        return [...all, { to: [x, y, z], volume }];
      },
      [{ to: [0, 0, z] }],
    );
  const stack = (blocks: (z: number) => Block[]): LayerLook =>
    looks([blocks(0.2), blocks(0.4), blocks(0.6)]).looks[1]!;
  it.each([
    ['to their beginning', 5, 0, 20, 0],
    ['to within a width of it', 5, 0.4, 19.6, 0],
    ['not so near', 5, 0.41, 0, 19.59],
    ['but are shorter than three widths', 0.29, 0, 0, 1.16],
    ['and are a little longer', 0.31, 0, 1.24, 0],
  ])('%s', (_, size, short, closed, open) => {
    const look = stack((z) => square4(size, short, z));
    expect(look.closed).toBeCloseTo(closed, 9);
    expect(look.open).toBeCloseTo(open, 9);
  });
  it('count one by one', () => {
    const look = stack((z) => [
      ...square4(5, 0, z),
      { to: [20, 0, z] },
      { to: [27, 0, z], volume: 0.56 },
      { to: [0, 0, z] },
      ...square4(3, 0, z),
    ]);
    expect(look.closed).toBeCloseTo(32, 9);
    expect(look.open).toBeCloseTo(7, 9);
  });
});
