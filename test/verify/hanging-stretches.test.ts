/**
 * Which stretches of beads hang, from pieces that are drawn by hand: bridges up to their span, gaps of fill,
 * loose ends, loops, and strips that hang over. Lengths and areas are those drawn.
 */
import { describe, expect, it } from 'vitest';
import type { Vec3 } from '../../lib/base/vector.js';
import { type LaidPiece, Stretches } from '../../lib/verify/hanging-stretches.js';
import { traceOfBlocks } from './traces.js';

const WIDTH = 0.5;
const SPAN = 4;

interface Chain {
  /** A letter per piece of 1 mm: `#` is carried, `.` hangs over air in its whole width, `,` over fill. */
  readonly pieces: string;
  readonly starts?: boolean;
  readonly ends?: boolean;
  /** Places of the pieces; left out: along X. */
  readonly at?: (i: number) => Vec3;
  readonly change?: (piece: LaidPiece, i: number) => LaidPiece;
}

interface Known {
  readonly inside?: (p: Vec3) => boolean;
  readonly span?: number;
}

/** Lays chains, a block per piece, and says what hangs. Blocks count from 1. */
function laid(chains: readonly Chain[], { inside, span = SPAN }: Known = {}) {
  const hung: LaidPiece[] = [];
  const places = chains.flatMap(({ pieces, at = (i): Vec3 => [i, 0, 0] }) =>
    [...pieces].map((_, i) => at(i)),
  );
  const { at = (i): Vec3 => [i, 0, 0] } = chains[0]!;
  const trace = traceOfBlocks(
    at(-1),
    places.map((to) => ({ to, volume: 0.1 })),
  );
  const stretches = new Stretches(trace, inside, span, (piece) => hung.push(piece));
  let block = 0;
  for (const {
    pieces,
    starts = true,
    ends = true,
    change = (p: LaidPiece): LaidPiece => p,
  } of chains) {
    expect(stretches.inChain).toBe(false);
    stretches.begin(starts);
    [...pieces].forEach((letter, i) => {
      block++;
      const below = places[block - 1]!;
      const air = letter === '.' ? WIDTH : 0;
      const piece = { block, index: 0, below, length: 1, width: WIDTH, air, beside: false };
      stretches.reaches(i === pieces.length - 1 ? ends : false);
      stretches.piece(change(piece, i), letter === '#');
    });
    expect(stretches.inChain).toBe(true);
    stretches.end();
  }
  const hanging = stretches.hanging.map(({ block: b, length }) => [b, length]);
  return { hanging, stretches, hung: hung.map((p) => p.block) };
}

it('a chain may begin with the very first block', () => {
  const trace = traceOfBlocks([0, 0, 0], [{ to: [1, 0, 0], volume: 0.1 }]);
  const stretches = new Stretches(trace, undefined, SPAN, () => {});
  stretches.begin(false);
  stretches.piece(
    { block: 0, index: 0, below: [0, 0, 0], length: 1, width: WIDTH, air: WIDTH, beside: false },
    false,
  );
  expect(stretches.inChain).toBe(true);
  stretches.end();
  expect(stretches.inChain).toBe(false);
  expect(stretches.inAir).toBeCloseTo(1, 9);
});

