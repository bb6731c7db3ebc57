/**
 * What carries a bead: how wide it hangs over the bead under it, in closed form (its overhang less the
 * height times the tangent of the self-supporting angle), over the edge of the table, and over what was laid
 * in another direction.
 */
import { describe, expect, it } from 'vitest';
import { DEG, type Vec3, add, cross, scale, unit } from '../../lib/base/vector.js';
import { BeadSupport, type PiecePlace } from '../../lib/verify/bead-support.js';
import { heightsOf } from '../../lib/verify/layers.js';
import { acJson, machineOf } from '../machine/machines.js';
import { type Block, traceOfBlocks } from './traces.js';

const H = 0.3;
const W = 0.6;
const BORE = 0.4;
const machine = machineOf(acJson());

const known = (degrees: number, inside: (p: Vec3) => boolean = () => false) => ({
  theta: degrees * DEG,
  inside,
});

/** A bead's piece at a place, its way and the head's direction. */
const piece = (block: number, p: Vec3, way: Vec3, d: Vec3): PiecePlace => ({
  block,
  p: Float64Array.from(p),
  u: Float64Array.from(cross(d, way)),
  d: Float64Array.from(d),
  halfWidth: W / 2,
  height: H,
});

describe.each<[string, Vec3, Vec3]>([
  ['upright', [0, 0, 1], [1, 0, 0]],
  ['leaning', unit([0.4, -0.3, 0.8]), unit(cross([0.4, -0.3, 0.8], [0.1, 1, 0.2]))],
])('a bead over one laid %s', (_, d, way) => {
  const aside = cross(d, way);
  const base = scale(d, 20);
  const at = (along: number, off: number, level: number): Vec3 =>
    add(base, add(scale(way, along), add(scale(aside, off), scale(d, level * H))));

  /** Five levels, the last one `off` aside: what of it hangs at its middle. */
  const support = (off: number, part = known(45)): { it: BeadSupport; at: PiecePlace } => {
    const volume = 10 * W * H;
    const blocks = [0, 1, 2, 3, 4].flatMap((k): Block[] => [
      { to: at(0, k === 4 ? off : 0, k), direction: d },
      { to: at(10, k === 4 ? off : 0, k), direction: d, volume },
    ]);
    const trace = traceOfBlocks(at(-1, 0, 0), blocks);
    const it = new BeadSupport(trace, heightsOf(trace, BORE), machine, part);
    for (const b of [2, 4, 6, 8, 10]) it.aim(b, H);
    return { it, at: piece(10, at(5, off, 4), way, d) };
  };

  it.each([30, 45, 60])('hangs by what is farther out than %d deg reach', (degrees) => {
    const reach = H * Math.tan(degrees * DEG);
    for (let off = 0; off < 2; off += 0.07) {
      for (const sense of [-1, 1]) {
        const { it: under, at: place } = support(sense * off, known(degrees));
        const want = Math.min(W, Math.max(0, off - reach));
        // Strips up to 0.012 mm are rounding.
        if (want > 0.013 || want === 0) expect(under.beyond(place)).toBeCloseTo(want, 6);
      }
    }
  });

  it('hangs by nothing over the inside of the part, or where no part is known', () => {
    const inside = (): boolean => true;
    expect(support(0.8, known(45, inside)).it.beyond(support(0.8).at)).toBe(0);
    const { it: under, at: place } = support(0.8);
    expect(under.beyond(place)).toBeGreaterThan(0);
  });

  it('hangs on the side that is open, where the other is over the inside', () => {
    // The level under it lies between: 0.3 mm of each side reach beyond 20 deg.
    const volume = 10 * W * H;
    const wide = 2 * W;
    const blocks = [0, 1, 2].flatMap((k): Block[] => [
      { to: at(0, 0, k), direction: d },
      { to: at(10, 0, k), direction: d, volume: k === 2 ? (volume * wide) / W : volume },
    ]);
    const trace = traceOfBlocks(at(-1, 0, 0), blocks);
    const right = (p: Vec3): boolean => {
      const q = [0, 1, 2].map((c) => p[c]! - base[c]!);
      return q[0]! * aside[0] + q[1]! * aside[1] + q[2]! * aside[2] > 0;
    };
    const reach = H * Math.tan(20 * DEG);
    for (const [inside, sides] of [
      [(): boolean => false, 2],
      [right, 1],
      [(p: Vec3): boolean => !right(p), 1],
      [(): boolean => true, 0],
    ] as const) {
      const it = new BeadSupport(trace, heightsOf(trace, BORE), machine, known(20, inside));
      for (const b of [2, 4, 6]) it.aim(b, H);
      const place = { ...piece(6, at(5, 0, 2), way, d), halfWidth: wide / 2 };
      expect(it.beyond(place)).toBeCloseTo(sides * ((wide - W) / 2 - reach), 6);
    }
  });

  it('rests where the one under it is, to a hundredth of a millimetre', () => {
    const { it: under, at: place } = support(0);
    for (const [off, want] of [
      [0, true],
      [W / 2, true],
      [-W / 2 - 0.009, true],
      [W / 2 + 0.011, false],
      [-W / 2 - 0.011, false],
    ] as const)
      expect(under.rests(place, off)).toBe(want);
    const beyond = piece(10, at(10 + W / 2 + 0.02, 0, 4), way, d);
    expect(under.rests(beyond, 0)).toBe(false);
    expect(under.rests(piece(10, at(9.9, 0, 4), way, d), 0)).toBe(true);
  });

  it('lies beside a piece that is carried there, as near as 0.05 mm', () => {
    const { it: under } = support(0);
    under.isCarried(piece(10, at(3, 0, 4), way, d), Float64Array.from(way), 2);
    const near = (along: number, off: number): boolean =>
      under.isBeside(piece(10, at(along, off, 4), way, d));
    expect(near(3, W + 0.04)).toBe(true);
    expect(near(3, -W - 0.04)).toBe(true);
    expect(near(3, W + 0.07)).toBe(false);
    expect(near(2.05, W)).toBe(true);
    // Round ends reach half a width on at their middle.
    expect(near(1.6, W)).toBe(false);
    expect(near(4.4, -W)).toBe(false);
    under.aim(10, H);
    expect(near(3, W)).toBe(true);
  });
});

