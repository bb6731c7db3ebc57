/**
 * Layers judged by themselves: stacks drawn with one layer wrong by a known share of filament, a level left
 * out, beads missing, laid twice or too wide; each limit from both sides.
 */
import { describe, expect, it } from 'vitest';
import { judgeLayers } from '../../lib/verify/judge-layers.js';
import { heightsOf } from '../../lib/verify/layers.js';
import type { Print } from '../../lib/verify/print.js';
import { type CheckRules, checkRules } from '../../lib/verify/rules.js';
import { Tally } from '../../lib/verify/tally.js';
import { type Block, traceOfBlocks, zigzag } from './traces.js';

const bounds = checkRules.parse({});
const BORE = 0.4;
const H = 0.2;
const SECTION = 0.4 * H;

type Stretch = Print['stretches']['hanging'][number];

function judged(
  levels: readonly (readonly Block[])[],
  {
    change = {},
    hanging = [],
  }: { change?: Partial<CheckRules>; hanging?: Partial<Stretch>[] } = {},
): string[] {
  const trace = traceOfBlocks([0, 0, 30], levels.flat());
  const heights = heightsOf(trace, BORE);
  const tally = new Tally();
  const print = { heights, stretches: { hanging } } as unknown as Print;
  judgeLayers(trace, print, BORE, { ...bounds, ...change }, tally);
  return tally.findings().map((f) => `${f.severity} ${f.at!.line} ${f.code}: ${f.message}`);
}

/** Solid layers of 8 beads of 12 mm; `shares` of the right filament. */
const solid = (shares: readonly number[], skip = -1): Block[][] =>
  shares.map((share, k) =>
    zigzag(8, 12, 0.4, H * (k + 1 + (skip >= 0 && k >= skip ? 1 : 0)), share * SECTION),
  );
const ones = (n: number): number[] => new Array<number>(n).fill(1);
/** Line of the first bead of a layer: 16 blocks each. */
const lineOf = (layer: number, each = 16): number => each * layer + 3;

describe('the filament of one layer', () => {
  it.each([
    [0.86, 0],
    [1.14, 0],
    [0.82, 1],
    [1.16, 1],
  ])('%d of what its room takes', (share, count) => {
    const found = judged(solid([...ones(4), share, ...ones(4)]));
    expect(found).toHaveLength(count);
    if (count)
      expect(found[0]).toBe(
        `error ${lineOf(4)} verify/layer-flow: run 1, layer 5 of 9: the level rises by 0.200 mm (usual here: 0.200 mm), the filament makes ${(share * H).toFixed(3)} mm of height: ${share.toFixed(2)} of what the room between the beads takes, the limit is 0.85 to 1.15`,
      );
  });
  it('of a layer with less bead than may be missing is no matter', () => {
    // 96 mm of bead: a fifth off is 19 mm of bead.
    const layers = solid([...ones(4), 0.8, ...ones(4)]);
    expect(judged(layers, { change: { missing: 19 } })).toHaveLength(1);
    expect(judged(layers, { change: { missing: 19.5 } })).toEqual([]);
  });
  it('of the first layer is judged elsewhere, of the second here', () => {
    expect(judged(solid([0.5, ...ones(6)]))).toEqual([]);
    expect(judged(solid([1, 0.5, ...ones(6)]))).toHaveLength(1);
  });
  it('may be more on a layer that grows, up to half of what is new', () => {
    // Half of the layer is new: a quarter more than the 0.15.
    const small = (k: number): Block[] => zigzag(4, 12, 0.4, H * (k + 1), SECTION);
    const large = (k: number, share: number): Block[] =>
      zigzag(8, 12, 0.4, H * (k + 1), share * SECTION);
    const stack = (share: number): Block[][] => [
      ...[0, 1, 2, 3].map(small),
      large(4, share),
      ...[5, 6, 7].map((k) => large(k, 1)),
    ];
    expect(judged(stack(1.38))).toEqual([]);
    expect(judged(stack(1.42))).toHaveLength(1);
    expect(judged(stack(0.83))).toHaveLength(1);
  });
});