describe('in the open', () => {
  it.each([
    ['a bridge as long as the span and a width', '#....#', SPAN, []],
    ['a bridge that is longer', '##.....#', SPAN, [[3, 5]]],
    ['a bridge without a span', '#.#', 0, [[2, 1]]],
    ['two bridges', '#....#....#', SPAN, []],
    ['a loose end', '##..', SPAN, []],
  ])('%s', (_, pieces, span, want) => {
    const { hanging, stretches, hung } = laid([{ pieces }], { span });
    expect(hanging).toEqual(want);
    const sum = want.reduce((all, w) => all + w[1]!, 0);
    expect(stretches.inAir).toBeCloseTo(sum, 9);
    expect(hung).toHaveLength(sum);
    expect(stretches.bridged).toBeCloseTo([...pieces].filter((c) => c === '.').length - sum, 9);
  });

  it('an end that nothing holds, and a beginning', () => {
    expect(laid([{ pieces: '##..', ends: false }]).hanging).toEqual([[3, 2]]);
    expect(laid([{ pieces: '..##', starts: false }]).hanging).toEqual([[1, 2]]);
    expect(laid([{ pieces: '..##', starts: true }]).hanging).toEqual([]);
  });

  it('a chain that is carried nowhere, held at its ends or not', () => {
    expect(laid([{ pieces: '...', starts: false, ends: false }]).hanging).toEqual([[1, 3]]);
    expect(laid([{ pieces: '...', starts: false, ends: true }]).hanging).toEqual([[1, 3]]);
    expect(laid([{ pieces: '...', starts: true, ends: false }]).hanging).toEqual([[1, 3]]);
    expect(laid([{ pieces: '...', starts: true, ends: true }]).hanging).toEqual([]);
  });

  it('what one chain was says nothing of the next', () => {
    const free = { pieces: '..', starts: false, ends: false };
    expect(laid([{ pieces: '##' }, free]).hanging).toEqual([[3, 2]]);
    expect(laid([{ pieces: '.#', starts: false }, { pieces: '#' }]).hanging).toEqual([[1, 1]]);
    expect(laid([{ pieces: '.....', starts: false }, { pieces: '.#' }]).hanging).toEqual([[1, 5]]);
  });

  it('a bridge that bends by more than half its width', () => {
    const bent =
      (by: number) =>
      (i: number): Vec3 => [i, i === 3 ? by : 0, 0];
    expect(laid([{ pieces: '#....#', at: bent(0.24) }]).hanging).toEqual([]);
    expect(laid([{ pieces: '#....#', at: bent(0.26) }]).hanging).toEqual([[2, 4]]);
  });

  it('counts by area, where a piece hangs in part of its width', () => {
    const change = (p: LaidPiece, i: number): LaidPiece => (i === 3 ? { ...p, air: 0.2 } : p);
    const { hanging, stretches } = laid([{ pieces: '#......#', change }]);
    // Five pieces of 0.5 mm2 and one of 0.2.
    expect(hanging).toEqual([[2, (5 * 0.5 + 0.2) / WIDTH]]);
    expect(stretches.hanging[0]!.area).toBeCloseTo(2.7, 9);
    expect(stretches.bridged).toBeCloseTo(0.6, 9);
  });
});

describe('strips of carried pieces that hang over', () => {
  const change = (p: LaidPiece, i: number): LaidPiece => ({ ...p, air: [0, 0.1, 0.2, 0, 0.3][i]! });
  it('are told one by one, with their first block', () => {
    const { stretches } = laid([{ pieces: '#####', change }]);
    expect(stretches.hanging.map((h) => [h.block, h.area, h.overFill])).toEqual([
      [2, expect.closeTo(0.3, 9), false],
      [5, 0.3, false],
    ]);
    expect(stretches.inAir).toBeCloseTo(0.6 / WIDTH, 9);
  });
  it('end where the bead is carried no more', () => {
    const { stretches } = laid([{ pieces: '##.##', change, at: (i) => [i, 0, 0] }], { span: 9 });
    expect(stretches.hanging.map((h) => [h.block, h.area])).toEqual([
      [2, 0.1],
      [5, 0.3],
    ]);
  });
});

