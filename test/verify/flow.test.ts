/**
 * Flows against a range, block by block. A written feed has six digits and filament five decimals here, so a
 * flow is known to a thousandth and to one decimal over the block's time; lows of a fifth of a second are
 * none. Stretches are found once more by splitting the list of blocks.
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { judgeFlow } from '../../lib/verify/flow.js';
import { Tally } from '../../lib/verify/tally.js';
import { TraceKind } from '../../lib/verify/trace.js';
import { acJson, machineOf } from '../machine/machines.js';
import { traceOfBlocks } from './traces.js';

const machine = machineOf(acJson());
const AREA = (Math.PI / 4) * 1.75 ** 2;
/** One last decimal of filament, mm3. */
const DECIMAL = 10 ** -machine.dialect.decimals.filament * AREA;
const RANGE = { least: 2, most: 10 };

interface Piece {
  readonly kind?: TraceKind;
  readonly flow: number;
  readonly seconds: number;
  readonly run?: number;
}

/** What is said of pieces after a first block that stands; lines are those of the pieces, from 2 on. */
function judged(pieces: readonly Piece[], range?: typeof RANGE) {
  const trace = traceOfBlocks(
    [0, 0, 1],
    pieces.map((p, i) => ({ to: [i + 1, 0, 1], volume: 1, ...p })),
  );
  const tally = new Tally();
  const seconds = Float64Array.from([1, ...pieces.map((p) => p.seconds)]);
  const figures = judgeFlow(trace, seconds, machine, tally, range);
  return { figures, findings: tally.findings(), counts: tally.counts() };
}

describe('a single block', () => {
  const edge = DECIMAL / 0.5;
  it.each([
    ['at the limit', 10, 0],
    ['over it by less than rounding', 10 * 1.001 + edge - 1e-6, 0],
    ['over it by more', 10 * 1.001 + edge + 1e-6, 1],
  ])('%s', (_, flow, count) => {
    const { counts, findings } = judged([{ flow, seconds: 0.5 }], RANGE);
    expect(counts['verify/flow-high'] ?? 0).toBe(count);
    expect(counts['verify/flow-low']).toBeUndefined();
    if (count)
      expect(findings[0]).toMatchObject({
        severity: 'error',
        at: { line: 2 },
        message: `${flow.toFixed(3)} mm3/s, the range is 2 to 10 mm3/s`,
      });
  });

  it.each([
    ['at the least', 2, 0.5, 0],
    ['under it by less than rounding', 2 * 0.999 - edge + 1e-6, 0.5, 0],
    ['under it by more', 2 * 0.999 - edge - 1e-6, 0.5, 1],
    ['far under it, for a fifth of a second', 0.5, 0.2, 0],
    ['far under it, for a little longer', 0.5, 0.21, 1],
  ])('%s', (_, flow, seconds, count) => {
    const { counts, findings } = judged([{ flow, seconds }], RANGE);
    expect(counts['verify/flow-low'] ?? 0).toBe(count);
    if (count) expect(findings[0]!.severity).toBe('warning');
  });

  it('is no finding where nobody states a range', () => {
    expect(
      judged([
        { flow: 1e-3, seconds: 9 },
        { flow: 1e4, seconds: 9 },
      ]).findings,
    ).toEqual([]);
  });
});

describe('the least and the most', () => {
  it('are those of blocks that lay, and last', () => {
    const { figures } = judged([
      { flow: 4, seconds: 1 },
      { flow: 99, seconds: 1, kind: TraceKind.link },
      { flow: 0.1, seconds: 0 },
      { flow: 7, seconds: 1 },
    ]);
    expect(figures).toEqual({ least: 4, most: 7 });
  });
  it('are left out where nothing is laid', () => {
    expect(judged([{ flow: 5, seconds: 1, kind: TraceKind.wait }]).figures).toBeUndefined();
    expect(judged([{ flow: 0, seconds: 1 }]).figures).toBeUndefined();
  });
});

it.each([1, 2, 3])('blocks in any order, seed %d', (seed) => {
  const random = seeded(seed);
  const pieces = Array.from({ length: 400 }, (_, i): Piece => ({
    kind: random() < 0.15 ? TraceKind.link : TraceKind.deposit,
    flow: [0.5, 1.5, 2.5, 6, 11, 14][Math.floor(6 * random())]! + 0.3 * random(),
    seconds: random() < 0.1 ? 0 : 0.15 * random(),
    run: Math.floor(i / 100),
  }));
  const { counts, findings } = judged(pieces, RANGE);
  const lays = ({ kind, seconds }: Piece): boolean => kind === TraceKind.deposit && seconds > 0;
  expect(counts['verify/flow-high']).toBe(pieces.filter((p) => lays(p) && p.flow > 10.5).length);
  // A letter per block, so that a stretch is a word of l; blocks that take no time are left out.
  const numbers = pieces.flatMap((p, i) => (p.kind !== TraceKind.deposit || lays(p) ? [i] : []));
  const word = numbers
    .map((i) => (lays(pieces[i]!) && pieces[i]!.flow < 1.95 ? 'l' : '-'))
    .join('');
  const lows = [...word.matchAll(/l+/g)]
    .map(({ 0: { length }, index }) => numbers.slice(index, index + length))
    .filter((stretch) => stretch.reduce((sum, i) => sum + pieces[i]!.seconds, 0) > 0.2);
  expect(lows.length).toBeGreaterThan(3);
  expect(counts['verify/flow-low']).toBe(lows.length);
  const least = Math.min(...lows.flat().map((i) => pieces[i]!.flow));
  const said = findings.find((f) => f.code === 'verify/flow-low')!;
  expect(said.message).toContain(`${least.toFixed(3)} mm3/s, the range`);
  expect(said.at!.line).toBe(pieces.findIndex((p) => p.flow === least) + 2);
});
