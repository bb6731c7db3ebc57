/**
 * The grid of what is laid against its definition: a cell is set if its middle lies in the box under a bead's
 * path, or in the round of a sharp corner. What is metered in each volume cell is counted piece by piece.
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
import { Grid } from '../../lib/verify/grid.js';
import { Grids } from '../../lib/verify/grids.js';
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

/** @param cubes whether the grid is one of cubes along the axes of the part, or lies as the beads do */
function laid(from: Vec3, blocks: readonly Block[], up?: Vec3, cubes = true) {
  const trace = traceOfBlocks(from, blocks, up);
  const heights = {
    height: new Float64Array(trace.kind.length).fill(H),
    layerStart: [blocks.findIndex((b) => b.volume !== undefined) + 1],
    layers: [],
    usual: H,
    width: 0.5,
  } as unknown as Heights;
  const grids = cubes
    ? Grids.of(Grid.between(EDGE, [-20, -20, -20], [20, 20, 20]))
    : Grids.for(trace, { usual: 0.1, width: 0.5 }, machine.nozzle.diameter);
  const { edge } = grids;
  const deposit = new Deposit(trace, heights, machine, grids, undefined, 10);
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
    const count = Math.ceil(size / Math.min(0.3, 5 * edge));
    for (let n = 0; n < count; n++) {
      const at = along(along(a, t, ((n + 0.5) * size) / count), d, -H / 2);
      pieces.push({ block: b, middle: at, volume: volume / count });
    }
  }
  return { trace, deposit, grid: grids.list[0]!, solids, pieces };
}

/** Beads in a bend, some nearly straight on, one after a move, and one wider than any is taken. */
function bend(d: Vec3, seed: number, cubes: boolean): ReturnType<typeof laid> {
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
  return laid([1, 2, 3], blocks, d, cubes);
}

describe.each<[string, Vec3, number, boolean]>([
  ['upright, in cubes, seed 1', [0, 0, 1], 1, true],
  ['leaning, in cubes, seed 2', unit([0.5, -0.3, 0.8]), 2, true],
  ['lying, in cubes, seed 3', [0, 1, 0], 3, true],
  ['upright, in low cells, seed 4', [0, 0, 1], 4, false],
  ['leaning, in cells that lean, seed 5', unit([0.5, -0.3, 0.8]), 5, false],
  ['lying, in cells that lie, seed 6', [0, 1, 0], 6, false],
])('beads laid %s', (_, d, seed, cubes) => {
  const { trace, deposit, grid, solids, pieces } = bend(d, seed, cubes);
  const cellOf = (p: Vec3): Vec3 =>
    ([0, 1, 2] as const).map((c) => Math.floor(grid.along(c, ...p))) as unknown as Vec3;

  it('set the cells whose middles lie in them, and no others', () => {
    if (!cubes) {
      // Half as high as the usual layer of 0.1 mm, a fifth of a bead's width wide; the third axis is the head's.
      expect(grid.edges).toEqual([0.1, 0.1, 0.05]);
      expect(dot(grid.axes[2], d)).toBeCloseTo(1, 12);
    }
    const want = new Set<string>();
    for (const { middle, reach, has } of solids) {
      const from = cellOf(middle);
      const half = grid.edges.map((edge) => Math.ceil(reach / edge) + 1) as unknown as Vec3;
      for (let i = -half[0]; i <= half[0]; i++) {
        for (let j = -half[1]; j <= half[1]; j++) {
          for (let k = -half[2]; k <= half[2]; k++) {
            const [x, y, z] = [from[0] + i, from[1] + j, from[2] + k];
            if (has(grid.placeOf(x + 0.5, y + 0.5, z + 0.5))) want.add([x, y, z].join());
          }
        }
      }
    }
    expect(want.size).toBeGreaterThan(1000);
    expect(grid.count).toBe(want.size);
    for (const key of want) {
      const [x, y, z] = key.split(',').map(Number) as [number, number, number];
      if (!grid.has(x, y, z)) expect.fail(`cell ${key} is not set`);
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
      const key = cellOf(middle)
        .map((k) => CELL_CUBES * Math.floor(k / CELL_CUBES))
        .join();
      want.set(key, { metered: (want.get(key)?.metered ?? 0) + volume, block });
    }
    let filled = 0;
    const [cells] = deposit.cells;
    for (const [key, cell] of cells!) {
      filled += cell.filled;
      const same = want.get(cellCorner(key).join());
      // The round of a corner meters nothing.
      expect(cell.metered).toBeCloseTo(same?.metered ?? 0, 9);
      if (same) expect(cell.block).toBeGreaterThanOrEqual(same.block);
    }
    for (const key of want.keys())
      expect([...cells!.keys()].map((k) => cellCorner(k).join())).toContain(key);
    expect(filled).toBeCloseTo(grid.count * grid.edges.reduce((a, b) => a * b), 6);
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
    const grids = Grids.of(Grid.between(EDGE, [-5, -5, -5], [25, 5, 5]));
    const deposit = new Deposit(trace, heights, machine, grids, undefined, 0);
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
  const { deposit, grid } = laid(
    [0, 0, H],
    [{ to: [1, 0, H], volume: 0 }, { to: [1, 0, H], volume: 3 }, { to: [4, 0, H] }],
  );
  expect(grid.count).toBe(0);
  expect(deposit.length).toBe(0);
  expect(deposit.metered).toBe(0);
});
