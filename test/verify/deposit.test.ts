/**
 * The grid of what is laid against its definition: a cube is set if its middle lies in the box under a bead's
 * path, or in the round of a sharp corner. What is metered in each cell is counted piece by piece.
 */
import { describe, expect, it } from 'vitest';
import { BOUNDS } from '../../lib/base/bounds.js';
import { seeded } from '../../lib/base/random.js';
import {
  type Vec3,
  add,
  along,
  cross,
  dot,
  length,
  scale,
  sub,
  unit,
} from '../../lib/base/vector.js';
import { CELL_CUBES, Deposit, cellCorner } from '../../lib/verify/deposit.js';
import type { Heights } from '../../lib/verify/layers.js';
import { TraceKind } from '../../lib/verify/trace.js';
import { printer } from './prints.js';
import { type Block, traceOfBlocks } from './traces.js';

const machine = printer();
const EDGE = 0.11;
const H = 0.3;
const WIDEST = BOUNDS.beadBores * machine.nozzle.diameter;

interface Solid {
  readonly middle: Vec3;
  /** No place of it is farther from its middle, mm. */
  readonly reach: number;
  readonly has: (p: Vec3) => boolean;
}

const point = (v: ArrayLike<number>, b: number): Vec3 => [v[3 * b]!, v[3 * b + 1]!, v[3 * b + 2]!];

function laid(from: Vec3, blocks: readonly Block[], up?: Vec3) {
  const trace = traceOfBlocks(from, blocks, up);
  const heights = {
    height: new Float64Array(trace.kind.length).fill(H),
    layerStart: [blocks.findIndex((b) => b.volume !== undefined) + 1],
    layers: [],
    usual: H,
    width: 0.5,
  } as unknown as Heights;
  const deposit = new Deposit(trace, heights, machine, EDGE, undefined, 10);
  for (let b = 0; b < trace.kind.length; b++) deposit.block(b);
  deposit.stretches.end();
  const solids: Solid[] = [];
  const pieces: { block: number; middle: Vec3; volume: number }[] = [];
  let before: Vec3 | undefined;
  for (let b = 1; b < trace.kind.length; b++) {
    const [a, e] = [point(trace.tip, b - 1), point(trace.tip, b)];
    const size = length(sub(e, a));
    const volume = trace.volume[b]!;
    if (trace.kind[b] !== TraceKind.deposit) {
      before = undefined;
      continue;
    }
    const d = unit(add(point(trace.direction, b - 1), point(trace.direction, b)));
    const t = unit(sub(e, a));
    const u = unit(cross(d, t));
    const half = Math.min(WIDEST, volume / size / H) / 2;
    const middle = along(scale(add(a, e), 0.5), d, -H / 2);
    solids.push({
      middle,
      reach: Math.hypot(size, H) / 2 + half,
      has: (p) => {
        const q = sub(p, middle);
        return (
          Math.abs(dot(q, t)) < size / 2 &&
          Math.abs(dot(q, u)) < half &&
          Math.abs(dot(q, d)) < H / 2
        );
      },
    });
    if (before && dot(before, t) < Math.cos(0.2)) {
      solids.push({
        middle: a,
        reach: half + H,
        has: (p) => {
          const q = sub(p, along(a, d, -H / 2));
          const up = dot(q, d);
          return Math.abs(up) < H / 2 && length(along(q, d, -up)) < half;
        },
      });
    }
    before = t;
    const count = Math.ceil(size / Math.min(0.3, 5 * EDGE));
    for (let n = 0; n < count; n++) {
      const at = along(along(a, t, ((n + 0.5) * size) / count), d, -H / 2);
      pieces.push({ block: b, middle: at, volume: volume / count });
    }
  }
  return { trace, deposit, solids, pieces };
}

/** Beads in a bend, some nearly straight on, one after a move, and one wider than any is taken. */
function bend(d: Vec3, seed: number): ReturnType<typeof laid> {
  const random = seeded(seed);
  const u = unit(cross(d, [0.3, 1, 0.2]));
  const v = cross(d, u);
  let angle = 6 * random();
  let at: Vec3 = [1, 2, 3];
  const blocks: Block[] = [];
  for (let i = 0; i < 7; i++) {
    // 0.1 rad is no sharp turn, 0.5 and more are.
    angle += [0.1, 0.5, 1.2, 0.15, 2, 0.3][i % 6]! * (random() < 0.5 ? 1 : -1);
    const size = 0.5 + random();
    at = add(at, add(scale(u, size * Math.cos(angle)), scale(v, size * Math.sin(angle))));
    const link = i === 3;
    const wide = i === 6 ? 20 : 0.4 + 0.3 * random();
    blocks.push({
      to: at,
      ...(link ? {} : { volume: wide * H * size }),
    });
  }
  return laid([1, 2, 3], blocks, d);
}

