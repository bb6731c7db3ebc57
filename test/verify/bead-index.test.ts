/**
 * Beads near a place, against their definition: balls of half the height along every point of a flat strip,
 * sampled one by one. Widths are such that the section, a stadium, has the metered area.
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { type Vec3, add, cross, length, scale, sub, unit } from '../../lib/base/vector.js';
import { BeadIndex } from '../../lib/verify/bead-index.js';
import type { Heights } from '../../lib/verify/layers.js';
import { type Trace, TraceKind } from '../../lib/verify/trace.js';

const H = 0.3;
const WIDTH = 0.7;
const STEP = 0.02;
/** A stadium: a rectangle between two half circles. */
const SECTION = (WIDTH - H) * H + (Math.PI / 4) * H * H;

interface Move {
  readonly to: Vec3;
  readonly lays: boolean;
}

function indexOf(from: Vec3, d: Vec3, moves: readonly Move[]): BeadIndex {
  const places = [from, ...moves.map((m) => m.to)];
  const far = places.map((p, i) => (i ? length(sub(p, places[i - 1]!)) : 0));
  const laid = [false, ...moves.map((m) => m.lays)];
  const trace = {
    kind: Uint8Array.from(laid, (l) => (l ? TraceKind.deposit : TraceKind.link)),
    tip: Float64Array.from(places.flat()),
    direction: Float64Array.from(places.flatMap(() => [...d])),
    volume: Float64Array.from(far, (l, i) => (laid[i] ? SECTION * l : 0)),
    length: Float64Array.from(far),
  } as unknown as Trace;
  const heights = { height: new Float64Array(places.length).fill(H) } as unknown as Heights;
  return new BeadIndex(trace, heights, 4);
}

/** Middles of the balls that make up a bead; its loose ends end where the tip does. */
function balls(a: Vec3, b: Vec3, d: Vec3, roundStart: boolean, roundEnd: boolean): Vec3[] {
  const on = unit(sub(b, a));
  const aside = cross(d, on);
  const far = length(sub(b, a));
  const half = (WIDTH - H) / 2;
  const trim = Math.min(H / 2, far / 2);
  const [from, to] = [roundStart ? -half : trim, roundEnd ? far + half : far - trim];
  const out: Vec3[] = [];
  const count = Math.max(1, Math.ceil((to - from) / STEP));
  for (let i = 0; i <= count; i++) {
    const s = from + (i / count) * (to - from);
    const past = Math.max(0, -s, s - far);
    // A round end is half a disc about the end of the tip's path.
    const wide = past > 0 ? Math.sqrt(Math.max(0, half * half - past * past)) : half;
    for (let k = -10; k <= 10; k++) {
      const p = add(add(a, scale(on, s)), scale(aside, (wide * k) / 10));
      out.push(add(p, scale(d, -H / 2)));
    }
  }
  return out;
}

const distance = (p: Vec3, middles: readonly Vec3[]): number =>
  middles.reduce((least, m) => Math.min(least, length(sub(p, m))), Infinity) - H / 2;

describe.each<[string, Vec3]>([
  ['upright', [0, 0, 1]],
  ['leaning', unit([0.5, -0.3, 0.8])],
])('beads laid %s', (_, d) => {
  // Two axes of the layer.
  const u = unit(cross(d, [0.2, 1, 0]));
  const v = cross(d, u);
  const at = (x: number, y: number): Vec3 => add([4, -3, 6], add(scale(u, x), scale(v, y)));
  const corner = [at(0, 0), at(5, 0), at(5, 4)] as const;
  const lone = [at(-3, 3), at(-3, 6)] as const;
  const short = [at(9, 0), at(9, 0.2)] as const;
  const index = indexOf(corner[0], d, [
    { to: corner[1], lays: true },
    { to: corner[2], lays: true },
    { to: lone[0], lays: false },
    { to: lone[1], lays: true },
    { to: short[0], lays: false },
    { to: short[1], lays: true },
  ]);
  const beads = [
    { block: 1, middles: balls(corner[0], corner[1], d, false, true) },
    { block: 2, middles: balls(corner[1], corner[2], d, true, false) },
    { block: 4, middles: balls(...lone, d, false, false) },
    { block: 6, middles: balls(...short, d, false, false) },
  ];

  it('are as far from any place as their balls, and the nearest is named', () => {
    const random = seeded(11);
    let near = 0;
    for (let n = 0; n < 300; n++) {
      const flat = at(15 * random() - 5, 9 * random() - 1);
      const p = add(flat, scale(d, 1.6 * random() - 0.9));
      const all = beads.map(({ block, middles }) => ({ block, far: distance(p, middles) }));
      const [best, next] = all.sort((a, b) => a.far - b.far);
      const found = index.nearestOfAll(p)!;
      // In a bead the sampled depth is as coarse as its balls.
      const room = best!.far > 0 ? 0.01 : 0.03;
      expect(Math.abs(found.distance - best!.far)).toBeLessThan(room);
      if (next!.far - best!.far > 0.04) expect(found.block).toBe(best!.block);
      const within = index.nearest(p, 0.8);
      if (best!.far > 0.8 + room) expect(within).toBeUndefined();
      if (best!.far < 0.8 - room) {
        near++;
        expect(within!.distance).toBeCloseTo(found.distance, 9);
      }
    }
    expect(near).toBeGreaterThan(40);
  });

  it('have a surface half a width beside the path, a height under it and at its loose end', () => {
    const side = add(add(at(-3, 4.5), scale(u, WIDTH / 2 + 0.25)), scale(d, -H / 2));
    expect(index.nearest(side, 1)!.distance).toBeCloseTo(0.25, 9);
    expect(index.nearest(add(at(-3, 4.5), scale(d, -H - 0.1)), 1)!.distance).toBeCloseTo(0.1, 9);
    expect(index.nearest(add(at(-3, 4.5), scale(d, 0.15)), 1)!.distance).toBeCloseTo(0.15, 9);
    const ahead = add(at(-3, 6.2), scale(d, -H / 2));
    expect(index.nearest(ahead, 1)!.distance).toBeCloseTo(0.2, 9);
  });

  it('count only where they do not lie beyond a plane, if one is given', () => {
    const over = add(at(-3, 4.5), scale(d, 0.15));
    expect(index.nearest(over, 1, scale(d, -1))).toBeUndefined();
    expect(index.nearest(over, 1, scale(d, -1), 0.2)!.block).toBe(4);
    expect(index.nearest(over, 1, d)!.block).toBe(4);
    expect(index.directionNear(over, 1)).toEqual(d);
    expect(index.directionNear(add(over, scale(d, 3)), 1)).toBeUndefined();
  });

  it('are found from far away', () => {
    const found = index.nearestOfAll(add(at(-3, 4.5), scale(u, -90)))!;
    expect(found.block).toBe(4);
    // 90 mm beside the path at its level: from the balls' middles, half a height lower.
    const out = Math.hypot(90 - (WIDTH - H) / 2, H / 2) - H / 2;
    expect(found.distance).toBeCloseTo(out, 6);
  });
});

