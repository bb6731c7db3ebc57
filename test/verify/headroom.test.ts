/**
 * The head on its way past what stands, while it keeps its direction: where the closed form of its outline
 * meets a column or the table. Column, place and height are drawn, so the first place of a touch is known to
 * a cube and a step of the way.
 */
import { describe, expect, it } from 'vitest';
import type { Machine } from '../../lib/machine/machine.js';
import { DEG, type Vec3 } from '../../lib/base/vector.js';
import { Grid } from '../../lib/verify/grid.js';
import { Grids } from '../../lib/verify/grids.js';
import type { HeadTouch } from '../../lib/verify/contact.js';
import { Headroom } from '../../lib/verify/headroom.js';
import type { Heights } from '../../lib/verify/layers.js';
import type { Trace } from '../../lib/verify/trace.js';
import { printer } from './prints.js';
import { type Block, traceOfBlocks } from './traces.js';

const EDGE = 0.2;
const H = 0.2;
/** What stands over the tip by less is rubbed over, mm. */
const ROOM = 1.5 * H;
const machine = printer();

/** Up the head and joints of the A-C chain with the table tilted by `a`: k = (0, sin A, cos A). */
const direction = (a: number): Vec3 => [0, Math.sin(a * DEG), Math.cos(a * DEG)];
function withJoints(trace: Trace, a: number, c: (b: number) => number): Trace {
  const n = trace.kind.length;
  const joints = new Float64Array(5 * n);
  for (let b = 0; b < n; b++) {
    const [x, y, z] = trace.tip.subarray(3 * b, 3 * b + 3) as unknown as Vec3;
    const [cos, sin] = [Math.cos(a * DEG), Math.sin(a * DEG)];
    const [cc, sc] = [Math.cos(c(b)), Math.sin(c(b))];
    const [u, v] = [x * cc - y * sc, x * sc + y * cc];
    joints.set([u, v * cos - z * sin, v * sin + z * cos, a * DEG, c(b)], 5 * b);
  }
  return { ...trace, joints, jointCount: 5 };
}

interface Way {
  readonly from: Vec3;
  readonly blocks: readonly Block[];
  readonly a?: number;
  readonly c?: (b: number) => number;
  readonly columns?: readonly { readonly at: readonly [number, number]; readonly top: number }[];
  readonly of?: Machine;
}

function along({ from, blocks, a = 0, c = (): number => 0, columns = [], of = machine }: Way) {
  const trace = withJoints(traceOfBlocks(from, blocks, direction(a)), a, c);
  const grid = Grid.between(EDGE, [-30, -30, 0], [30, 30, 30]);
  const cubes = (v: number, i: number): number => Math.floor((v - grid.origin[i]!) / EDGE + 1e-9);
  for (const { at, top } of columns) {
    grid.setColumn(cubes(at[0], 0), cubes(at[1], 1), cubes(0, 2), cubes(top, 2) - 1, 0);
  }
  const heights = {
    height: new Float64Array(trace.kind.length).fill(H),
    usual: H,
  } as unknown as Heights;
  const room = new Headroom(trace, of, Grids.of(grid), heights);
  const kept: boolean[] = [];
  for (let b = 0; b < trace.kind.length; b++) {
    kept.push(room.before(b));
    room.after(b);
  }
  return { touches: room.touches as readonly HeadTouch[], kept };
}

describe('past a column', () => {
  // 12 mm high; the tip goes by at 2 mm, 9.7 mm under its top as far as it counts: the head is 9 mm wide at
  // 8 mm, growing by 9 in 22.
  const TOP = 12;
  const reach = 9 + (9 * (TOP - 2 - ROOM - 8)) / 22;
  const past = (off: number, z = 2) =>
    along({
      from: [-25, off, z],
      blocks: [{ to: [25, off, z] }, { to: [25, off, 20] }],
      columns: [{ at: [0, 0], top: TOP }],
    });

  it('is clear where it is farther off than the head is wide, and touches where it is nearer', () => {
    for (const sense of [-1, 1]) {
      // The column's middle lies half a cube beyond its corner.
      expect(past(EDGE / 2 + sense * (reach + 0.15)).touches).toEqual([]);
      const { touches } = past(EDGE / 2 + sense * (reach - 0.15));
      expect(touches).toHaveLength(1);
      const [touch] = touches;
      expect(touch).toMatchObject({ block: 1, what: 'what is printed' });
      expect(Math.hypot(touch!.point[0], touch!.point[1])).toBeLessThan(1.5);
      expect(Math.abs(touch!.above - (TOP - 2))).toBeLessThan(0.5);
      expect(touch!.depth).toBeGreaterThanOrEqual(0);
    }
  });

  it('is as deep as it is inside: straight through', () => {
    const { touches } = past(EDGE / 2);
    // From the tip on the column is in it: its top is 10 mm over the tip.
    expect(touches[0]!.depth).toBeGreaterThan(8);
    expect(touches[0]!.depth).toBeLessThan(10.1);
  });

  it('rubs over what is no higher than one and a half beads', () => {
    const low = (top: number) =>
      along({
        from: [-5, 0.1, 2],
        blocks: [{ to: [5, 0.1, 2] }],
        columns: [{ at: [0, 0], top }],
      }).touches;
    expect(low(2.2)).toEqual([]);
    expect(low(2.8)).toHaveLength(1);
  });

  it('counts only blocks that meet it, and one touch of each', () => {
    const { touches } = along({
      from: [-25, 0, 20],
      blocks: [
        { to: [-22, 0, 20] },
        { to: [-22, 0, 2] },
        { to: [-4, 0, 2] },
        { to: [4, 0, 2] },
        { to: [4, 0, 20] },
        { to: [20, 0, 20] },
      ],
      columns: [{ at: [0, 0], top: TOP }],
    });
    expect(touches.map((t) => t.block)).toEqual([3, 4, 5]);
  });
});

