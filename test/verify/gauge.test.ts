/**
 * Distances from the head to places of the part against a brute-force count: the head's profile as points
 * 0.01 mm apart, its boxes by the closed form (as meshes of twelve facets they are the same solids). A bound
 * never lies above the distance, and not far below it either.
 */
import { describe, expect, it } from 'vitest';
import { type Frame, applyPoint, compose, inverse, shift, turn } from '../../lib/base/frame.js';
import { seeded } from '../../lib/base/random.js';
import { type Vec3, scale, sub, unit } from '../../lib/base/vector.js';
import type { Machine } from '../../lib/machine/machine.js';
import { treeOf } from '../../lib/mesh/bvh.js';
import { Gauge } from '../../lib/verify/gauge.js';
import { acJson, machineOf } from '../machine/machines.js';
import { cuboid } from '../support/shapes.js';

type Stack = Machine['stack'];
interface Box {
  readonly from: Vec3;
  readonly to: Vec3;
}

const STEP = 0.01;

/** Points of the profile as packed radius and height: flat end, flanks, flat top. */
function profile(stack: Stack): Float64Array {
  const ends = [
    { above: stack[0]!.above, radius: 0 },
    ...stack,
    { above: stack.at(-1)!.above, radius: 0 },
  ];
  const out: number[] = [];
  for (let i = 1; i < ends.length; i++) {
    const [a, b] = [ends[i - 1]!, ends[i]!];
    const far = Math.hypot(b.above - a.above, b.radius - a.radius);
    const n = Math.max(1, Math.ceil(far / STEP));
    for (let k = 0; k <= n; k++) {
      const share = k / n;
      out.push(a.radius + share * (b.radius - a.radius), a.above + share * (b.above - a.above));
    }
  }
  return Float64Array.from(out);
}

/** True if a place lies in the turned profile: its radius is less than that of the flank at its height. */
const inProfile = (stack: Stack, r: number, s: number): boolean =>
  stack.some((a, i) => {
    const b = stack[i + 1];
    if (!b || s < a.above || s >= b.above) return false;
    return r <= a.radius + ((s - a.above) / (b.above - a.above)) * (b.radius - a.radius);
  });

function byCounting(stack: Stack, points: Float64Array, boxes: readonly Box[], p: Vec3): number {
  const r = Math.hypot(p[0], p[1]);
  let least = inProfile(stack, r, p[2]) ? 0 : Infinity;
  for (let i = 0; i < points.length && least > 0; i += 2) {
    least = Math.min(least, Math.hypot(points[i]! - r, points[i + 1]! - p[2]));
  }
  for (const { from, to } of boxes) {
    // The nearest point of a box has each coordinate clamped to it.
    const q = p.map((x, c) => Math.min(to[c]!, Math.max(from[c]!, x)));
    least = Math.min(least, Math.hypot(...q.map((x, c) => x - p[c]!)));
  }
  return least;
}

const heads: [string, Stack, Box[]][] = [
  ['nozzle, block and cone', machineOf(acJson()).stack, []],
  [
    'a slender nozzle that ends in a wide plate',
    [
      { above: 0, radius: 0.3 },
      { above: 14, radius: 1.1 },
      { above: 14, radius: 16 },
      { above: 17, radius: 16 },
    ],
    [],
  ],
  [
    'a head with a fan beside it and a block across',
    machineOf(acJson()).stack,
    [
      { from: [10, -6, 5], to: [24, 8, 31] },
      { from: [-13, -30, 11], to: [9, -4, 16] },
    ],
  ],
];

describe.each(heads)('%s', (_head, stack, boxes) => {
  const json = acJson();
  json.head.stack = stack.map((p) => ({ ...p }));
  json.head.boxes = boxes.map(({ from, to }) => ({
    shape: 'box' as const,
    from: [...from],
    to: [...to],
  }));
  const boxed = machineOf(json);
  const meshed = boxes.map(({ from, to }) => {
    const middle: Vec3 = [(from[0] + to[0]) / 2, (from[1] + to[1]) / 2, from[2]];
    return { tree: treeOf(cuboid(sub(to, from), middle)), outline: [] };
  });
  const points = profile(stack);

  it.each([
    ['boxes as boxes, seed 1', 1, boxed],
    ['boxes as boxes, seed 2', 2, boxed],
    ['boxes as meshes, seed 3', 3, { ...boxed, headBoxes: [], headMeshes: meshed }],
  ])('is as far from any place as counted, and no bound is above: %s', (_, seed, machine) => {
    const gauge = new Gauge(machine);
    const random = seeded(seed);
    const any = (size: number): Vec3 => [
      size * (random() - 0.5),
      size * (random() - 0.5),
      size * (random() - 0.5),
    ];
    const frame: Frame = compose(shift(scale(any(1), 80)), turn(unit(any(1)), 6 * random()));
    gauge.frame = frame;
    for (let n = 0; n < 250; n++) {
      // Half of them close to the tip, where it matters.
      const near = n % 2 === 0;
      const [x, y, z] = near ? any(24) : any(110);
      const head: Vec3 = [x, y, z + (near ? 8 : 25)];
      const place = applyPoint(inverse(frame), head);
      const want = byCounting(stack, points, boxes, head);
      const exact = gauge.exact(...place);
      expect(Math.abs(exact - want)).toBeLessThan(STEP);
      expect(gauge.height).toBeCloseTo(head[2], 9);
      const bound = gauge.bound(...place);
      // Float32 holds distances below 128 mm to 4e-6.
      expect(bound).toBeLessThanOrEqual(exact + 1e-5);
      expect(gauge.height).toBeCloseTo(head[2], 9);
      // A cell is 0.1 mm wide, and no place of it farther apart than its diagonal.
      expect(bound).toBeGreaterThan(exact - 0.1 * Math.SQRT2 - 1e-5);
    }
  });

  it('far under the tip, over the top and aside too, wherever the cells end', () => {
    const gauge = new Gauge(boxed);
    const [least, most] = [-60, Math.max(...stack.map((p) => p.above)) + 60];
    const off: Vec3[] = [];
    const look = (p: Vec3): void => {
      const [bound, exact] = [gauge.bound(...p), gauge.exact(...p)];
      if (!(bound <= exact + 1e-5 && bound > exact - 0.1 * Math.SQRT2 - 1e-5)) off.push(p);
    };
    for (let s = least; s < most; s += 0.05) look([0.3, 0.2, s]);
    for (let r = 0; r < 100; r += 0.05) look([0.6 * r, 0.8 * r, 2]);
    expect(off).toEqual([]);
  });
});
