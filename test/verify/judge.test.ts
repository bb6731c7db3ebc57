/**
 * Findings and figures from a print that is written down by hand: shares that hang, touches, first beads
 * over their base, runs laid astray. Each limit is met from both sides.
 */
import { describe, expect, it } from 'vitest';
import type { Finding } from '../../lib/base/fault.js';
import type { Vec3 } from '../../lib/base/vector.js';
import { treeOf } from '../../lib/mesh/bvh.js';
import { reportAstray } from '../../lib/verify/astray.js';
import { cellCorner, CELL_CUBES } from '../../lib/verify/deposit.js';
import type { Start } from '../../lib/verify/first-bead.js';
import { Grid } from '../../lib/verify/grid.js';
import { Grids } from '../../lib/verify/grids.js';
import { judgePrint } from '../../lib/verify/judge.js';
import { judgeStarts } from '../../lib/verify/judge-starts.js';
import type { LayerLook } from '../../lib/verify/layer-look.js';
import { heightsOf } from '../../lib/verify/layers.js';
import type { Outside } from '../../lib/verify/outside.js';
import type { Print } from '../../lib/verify/print.js';
import { checkRules } from '../../lib/verify/rules.js';
import { Tally } from '../../lib/verify/tally.js';
import { TraceKind } from '../../lib/verify/trace.js';
import { prologueEnd } from '../../lib/verify/prologue.js';
import { cuboid } from '../support/shapes.js';
import { traceOfBlocks, zigzag } from './traces.js';

const bounds = checkRules.parse({});
const blocks = [...zigzag(4, 10, 0.4, 0.2, 0.08), ...zigzag(4, 10, 0.4, 5, 0.08, 1)];
const trace = traceOfBlocks([0, 0, 9], blocks);
const heights = heightsOf(trace, 0.4);
const grids = Grids.of(Grid.between(0.1, [0, 0, 0], [10, 10, 10]));

type Hanging = Print['stretches']['hanging'][number];
const hang = (block: number, length: number, overFill = false): Hanging => ({
  block,
  length,
  area: 0.4 * length,
  overFill,
});

function print(change: Partial<Print> & { hanging?: Hanging[] } = {}): Print {
  const { hanging = [], ...rest } = change;
  const inAir = hanging.reduce((sum, h) => sum + h.length, 0);
  return {
    grids,
    heights,
    widest: 4,
    starts: [],
    stretches: { hanging, inAir, bridged: 7 },
    cells: [],
    length: 1000,
    metered: 80,
    filled: 70,
    touches: [],
    meetings: [],
    ...rest,
  } as unknown as Print;
}

describe('what hangs', () => {
  const part = treeOf(cuboid([1, 1, 1]));
  const said = (hanging: Hanging[], known = true, length = 1000) => {
    const tally = new Tally();
    const figures = judgePrint(trace, print({ hanging, length }), known ? part : undefined, tally);
    return { figures, findings: tally.findings() };
  };
  const share = (findings: readonly Finding[]): string[] =>
    findings.filter((f) => f.code === 'verify/in-air-share').map((f) => f.message);

  it('is a note up to a millimetre, else a warning by run', () => {
    const { findings } = said([hang(2, 1), hang(4, 1.01), hang(12, 2)], true, 1e6);
    expect(findings).toEqual([
      {
        code: 'verify/in-air-short',
        severity: 'note',
        message:
          '1.00 mm of bead hang in the air: nothing within three quarters of a layer under them, and no bridge',
        at: expect.objectContaining({ line: 3 }),
      },
      {
        code: 'verify/in-air',
        severity: 'warning',
        message:
          '1 place in run 1, 1.0 mm in all; 1 place in run 2, 2.0 mm in all; the worst: 2.00 mm of bead hang in the air: nothing within three quarters of a layer under them, and no bridge',
        at: expect.objectContaining({ line: 13 }),
      },
    ]);
  });

  it('in the open may be a thousandth, between fill five', () => {
    expect(share(said([hang(2, 1)]).findings)).toEqual([]);
    expect(share(said([hang(2, 0.4), hang(4, 0.61)]).findings)).toEqual([
      '1.0 mm of 1000 mm of bead hang in the air (0.10%, the limit is 0.1%); the longest stretch has 0.6 mm',
    ]);
    expect(share(said([hang(2, 5, true)]).findings)).toEqual([]);
    const { findings } = said([hang(2, 3.1, true), hang(4, 2, true)]);
    expect(share(findings)).toEqual([
      '5.1 mm of 1000 mm of bead hang in the air between beads of fill (0.51%, the limit is 0.5%); the longest stretch has 3.1 mm',
    ]);
    const finding = findings.find((f) => f.code === 'verify/in-air-share')!;
    expect(finding).toMatchObject({ severity: 'error', at: { line: 3 } });
    // Where no part is known all of it counts as open.
    expect(share(said([hang(2, 1.1, true)], false).findings)).toHaveLength(1);
  });

  it('stands in the figures', () => {
    const { figures } = said([hang(2, 1), hang(4, 2)]);
    expect(figures).toEqual({
      edgeMm: 0.1,
      heightMm: heights.usual,
      widthMm: heights.width,
      layers: 2,
      lengthMm: 1000,
      inAirMm: 3,
      inAirShare: 0.003,
      bridgedMm: 7,
      meteredMm3: 80,
      filledMm3: 70,
      overfullMm3: 0,
      touches: 0,
    });
    expect(said([hang(2, 1)], true, 0).figures.inAirShare).toBe(0);
    expect(share(said([hang(2, 1)], true, 0).findings)).toEqual([]);
  });
});