describe('over the inside of the part', () => {
  const inside = (): boolean => true;
  it.each([
    ['up to ten and a half millimetres, straight and held at both ends', 10, []],
    ['longer', 11, [[2, 11]]],
  ])('%s', (_, count, want) => {
    const pieces = `#${','.repeat(count)}#`;
    const { hanging, stretches } = laid([{ pieces }], { inside, span: 0 });
    expect(hanging).toEqual(want);
    if (want.length) expect(stretches.hanging[0]!.overFill).toBe(true);
  });
  it('up to a longer span, if the machine bridges that', () => {
    const pieces = `#${','.repeat(12)}#`;
    expect(laid([{ pieces }], { inside, span: 12 }).hanging).toEqual([]);
    expect(laid([{ pieces }], { inside, span: 11 }).hanging).toEqual([[2, 12]]);
  });
  it('hangs where it turns, or where an end is loose, if longer than it is wide', () => {
    const bent = (i: number): Vec3 => [i, i === 2 ? 0.3 : 0, 0];
    expect(laid([{ pieces: '#,,,#', at: bent }], { inside, span: 0 }).hanging).toEqual([[2, 3]]);
    expect(laid([{ pieces: '#,,', ends: false }], { inside, span: 0 }).hanging).toEqual([[2, 2]]);
    const short = (p: LaidPiece, i: number): LaidPiece => (i ? { ...p, length: 0.5 } : p);
    expect(laid([{ pieces: '#,', ends: false, change: short }], { inside }).hanging).toEqual([]);
    const longer = (p: LaidPiece, i: number): LaidPiece => (i ? { ...p, length: 0.51 } : p);
    const left = laid([{ pieces: '#,', ends: false, change: longer }], { inside }).hanging;
    expect(left).toEqual([[2, expect.closeTo(0.51, 9)]]);
  });
  it('over the gaps of a layer below at most, where the stretch is not inside all along', () => {
    const half = (p: Vec3): boolean => p[0] < 2.5;
    // Two widths and one more are 1.5 mm.
    expect(laid([{ pieces: '#,#' }], { inside: half, span: 0 }).hanging).toEqual([]);
    // Three of four pieces are inside by x: blocks 2 and 3 at x = 1, 2.
    expect(laid([{ pieces: '#,,,#' }], { inside: half, span: 0 }).hanging).toEqual([[2, 2]]);
  });
  it('where no part is known, as the gaps of fill are taken but no span', () => {
    expect(laid([{ pieces: '#,,,,#' }], { span: 4 }).hanging).toEqual([]);
    expect(laid([{ pieces: '#,,,,,#' }], { span: 4 }).hanging).toEqual([[2, 5]]);
  });
  it('is held by carried beads beside it, for ten millimetres', () => {
    const beside =
      (from: number, to: number) =>
      (p: LaidPiece, i: number): LaidPiece => ({
        ...p,
        beside: i >= from && i <= to,
      });
    // A loose end that lies against a carried bead holds; eleven millimetres of it do not.
    const loose = (n: number, change: Chain['change']): unknown =>
      laid([{ pieces: `#${','.repeat(n)}`, ends: false, ...(change ? { change } : {}) }], {
        inside,
        span: 0,
      }).hanging;
    expect(loose(10, beside(1, 10))).toEqual([]);
    expect(loose(11, beside(1, 11))).toEqual([[2, 11]]);
    // What is left after it is held at one end: two millimetres that hang.
    expect(loose(6, beside(1, 4))).toEqual([[2, 2]]);
    // Between two of them it is a gap of four millimetres, held at both ends.
    expect(loose(10, (p, i) => ({ ...p, beside: i < 4 || i > 7 }))).toEqual([]);
    // Each stretch counts by itself: six, four and four millimetres, though all of them are fourteen.
    expect(loose(14, (p, i) => ({ ...p, beside: i < 7 || i > 10 }))).toEqual([]);
  });
});

describe('a loop that ends where it began', () => {
  const round =
    (count: number) =>
    (i: number): Vec3 => [
      3 * Math.cos((2 * Math.PI * i) / count),
      3 * Math.sin((2 * Math.PI * i) / count),
      0,
    ];
  it('joins its ends to one stretch: what hangs is bent, and told once', () => {
    const { hanging } = laid([{ pieces: ',,####,,', starts: false, ends: false, at: round(8) }]);
    expect(hanging).toEqual([[7, 4]]);
  });
  it('open by more than its width it has two ends that hang', () => {
    const at = (i: number): Vec3 => [i, 0, 0];
    const { hanging } = laid([{ pieces: ',,####,,', starts: false, ends: false, at }]);
    expect(hanging).toEqual([
      [7, 2],
      [1, 2],
    ]);
  });
});