it('finds what was laid on the way', () => {
  // A bead at z = 9.6 and then a way 0.6 mm lower through it; over it there is room.
  const bead = (z: number): Block[] => [
    { to: [0, -3, 9.6] },
    { to: [0, 3, 9.6], volume: 6 * 0.08 },
    { to: [0, 3, 14] },
    { to: [-6, 0, 14] },
    { to: [-6, 0, z] },
    { to: [6, 0, z] },
  ];
  expect(along({ from: [0, -3, 14], blocks: bead(9.6) }).touches).toEqual([]);
  // What is laid stands in the map at once; its cubes are those of the grid, here a column in its place.
  const { touches } = along({
    from: [0, -3, 14],
    blocks: bead(9),
    columns: [{ at: [0, 0], top: 9.6 }],
  });
  expect(touches.map((t) => t.block)).toContain(6);
});

describe('over the table', () => {
  // Tilted by A the head's edge at s = 8, r = 9 is lowest: z + (8 + 0.3) cos A - 9 sin A.
  it.each([30, 60, -60])('touches the face where the closed form says, tilted by %d deg', (a) => {
    const low = 9 * Math.sin(Math.abs(a) * DEG) - (8 + ROOM) * Math.cos(a * DEG);
    const at = (z: number) => along({ from: [-4, 3, z], blocks: [{ to: [4, 3, z] }], a }).touches;
    const z = Math.max(0.05, low);
    expect(at(z + 0.1)).toEqual([]);
    if (low > 0.2) {
      const touches = at(z - 0.15);
      expect(touches).toHaveLength(1);
      expect(touches[0]!.what).toBe('the table');
      expect(Math.abs(touches[0]!.point[2])).toBeLessThan(0.5);
    }
  });

  it('is clear beside it', () => {
    const beside = printer((json) => (json.table.face = { shape: 'rectangle', size: [20, 20] }));
    const at = (y: number) =>
      along({ from: [-4, y, 1], blocks: [{ to: [4, y, 1] }], a: 60, of: beside }).touches;
    // The low edge of the head is 8.3 sin 60 + 9 cos 60 = 11.7 mm farther on +Y.
    expect(at(-8)).toHaveLength(1);
    expect(at(-70)).toEqual([]);
    expect(at(40)).toEqual([]);
  });
});

describe('what it leaves to others', () => {
  const column = [{ at: [0, 0] as const, top: 12 }];
  it('moves on which the head turns', () => {
    const blocks: Block[] = [
      { to: [5, 0, 2], direction: [0, 0.6, 0.8] },
      { to: [6, 0, 2], direction: [0, 0, 1] },
      { to: [-6, 0, 2] },
    ];
    const { touches, kept } = along({ from: [-5, 0, 2], blocks, columns: column });
    expect(kept).toEqual([true, false, false, true]);
    expect(touches.map((t) => t.block)).toEqual([3]);
    const c = (b: number): number => (b === 1 ? 1 : 0);
    const turned = along({ from: [-5, 0, 2], blocks: [{ to: [5, 0, 2] }], c, columns: column });
    expect(turned.kept).toEqual([true, false]);
    expect(turned.touches).toEqual([]);
  });
  it('moves from and to places that nobody knows, and those that go nowhere', () => {
    const nowhere: Vec3 = [NaN, NaN, NaN];
    const blocks: Block[] = [{ to: nowhere }, { to: [1, 0, 2] }, { to: [1, 0, 2] }];
    const { touches, kept } = along({ from: [-5, 0, 2], blocks, columns: column });
    expect(kept).toEqual([true, true, true, true]);
    expect(touches).toEqual([]);
  });
});