describe('the filament of a run', () => {
  it('is told once where half of its layers or more are off, from four on', () => {
    const found = judged(solid([1, 1.3, 1.3, 1.3, 1, 1, 1]));
    expect(found).toEqual([
      `error ${lineOf(0)} verify/run-flow: run 1: in 3 of 6 layers the filament fills 1.30 of the room between the beads (the limit is 0.85 to 1.15)`,
    ]);
    expect(judged(solid([1, 1.3, 1, 1.3, 1, 1, 1])).map((f) => f.split(':')[0])).toEqual([
      `error ${lineOf(1)} verify/layer-flow`,
      `error ${lineOf(3)} verify/layer-flow`,
    ]);
    // Three layers that can be judged are too few.
    expect(judged(solid([1, 1.3, 1.3, 1.3])).map((f) => f.split(' ')[2])).toEqual(
      new Array(3).fill('verify/layer-flow:'),
    );
  });
  it('of another run is its own', () => {
    const second = solid(ones(6)).map((layer) =>
      layer.map((b) => ({ ...b, run: 1, to: [b.to[0], b.to[1], b.to[2] + 5] as const })),
    );
    const found = judged([...solid([1, ...new Array<number>(5).fill(0.5)]), ...second]);
    expect(found).toHaveLength(1);
    expect(found[0]).toContain('run 1: in 5 of 5 layers the filament fills 0.50');
  });
});

it('a level left out: it rises by two, and the filament makes one', () => {
  const found = judged(solid(ones(9), 4));
  expect(found).toEqual([
    `error ${lineOf(4)} verify/level-step: run 1, layer 5 of 9: the level rises by 0.400 mm (usual here: 0.200 mm), the filament makes 0.200 mm of height: 2.0 layers in one step, the limit is 1.15`,
  ]);
});

describe('lone beads', () => {
  const lone = (widths: readonly number[], size = 30): Block[][] =>
    widths.map((w, k) => zigzag(1, size, 1, H * (k + 1), w * H));
  const flat = (at: number, w: number): number[] =>
    Array.from({ length: 9 }, (_, i) => (i === at ? w : 0.4));
  it('are compared with those about them, at twice the limit', () => {
    expect(judged(lone(flat(4, 0.4 * 1.29)))).toEqual([]);
    expect(judged(lone(flat(4, 0.4 * 1.31)))).toHaveLength(1);
    expect(judged(lone(flat(4, 0.4 * 0.71)))).toEqual([]);
    expect(judged(lone(flat(4, 0.4 * 0.69)))).toHaveLength(1);
  });
  it('say nothing where those on both sides differ, or are short', () => {
    const step = [0.4, 0.4, 0.4, 0.4, 0.6, 0.7, 0.7, 0.7, 0.7];
    expect(judged(lone(step))).toEqual([]);
    expect(judged(lone(flat(4, 0.2), 4.9), { change: { missing: 1 } })).toEqual([]);
    expect(judged(lone(flat(4, 0.2), 5.1), { change: { missing: 1 } })).toHaveLength(1);
    // The layers on either side differ in length by more than half.
    const ridge = lone(flat(4, 0.2));
    ridge[5] = zigzag(1, 46, 1, H * 6, 0.4 * H);
    expect(judged(ridge)).toEqual([]);
  });
});