it('touches are told with their depth and place', () => {
  const tally = new Tally();
  const figures = judgePrint(
    trace,
    print({
      touches: [{ block: 2, depth: 0.5, point: [1.23456, 2, 3], above: 4, what: 'the table' }],
      meetings: [
        { block: 4, words: 'a touches b', at: 0.5 },
        { block: 6, words: 'a touches what is printed', at: 0.5, point: [7, 8, 9] },
      ],
    }),
    undefined,
    tally,
  );
  expect(figures.touches).toBe(3);
  const findings = tally.findings();
  expect(findings.map((f) => [f.code, f.severity, f.message, f.at!.line, f.at!.point])).toEqual([
    [
      'verify/touch',
      'error',
      'the head is in the table: 0.50 mm deep, 4.0 mm above the tip',
      3,
      [1.235, 2, 3],
    ],
    ['verify/touch', 'error', 'a touches b', 5, [10, 0.4, 0.2].map((v, c) => (c ? v : 0))],
    ['verify/touch', 'error', 'a touches what is printed', 7, [7, 8, 9]],
  ]);
});

describe('a cell that gets more than it holds', () => {
  // A cell of 16 cubes of 0.1 mm is 4.096 mm3.
  const edge = 0.1;
  const whole = (CELL_CUBES * edge) ** 3;
  const key = (2 * 2048 + 1) * 2048 + 3;
  it('lies where its key says', () => {
    expect(cellCorner(key)).toEqual([32, 16, 48]);
  });
  const over = (metered: number, filled: number, part?: Vec3): [number, Finding[]] => {
    const tally = new Tally();
    const own = Grid.between(edge, [0, 0, 0], [10, 10, 10]);
    // The lower half of the cell is set.
    for (let x = 32; x < 48; x++) for (let y = 16; y < 32; y++) own.setColumn(x, y, 48, 55, 0);
    const cells = new Map([[key, { metered, filled, block: 4 }]]);
    const corner = cellCorner(key).map((k, c) => own.origin[c]! + k * edge);
    const size = part ?? [0, 0, 0];
    const tree = part && treeOf(cuboid(size, [corner[0]! + 0.8, corner[1]! + 0.8, corner[2]! - 1]));
    const { overfullMm3 } = judgePrint(
      trace,
      print({ grids: Grids.of(own), cells: [cells] }),
      tree,
      tally,
    );
    return [overfullMm3, tally.findings()];
  };
  it('by a quarter, from half a cubic millimetre on', () => {
    expect(over(1.249, 1)).toEqual([0, []]);
    expect(over(0.49, 0.1)).toEqual([0, []]);
    expect(over(0.51, 0.1)[0]).toBeCloseTo(0.41, 9);
    const [sum, [finding]] = over(1.26, 1);
    expect(sum).toBeCloseTo(0.26, 9);
    expect(finding).toMatchObject({
      code: 'verify/overfull',
      severity: 'note',
      message: '1.26 mm3 are metered where there is room for 1.00 mm3',
      at: { line: 5 },
    });
  });
  it('has the room that is free in the part', () => {
    // The part holds all of the cell: the upper half of it is free.
    const all: Vec3 = [4, 4, 6];
    expect(over(1.2 * (1 + whole / 2), 1, all)).toEqual([0, []]);
    expect(over(1.3 * (1 + whole / 2), 1, all)[0]).toBeCloseTo(0.3 * (1 + whole / 2), 6);
    // Up to three quarters of its height: a quarter is free.
    const three: Vec3 = [4, 4, 1 + 1.2];
    expect(over(1.3 * (1 + whole / 4), 1, three)[0]).toBeCloseTo(0.3 * (1 + whole / 4), 6);
    // Half as wide: half of that.
    const narrow: Vec3 = [0.8, 4, 6];
    expect(over(1.3 * (1 + whole / 4), 1, narrow)[0]).toBeCloseTo(0.3 * (1 + whole / 4), 6);
    const away: Vec3 = [4, 4, 0.5];
    expect(over(1.3, 1, away)[0]).toBeCloseTo(0.3, 9);
  });
});

