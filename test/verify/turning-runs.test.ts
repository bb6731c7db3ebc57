/** Runs in which the head turns while it lays, on traces whose runs can be counted by hand. */
import { describe, expect, test } from 'vitest';
import { DEG, type Vec3 } from '../../lib/base/vector.js';
import { TraceKind } from '../../lib/verify/trace.js';
import { type Block, traceOfBlocks } from './traces.js';

/** The head leaned by an angle about Y. */
const leaned = (deg: number): Vec3 => [Math.sin(deg * DEG), 0, Math.cos(deg * DEG)];

/** Beads of 1 mm along y at z, the head leaned by so much at the end of each; runs as they would be told by direction. */
function bead(z: number, leans: readonly number[], run: (i: number) => number): Block[] {
  return leans.map((lean, i) => ({
    to: [0, i + 1, z],
    volume: 0.1,
    direction: leaned(lean),
    run: run(i),
  }));
}

describe('runs told by direction', () => {
  test('are one where the head turns while it lays', () => {
    const { runStart, turning, run } = traceOfBlocks(
      [0, 0, 0.2],
      bead(0.2, [0, 1, 2, 3, 4], (i) => i),
    );
    expect([...runStart]).toEqual([1]);
    expect([...turning]).toEqual([1]);
    expect([...run].slice(1)).toEqual([0, 0, 0, 0, 0]);
  });

  test('stay as they are where it keeps its direction in each', () => {
    const blocks: Block[] = [
      ...bead(0.2, [0, 0, 0], () => 0),
      { to: [0, 0, 9], direction: leaned(30), kind: TraceKind.transfer, run: 1 },
      ...bead(9, [30, 30], () => 1).map((b) => ({ ...b, to: [b.to[0] * 0.8, 0, 9] as Vec3 })),
    ];
    const { runStart, turning, kind } = traceOfBlocks([0, 0, 0.2], blocks);
    expect([...runStart]).toEqual([1, 5]);
    expect([...turning]).toEqual([0, 0]);
    expect(kind[4]).toBe(TraceKind.transfer);
  });

  test('take in one level between two turning ones, but not three; turns between beads are links then', () => {
    const level = (z: number): Block[] => [
      { to: [0, 0, z], direction: leaned(4), run: 4 },
      ...bead(z, [4, 4, 4], () => 4),
    ];
    const of = (levels: readonly number[]): ReturnType<typeof traceOfBlocks> =>
      traceOfBlocks(
        [0, 0, 0.2],
        [
          ...bead(0.2, [0, 1, 2, 4], (i) => i),
          // The way back turns the head.
          { to: [0, 0, 0.4], direction: leaned(4), kind: TraceKind.transfer, run: 4 },
          ...levels.flatMap(level),
          { to: [0, 0, 2], direction: leaned(4), kind: TraceKind.transfer, run: 5 },
          ...bead(2, [5, 6, 7], (i) => 5 + i),
        ],
      );
    const one = of([0.4]);
    expect([...one.turning]).toEqual([1]);
    expect(one.kind[5]).toBe(TraceKind.link);
    const three = of([0.4, 0.6, 0.8]);
    expect([...three.turning]).toEqual([1, 0, 1]);
    // A transfer that leads from one run to the next stays one.
    expect(three.kind[5]).toBe(TraceKind.transfer);
  });

  test('climb along the head where another one turns, and only there', () => {
    const climbing = Array.from({ length: 6 }, (_, i): Block => ({
      to: [i + 1, 0, 1 + 0.02 * (i + 1)],
      volume: 0.1,
      direction: leaned(0),
      run: 0,
    }));
    expect([...traceOfBlocks([0, 0, 1], climbing).turning]).toEqual([0]);
    const back: Block = { to: [0, 0, 2], kind: TraceKind.link, run: 1 };
    const turned = bead(2, [1, 2, 3], (i) => 1 + i);
    expect([...traceOfBlocks([0, 0, 1], [...climbing, back, ...turned]).turning]).toEqual([1]);
  });
});