describe('beads that a layer lacks', () => {
  /** A closed square of 10 mm, and fill in it: open beads 2 mm apart. */
  const layer = (k: number, contours: number, fill: number): Block[] => {
    const z = H * (k + 1);
    const squares = Array.from({ length: contours }, (_, i): Block[] => {
      const [a, b] = [-10 - 3 * i, 20 + 3 * i];
      const corners = [
        [b, a],
        [b, b],
        [a, b],
        [a, a],
      ] as const;
      return [
        { to: [a, a, z] },
        ...corners.map(([x, y]): Block => ({ to: [x, y, z], volume: (b - a) * SECTION })),
      ];
    }).flat();
    return [...squares, ...zigzag(fill, 10, 2, z, SECTION)];
  };
  const stack = (contours: readonly number[], fill: readonly number[]): string[] =>
    judged(contours.map((c, k) => layer(k, c, fill[k]!))).filter((f) => f.includes('layer-lacks'));

  it('are contours that two layers under and over it have', () => {
    const [found, ...more] = stack([2, 2, 1, 2, 2], [3, 3, 3, 3, 3]);
    expect(more).toEqual([]);
    // Squares of 30 and 36 mm: 264 mm of which 120 are left.
    expect(found).toContain(
      'run 1, layer 3 of 5: 120.0 mm of closed beads (contours), the two layers under it and over it have 264.0 to 264.0 mm (the limit is 5 mm less)',
    );
    expect(stack([2, 2, 2, 2, 2], [3, 3, 3, 3, 3])).toEqual([]);
    expect(stack([1, 1, 2, 1, 1], [3, 3, 3, 3, 3])).toEqual([]);
  });
  it('are not those of a change to fewer', () => {
    expect(stack([2, 2, 1, 1, 1], [3, 3, 3, 3, 3])).toEqual([]);
    expect(stack([1, 1, 1, 2, 2], [3, 3, 3, 3, 3])).toEqual([]);
  });
  it('are fill where it is half or less', () => {
    expect(stack([1, 1, 1, 1, 1], [4, 4, 2, 4, 4])[0]).toContain(
      '20.0 mm of open beads (fill), the two layers under it and over it have 40.0 to 40.0 mm',
    );
    expect(stack([1, 1, 1, 1, 1], [5, 5, 3, 5, 5])).toEqual([]);
  });
  it('are a quarter or less where the others differ by up to two', () => {
    expect(stack([1, 1, 1, 1, 1], [4, 6, 1, 4, 6])).toHaveLength(1);
    expect(stack([1, 1, 1, 1, 1], [4, 6, 2, 4, 6])).toEqual([]);
    expect(stack([1, 1, 1, 1, 1], [4, 9, 1, 4, 9])).toEqual([]);
  });
  it('are not those of the first two and last two layers', () => {
    expect(stack([2, 1, 2, 2, 2], [3, 3, 3, 3, 3])).toEqual([]);
    expect(stack([2, 2, 2, 1, 2], [3, 3, 3, 3, 3])).toEqual([]);
  });
});

describe('beads on beads', () => {
  it('of one layer are told from a length on', () => {
    const again = (size: number): Block[][] => {
      const layers = solid(ones(6));
      const z = 3 * H;
      layers[2]!.push({ to: [0, 0, z] }, { to: [size, 0, z], volume: size * SECTION });
      return layers;
    };
    const twice = (size: number): string[] =>
      judged(again(size)).filter((f) => f.includes('laid-twice'));
    expect(twice(4)).toEqual([]);
    expect(twice(9)).toEqual([
      `error ${lineOf(3)} verify/laid-twice: run 1, layer 3 of 6: 9.0 mm of bead are laid where a bead of this layer lies already (the limit is 5 mm)`,
    ]);
  });
});

describe('a bead that no nozzle spreads', () => {
  const wide = (width: number, size = 10): string[] => {
    const layers = solid(ones(3));
    layers[1]!.push({ to: [0, -9, 2 * H] }, { to: [size, -9, 2 * H], volume: size * width * H });
    return judged(layers).filter((f) => f.includes('bead-wide'));
  };
  it('is wider than four bores', () => {
    expect(wide(1.59)).toEqual([]);
    expect(wide(1.61)).toHaveLength(1);
    expect(wide(1.61)[0]).toContain(
      'the filament of this block makes a bead 1.61 mm wide at a height of 0.200 mm (the limit is 4 bores, 1.60 mm)',
    );
  });
  it('or as much on a bore, where it is shorter', () => {
    expect(wide(3.1, 0.2)).toEqual([]);
    expect(wide(3.3, 0.2)).toHaveLength(1);
  });
});

describe('a layer that hangs', () => {
  const at = (hanging: Partial<Stretch>[]): string[] => judged(solid(ones(4)), { hanging });
  it('with half of its bead and more than ten millimetres', () => {
    // Each layer has 96 mm.
    expect(at([{ block: lineOf(2) - 1, length: 47 }])).toEqual([]);
    expect(
      at([
        { block: lineOf(2) + 3, length: 30 },
        { block: lineOf(2) - 1, length: 20 },
      ]),
    ).toEqual([
      `error ${lineOf(2)} verify/layer-in-air: run 1, the layer that begins here: 50.0 of its 96.0 mm of bead hang in the air (the limit is 10 mm where half of it or more hangs)`,
    ]);
    expect(
      at([
        { block: lineOf(1) - 1, length: 30 },
        { block: lineOf(2) - 1, length: 30 },
      ]),
    ).toEqual([]);
    const short = (length: number): string[] =>
      judged(
        solid(ones(4)).map((l) => l.slice(0, 2)),
        { hanging: [{ block: 4, length }] },
      ).filter((f) => f.includes('layer-in-air'));
    expect(short(10)).toEqual([]);
    expect(short(10.1)).toHaveLength(1);
  });
});