describe('first beads', () => {
  const look = { pairs: 8, middle: 1, width: 0.4, height: 0.2, layer: heights.layers[1]! };
  const start = {
    layer: 0,
    marks: 480,
    found: 480,
    onTable: 480,
    under: 0.2,
    hollow: 0,
    slant: 0,
  };
  const said = (change: Partial<Start>, of: Partial<LayerLook> = {}): string[] => {
    const tally = new Tally();
    const looks = [{ ...look, ...of } as LayerLook];
    judgeStarts(trace, print({ starts: [{ ...start, ...change }] }), looks, bounds, tally);
    for (const f of tally.findings())
      expect(f).toMatchObject({ severity: 'error', at: { line: 11 } });
    return tally.findings().map((f) => `${f.code}: ${f.message}`);
  };

  it('on the table lie a tenth of a millimetre off at most', () => {
    for (const under of [0.2, 0.299, 0.101]) expect(said({ under })).toEqual([]);
    expect(said({ under: 0.302 })).toEqual([
      'verify/first-on-table: first layer on the table: the tip is 0.302 mm over the table, the filament makes a bead 0.200 mm high: 0.102 mm of air are under it, it cannot hold (the limit is 0.1 mm)',
    ]);
    expect(said({ under: 0.09 })).toEqual([
      'verify/first-on-table: first layer on the table: the tip is 0.090 mm over the table, the filament makes a bead 0.200 mm high: 0.110 mm too much for its room, the nozzle is too low (the limit is 0.1 mm)',
    ]);
    // Half full they are half as high; with few pairs the width says how high.
    expect(said({ under: 0.21 }, { middle: 0.5 })).toHaveLength(1);
    expect(said({ under: 0.21 }, { middle: 0.5, pairs: 7 })).toEqual([]);
    expect(said({ under: 0.21 }, { width: 0.2, pairs: 7 })).toHaveLength(1);
  });
  it('on the table are no slant', () => {
    expect(said({ slant: 0.1 })).toEqual([]);
    expect(said({ slant: 0.11 })).toEqual([
      'verify/first-on-table: first layer on the table: one side of it is 0.110 mm higher over the table than the other (the limit is 0.1 mm)',
    ]);
  });
  it('with few marks, or on an island, say nothing', () => {
    expect(said({ under: 1, marks: 47, found: 47, onTable: 47 })).toEqual([]);
    expect(said({ under: 1, marks: 48, found: 48, onTable: 48 })).toHaveLength(1);
    expect(said({ under: 1, found: 239, onTable: 239 })).toEqual([]);
    expect(said({ under: 1, found: 240, onTable: 240 })).toHaveLength(1);
  });

  const base = { onTable: 240 };
  it('on what is printed lie 0.15 mm off at most', () => {
    for (const under of [0.349, 0.051]) expect(said({ ...base, under })).toEqual([]);
    expect(said({ ...base, under: 0.351 })).toEqual([
      'verify/first-on-base: first beads of run 2 on what is printed: 0.151 mm of air are under them (the limit is 0.15 mm)',
    ]);
    expect(said({ ...base, under: 0.049 })).toEqual([
      'verify/first-on-base: first beads of run 2 on what is printed: they lie 0.151 mm in what is there (the limit is 0.15 mm)',
    ]);
    expect(said({ onTable: 241, under: 0.31 })[0]).toContain('on the table');
  });
  it('on a stair may be nearer on one side, the less the more marks there are', () => {
    // One layer for 300 marks, half of one for 1,200; a limit of 0.15 mm for more.
    const at = (found: number, slant: number): string[] =>
      said({ marks: found, found, onTable: 0, slant });
    expect(at(300, 0.199)).toEqual([]);
    expect(at(300, 0.201)).toEqual([
      'verify/first-on-base: first beads of run 2 on what is printed: they are 0.201 mm nearer to it on one side than on the other (the limit is 0.20 mm)',
    ]);
    expect(at(75, 0.399)).toEqual([]);
    expect(at(75, 0.401)).toHaveLength(1);
    expect(at(5000, 0.149)).toEqual([]);
    expect(at(5000, 0.151)).toHaveLength(1);
    const [both] = said({ ...base, under: 0.4, slant: 1 });
    expect(both).toMatch(/0\.200 mm of air .*, and they are 1\.000 mm nearer/);
  });
  it('over hollows are told where those are longer than a tenth and five millimetres', () => {
    const long = { layer: { ...look.layer, length: 40 } };
    expect(said({ ...base, hollow: 5 }, long)).toEqual([]);
    expect(said({ ...base, hollow: 5.1 }, long)).toEqual([
      'verify/base-hollow: first beads of run 2 on what is printed: 5.1 of their 40.0 mm have nothing within a layer under them (the limit is 5 mm where that is more than 10%)',
    ]);
    expect(said({ ...base, hollow: 5.1 }, { layer: { ...look.layer, length: 60 } })).toEqual([]);
  });
});

