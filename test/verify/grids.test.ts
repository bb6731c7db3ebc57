/**
 * Beads of several directions in the grids of these, against the beads themselves: a place is in material where the
 * box of a bead holds it, off its faces by a cell.
 */
import { describe, expect, it } from 'vitest';
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
import { Deposit } from '../../lib/verify/deposit.js';
import type { Grid } from '../../lib/verify/grid.js';
import { Grids } from '../../lib/verify/grids.js';
import type { Heights } from '../../lib/verify/layers.js';
import { type Trace, TraceKind } from '../../lib/verify/trace.js';
import { printer } from './prints.js';
import { type Block, traceOfBlocks } from './traces.js';

const machine = printer();
const [H, WIDTH] = [0.2, 0.5];
/** Half of a layer, and of the cell's diagonal across it: half of a fifth of a bead each way. */
const CELL = Math.hypot(0.1, 0.1, 0.1) / 2;

/** A wall of four levels and a leaning one that runs into it. */
function walls(): Trace {
  const leaning = unit([0.6, 0, 0.8]);
  const wall = (from: Vec3, way: Vec3, d: Vec3): Block[] =>
    [0, 1, 2, 3].flatMap((k) => {
      const begin = along(from, d, k * H);
      return [{ to: begin }, { to: add(begin, way), volume: WIDTH * H * length(way) }];
    });
  const one = traceOfBlocks([0, 0, 5], wall([0, 0, 1], [6, 0, 0], [0, 0, 1]));
  const two = traceOfBlocks([0, 0, 5], wall([3, -1, 1], [0, 5, 0], leaning), leaning);
  const n = one.kind.length;
  const both = (pick: (t: Trace) => Float64Array): Float64Array =>
    Float64Array.from([...pick(one), ...pick(two)]);
  return {
    ...one,
    tip: both((t) => t.tip),
    direction: both((t) => t.direction),
    volume: both((t) => t.volume),
    length: both((t) => t.length),
    kind: Uint8Array.from([...one.kind, ...two.kind]),
    run: Uint32Array.from({ length: n + two.kind.length }, (_, b) => (b < n ? 0 : 1)),
    runStart: Uint32Array.from([2, n + 2]),
    turning: new Uint8Array(2),
  };
}

const point = (v: Float64Array, b: number): Vec3 => [v[3 * b]!, v[3 * b + 1]!, v[3 * b + 2]!];

/** How deep a place lies in the box of bead b, mm; negative outside. */
function depthIn({ tip, direction }: Trace, b: number, p: Vec3): number {
  const [from, to] = [point(tip, b - 1), point(tip, b)];
  const d = point(direction, b);
  const t = unit(sub(to, from));
  const q = sub(p, along(scale(add(from, to), 0.5), d, -H / 2));
  const over = [
    Math.abs(dot(q, t)) - length(sub(to, from)) / 2,
    Math.abs(dot(q, cross(d, t))) - WIDTH / 2,
    Math.abs(dot(q, d)) - H / 2,
  ];
  return -Math.max(...over);
}

describe('an upright wall, and a leaning one that runs into it', () => {
  const trace = walls();
  const count = trace.kind.length;
  const heights = {
    height: new Float64Array(count).fill(H),
    layerStart: Array.from({ length: count }, (_, b) => b).filter((b) => trace.kind[b] === 0),
    layers: [],
    usual: H,
    width: WIDTH,
  } as unknown as Heights;
  const grids = Grids.for(trace, heights, machine.nozzle.diameter);
  const deposit = new Deposit(trace, heights, machine, grids, undefined, 10);
  for (let b = 0; b < count; b++) deposit.block(b);
  const beads = heights.layerStart.filter((b) => trace.kind[b] === TraceKind.deposit);
  const deep = (p: Vec3): number => Math.max(...beads.map((b) => depthIn(trace, b, p)));
  const random = seeded(7);
  const [least, size]: [Vec3, Vec3] = [
    [-0.3, -1.2, 0.6],
    [6.6, 5.6, 1.4],
  ];
  const places = Array.from({ length: 80_000 }, () =>
    least.map((v, c) => v + size[c]! * random()),
  ) as unknown as Vec3[];

  it('have a grid each, that leans as they do', () => {
    expect(grids.list.map(({ axes }) => axes[2][0])).toEqual([0, 0.6]);
  });

  it('are where their beads are, wherever that is in both', () => {
    let [within, outside, wrong] = [0, 0, 0];
    for (const p of places) {
      const depth = deep(p);
      if (Math.abs(depth) < CELL) continue;
      if (depth > 0) within++;
      else outside++;
      if (grids.at(...p) !== depth > 0) wrong++;
      // Among eight cells there are some up to a whole one away.
      if (depth > 2 * CELL && grids.share(...p) < 0.99) wrong++;
      if (depth < -2 * CELL && grids.share(...p) > 0) wrong++;
    }
    expect(wrong).toBe(0);
    expect(Math.min(within, outside)).toBeGreaterThan(200);
  });

  it('fill their common room once: cells of the second count where the first has nothing', () => {
    const [upright, leaning] = grids.list as [Grid, Grid];
    const middles: Vec3[] = [];
    const reach = leaning.edges.map((edge) => Math.ceil(4 / edge)) as unknown as Vec3;
    const from = ([0, 1, 2] as const).map((c) => Math.floor(leaning.along(c, 3, 1.5, 1.3)));
    for (let i = -reach[0]; i <= reach[0]; i++) {
      for (let j = -reach[1]; j <= reach[1]; j++) {
        for (let k = -reach[2]; k <= reach[2]; k++) {
          const cell: Vec3 = [from[0]! + i, from[1]! + j, from[2]! + k];
          if (leaning.has(...cell))
            middles.push(leaning.placeOf(...(cell.map((c) => c + 0.5) as unknown as Vec3)));
        }
      }
    }
    expect(middles).toHaveLength(leaning.count);
    const alone = middles.filter((p) => !upright.at(...p)).length;
    expect(alone).toBeLessThan(0.97 * leaning.count);
    // Cells are 0.1 mm wide and high.
    expect(deposit.filled).toBeCloseTo((upright.count + alone) * 0.1 ** 3, 9);
  });

  it('are known by the blocks that laid them', () => {
    const [first, second] = [beads[0]!, beads.at(-1)!];
    const middle = (b: number): Vec3 =>
      along(
        scale(add(point(trace.tip, b - 1), point(trace.tip, b)), 0.5),
        point(trace.direction, b),
        -H / 2,
      );
    expect(grids.blocksAt(...middle(first)).first).toBe(first);
    expect(grids.blocksAt(...middle(second)).last).toBe(second);
    expect(grids.blocksAt(-3, -3, 3)).toEqual({ first: -1, last: -1 });
  });
});