describe('on the table', () => {
  it.each<[string, ReturnType<typeof acJson>['table']['face'], Vec3, Vec3]>([
    ['a disc', { shape: 'disc', radius: 100 }, [100, 0, H], [0, 1, 0]],
    ['a rectangle, at its X', { shape: 'rectangle', size: [120, 80] }, [60, 3, H], [0, 1, 0]],
    ['a rectangle, at its Y', { shape: 'rectangle', size: [120, 80] }, [5, -40, H], [1, 0, 0]],
  ])('a bead over the edge of %s hangs by what is beyond it', (_, face, edge, way) => {
    const json = acJson();
    json.table.face = face;
    const out = unit([edge[0] * Math.abs(way[1]), edge[1] * Math.abs(way[0]), 0]);
    for (const off of [-0.4, -0.2, -0.05, 0.05, 0.1, 0.25, 0.4]) {
      const p = add(edge, scale(out, off));
      const trace = traceOfBlocks(p, [{ to: add(p, way), volume: W * H }]);
      const it = new BeadSupport(trace, heightsOf(trace, BORE), machineOf(json), known(45));
      it.aim(1, H);
      const place = piece(1, p, way, [0, 0, 1]);
      const want = Math.min(W, Math.max(0, W / 2 + off));
      // Bisected five times between samples a fifth of the width apart.
      expect(Math.abs(it.beyond(place) - want)).toBeLessThan(0.2 * W * 2 ** -5 + 1e-3);
      expect(it.rests(place, 0)).toBe(off < 0);
    }
  });

  it('a bead higher than its height rests on nothing', () => {
    const at = (z: number): boolean => {
      const trace = traceOfBlocks([0, 0, z], [{ to: [1, 0, z], volume: W * H }]);
      const heights = { ...heightsOf(trace, BORE), height: new Float64Array(2).fill(H) };
      const it = new BeadSupport(trace, heights, machine, known(45));
      it.aim(1, H);
      return it.rests(piece(1, [0.5, 0, z], [1, 0, 0], [0, 0, 1]), 0);
    };
    expect(at(H)).toBe(true);
    expect(at(1.7 * H)).toBe(true);
    expect(at(1.8 * H)).toBe(false);
    expect(at(0.3 * H)).toBe(true);
    expect(at(-2 * H)).toBe(false);
  });
});

describe('on what was laid in another direction', () => {
  // A wall 4 mm long and three beads thick in ten levels; then beads along +X on its side at y = 0.9.
  const wall = Array.from({ length: 10 }, (_, k) =>
    [0, 1, 2].flatMap((i): Block[] => [
      { to: [0, (i - 1) * W, (k + 1) * H], direction: [0, 0, 1] },
      { to: [4, (i - 1) * W, (k + 1) * H], volume: 4 * W * H },
    ]),
  ).flat();
  const side: Block[] = [
    { to: [-3, 1.5 * W + H, 1.5], direction: [0, 1, 0], run: 1 },
    { to: [7, 1.5 * W + H, 1.5], volume: 10 * W * H, run: 1 },
  ];
  const trace = traceOfBlocks([0, 0, 9], [...wall, ...side]);
  const last = trace.kind.length - 1;
  const heights = heightsOf(trace, BORE);
  heights.height[last] = H;
  const it_ = new BeadSupport(trace, heights, machine, known(45));
  for (let b = 1; b <= last; b++) if (trace.volume[b]! > 0) it_.aim(b, H);
  // Its way is +X and the head's direction +Y: across is -Z.
  const place = (x: number, z: number): PiecePlace =>
    piece(last, [x, 1.5 * W + H, z], [1, 0, 0], [0, 1, 0]);

  it('a bead rests where that is', () => {
    for (const [x, z, want] of [
      [2, 1.5, true],
      [0.4, 1.5, true],
      [-0.4, 1.5, false],
      [3.9, 1.5, true],
      [4.4, 1.5, false],
      [2, 2.95, true],
      [2, 3.05, false],
      [2, 0.05, true],
      [2, -0.4, false],
    ] as const)
      expect(it_.rests(place(x, z), 0), `${x} ${z}`).toBe(want);
  });

  it('and hangs by what is farther from it than the angle reaches', () => {
    // The wall ends at z = 3, its beads reach H tan 45 deg farther: twelve places on the circle.
    for (const z of [2, 2.9, 3, 3.1, 3.3, 3.5]) {
      const want = Math.min(W, Math.max(0, z + W / 2 - 3 - H));
      expect(Math.abs(it_.beyond(place(2, z)) - want), String(z)).toBeLessThan(0.03);
    }
  });
});