describe('a run laid astray', () => {
  const said = (hanging: Hanging[], places: { block: number; volume: number }[] = []): string[] => {
    const tally = new Tally();
    const outside = { places, onTable: 0, elsewhere: 0 } as unknown as Outside;
    reportAstray(trace, print({ hanging }), outside, tally);
    return tally.findings().map((f) => `${f.at!.line} ${f.code}: ${f.message}`);
  };
  it('hangs with more than half of its first layers', () => {
    // Run 2 begins at block 10 and has 40 mm in one layer; the head has come into its direction at once.
    expect(said([hang(10, 20)])).toEqual([]);
    expect(said([hang(10, 12), hang(14, 9)])).toEqual([
      '1 verify/base-in-air: 53% of the first 40 mm laid in the direction 0.00 0.00 1.00, into which the head comes here, hang in the air',
    ]);
  });
  it('has more than a fiftieth of its material outside the part', () => {
    // 40 mm of 0.08 mm2 are 3.2 mm3.
    expect(said([], [{ block: 12, volume: 0.063 }])).toEqual([]);
    expect(
      said(
        [],
        [
          { block: 12, volume: 0.05 },
          { block: 14, volume: 0.05 },
        ],
      ),
    ).toEqual([
      '1 verify/run-outside: 3% of the material laid in the direction 0.00 0.00 1.00, into which the head comes here, lie outside the part',
    ]);
  });
  it('is told at the block that turns the head, for its first twenty millimetres', () => {
    const d: Vec3 = [0, 0.6, 0.8];
    const level = (k: number, size: number) => {
      const at = (x: number): Vec3 => [x, 0.6 * 0.2 * k, 5 + 0.8 * 0.2 * k];
      return [
        { to: at(0), run: 1, direction: d },
        { to: at(size), run: 1, direction: d, volume: size * 0.08 },
      ];
    };
    const turned = traceOfBlocks(
      [0, 0, 9],
      [
        ...zigzag(2, 10, 0.4, 0.2, 0.08),
        { to: [0, 0, 30], kind: TraceKind.transfer },
        { to: [0, 0, 30], kind: TraceKind.transfer, direction: d },
        { to: [0, 0, 20], kind: TraceKind.transfer },
        ...level(0, 12),
        ...level(1, 12),
        ...level(2, 100),
      ],
    );
    const of = heightsOf(turned, 0.4);
    const tally = new Tally();
    const hanging = [hang(9, 6.5), hang(11, 6), hang(13, 90)];
    reportAstray(turned, print({ hanging, heights: of }), undefined, tally);
    const [finding, ...more] = tally.findings();
    expect(more).toEqual([]);
    // Two layers of 12 mm are more than 20; the third does not count.
    expect(finding!.message).toMatch(
      /^52% of the first 24 mm laid in the direction 0\.00 0\.60 0\.80,/,
    );
    expect(finding!.at!.line).toBe(7);
  });
});

describe('the start text in a program', () => {
  const starts = ['G28', 'M101 P'].map((head) => ({ test: (s: string) => s.startsWith(head) }));
  it('ends at the last of its lines, comments and eight others between', () => {
    expect(prologueEnd('G28\nM101 P210\nG1 X1', starts)).toBe(2);
    expect(prologueEnd('(a comment)\n\nG28\n  M101 P210 \r\nG1', starts)).toBe(4);
    expect(prologueEnd('G1\nG2', starts)).toBe(0);
    expect(prologueEnd('', starts)).toBe(0);
    expect(prologueEnd('G28', starts)).toBe(1);
    expect(prologueEnd([], starts)).toBe(0);
    expect(prologueEnd(['G28\nG1', 'M101 P5'], starts)).toBe(1);
    const others = (n: number): string => 'G28\n' + 'G1\n'.repeat(n) + 'M101 P1';
    expect(prologueEnd(others(8), starts)).toBe(10);
    expect(prologueEnd(others(9), starts)).toBe(1);
    const comments = `G28\n${'(c)\n'.repeat(30)}M101 P1`;
    expect(prologueEnd(comments, starts)).toBe(32);
    expect(prologueEnd(comments.replaceAll('(c)', '(c) G1'), starts)).toBe(1);
  });
});