it.each([1, 2])(
  'of 60 beads that lie far apart the nearest is found from anywhere, seed %d',
  (seed) => {
    const d: Vec3 = [0, 0, 1];
    const random = seeded(seed);
    const any = (size: number): Vec3 => [
      size * (random() - 0.5),
      size * (random() - 0.5),
      size * (random() - 0.5),
    ];
    const lone = Array.from({ length: 60 }, () => {
      const a = any(150);
      const turn = 6 * random();
      const far = 0.5 + 6 * random();
      return [a, add(a, [far * Math.cos(turn), far * Math.sin(turn), 0])] as const;
    });
    const index = indexOf(
      [0, 0, 0],
      d,
      lone.flatMap(([a, b]) => [
        { to: a, lays: false },
        { to: b, lays: true },
      ]),
    );
    /** From the flat strip between the middles of its outermost balls, less their radius. */
    const far = (p: Vec3, [a, b]: readonly [Vec3, Vec3]): number => {
      const on = unit(sub(b, a));
      const q = sub(p, a);
      const ahead = q[0] * on[0] + q[1] * on[1];
      const aside = Math.abs(q[1] * on[0] - q[0] * on[1]);
      const most = length(sub(b, a)) - H / 2;
      const past = Math.max(0, H / 2 - ahead, ahead - most);
      return Math.hypot(past, Math.max(0, aside - (WIDTH - H) / 2), q[2] + H / 2) - H / 2;
    };
    for (let n = 0; n < 300; n++) {
      const p = n % 2 ? any(400) : add(lone[n % 60]![0], any(8));
      const all = lone.map((bead, i) => ({ block: 2 * i + 2, far: far(p, bead) }));
      const best = all.reduce((a, b) => (b.far < a.far ? b : a));
      const found = index.nearestOfAll(p)!;
      expect(found.distance).toBeCloseTo(best.far, 9);
      expect(found.block).toBe(best.block);
      for (const within of [best.far + 0.01, best.far - 0.01]) {
        if (within < 4)
          expect(index.nearest(p, within)?.block).toBe(within > best.far ? best.block : undefined);
      }
    }
  },
);

it('a loop that closes is round where it began', () => {
  const d: Vec3 = [0, 0, 1];
  const square: Vec3[] = [
    [7, 2, 1],
    [7, 6, 1],
    [3, 6, 1],
    [3, 2, 1],
  ];
  const closed = indexOf(
    [3, 2, 1],
    d,
    square.map((to) => ({ to, lays: true })),
  );
  const open = indexOf(
    [3, 2, 1],
    d,
    square.slice(0, 3).map((to) => ({ to, lays: true })),
  );
  // 0.5 mm off the corner, across it: round to 0.35 mm.
  const p: Vec3 = [3 - 0.5 * Math.SQRT1_2, 2 - 0.5 * Math.SQRT1_2, 1 - H / 2];
  expect(closed.nearest(p, 1)!.distance).toBeCloseTo(0.5 - WIDTH / 2, 9);
  expect(open.nearest(p, 1)!.distance).toBeGreaterThan(0.5 - WIDTH / 2 + 0.05);
});