describe.each<[string, Vec3, number]>([
  ['upright, seed 1', [0, 0, 1], 1],
  ['leaning, seed 2', unit([0.5, -0.3, 0.8]), 2],
  ['lying, seed 3', [0, 1, 0], 3],
])('beads laid %s', (_, d, seed) => {
  const { trace, deposit, solids, pieces } = bend(d, seed);
  const { grid } = deposit;

  it('set the cubes whose middles lie in them, and no others', () => {
    const want = new Set<string>();
    for (const { middle, reach, has } of solids) {
      const from = middle.map((v, c) => Math.floor((v - reach - grid.origin[c]!) / EDGE));
      const side = Math.ceil((2 * reach) / EDGE) + 1;
      for (let n = 0; n < side ** 3; n++) {
        const cube = [n % side, Math.floor(n / side) % side, Math.floor(n / side ** 2)].map(
          (k, c) => from[c]! + k,
        );
        const p = cube.map((k, c) => grid.origin[c]! + (k + 0.5) * EDGE) as unknown as Vec3;
        if (has(p)) want.add(cube.join());
      }
    }
    expect(want.size).toBeGreaterThan(1000);
    expect(grid.count).toBe(want.size);
    for (const key of want) {
      const [x, y, z] = key.split(',').map(Number) as [number, number, number];
      if (!grid.has(x, y, z)) expect.fail(`cube ${key} is not set`);
    }
  });

  it('are metered where they lie, and counted where they are new', () => {
    expect(deposit.length).toBeCloseTo(
      trace.length.reduce((sum, l, b) => sum + (trace.kind[b] === TraceKind.deposit ? l : 0), 0),
      9,
    );
    const sum = trace.volume.reduce((a, b) => a + b, 0);
    expect(deposit.metered).toBeCloseTo(sum, 9);
    const want = new Map<string, { metered: number; block: number }>();
    for (const { middle, volume, block } of pieces) {
      const key = middle
        .map((x, c) => CELL_CUBES * Math.floor((x - grid.origin[c]!) / (CELL_CUBES * EDGE)))
        .join();
      want.set(key, { metered: (want.get(key)?.metered ?? 0) + volume, block });
    }
    let filled = 0;
    for (const [key, cell] of deposit.cells) {
      filled += cell.filled;
      const same = want.get(cellCorner(key).join());
      // The round of a corner meters nothing.
      expect(cell.metered).toBeCloseTo(same?.metered ?? 0, 9);
      if (same) expect(cell.block).toBeGreaterThanOrEqual(same.block);
    }
    for (const key of want.keys())
      expect([...deposit.cells.keys()].map((k) => cellCorner(k).join())).toContain(key);
    expect(filled).toBeCloseTo(grid.count * EDGE ** 3, 6);
  });
});

describe('a bead over air', () => {
  /** A bead on the table from x = 0 to `to`, and one a level higher from `from` on to x = 20. */
  const over = (to: number, from: number): Deposit['stretches'] => {
    const w = 0.5 * H;
    const blocks: Block[] = [
      { to: [to, 0, H], volume: to * w },
      { to: [from, 0, 2 * H] },
      { to: [20, 0, 2 * H], volume: (20 - from) * w },
    ];
    const trace = traceOfBlocks([0, 0, H], blocks);
    const heights = {
      height: new Float64Array(4).fill(H),
      layerStart: [1, 3],
      layers: [],
      usual: H,
      width: 0.5,
    } as unknown as Heights;
    const deposit = new Deposit(trace, heights, machine, EDGE, undefined, 0);
    for (let b = 0; b < 4; b++) deposit.block(b);
    deposit.stretches.end();
    return deposit.stretches;
  };
  it('hangs from where the one under it ends, to the length of a piece', () => {
    expect(over(20, 0).hanging).toEqual([]);
    const [hangs] = over(12, 0).hanging;
    expect(hangs!.block).toBe(3);
    expect(Math.abs(hangs!.length - 8)).toBeLessThan(5 * EDGE);
    expect(over(12, 0).inAir).toBeCloseTo(hangs!.length, 9);
    const [all] = over(5, 6).hanging;
    expect(all!.length).toBeCloseTo(14, 9);
    expect(all!.area).toBeCloseTo(7, 9);
  });
});

it('a tip that lays nothing, stands or only primes fills nothing', () => {
  const { deposit } = laid(
    [0, 0, H],
    [{ to: [1, 0, H], volume: 0 }, { to: [1, 0, H], volume: 3 }, { to: [4, 0, H] }],
  );
  expect(deposit.grid.count).toBe(0);
  expect(deposit.length).toBe(0);
  expect(deposit.metered).toBe(0);
});
