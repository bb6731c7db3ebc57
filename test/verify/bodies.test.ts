/**
 * Points that stand for bodies: on the surface, and near every place of it; the least distance between two
 * bodies against all of their points asked one by one; cells of what is printed against plain sets.
 */
import { describe, expect, it } from 'vitest';
import { applyPoint, compose, shift, turn } from '../../lib/base/frame.js';
import { seeded } from '../../lib/base/random.js';
import { DEG, type Vec3, length, scale, sub, unit } from '../../lib/base/vector.js';
import {
  PrintedCells,
  type SampledBody,
  guardBodies,
  headBody,
  leastDistance,
  tableBody,
} from '../../lib/verify/bodies.js';
import { type Json, acJson, machineOf } from '../machine/machines.js';

const nearest = (p: Vec3, points: readonly Vec3[]): number =>
  points.reduce((least, q) => Math.min(least, length(sub(p, q))), Infinity);

function tidy(body: SampledBody): void {
  for (const { points, ball } of body.patches) {
    for (const p of points)
      expect(length(sub(p, ball.centre))).toBeLessThanOrEqual(ball.radius + 1e-9);
  }
  for (const p of body.points) {
    expect(length(sub(p, body.ball.centre))).toBeLessThanOrEqual(body.ball.radius + 1e-9);
  }
  const key = (points: readonly Vec3[]): string =>
    points
      .map((p) => p.join())
      .sort()
      .join(';');
  expect(key(body.patches.flatMap((p) => p.points))).toBe(key(body.points));
  // Points of a patch lie in one cube of 24 mm.
  for (const { points } of body.patches) {
    for (const c of [0, 1, 2])
      expect(new Set(points.map((p) => Math.floor(p[c]! / 24))).size).toBe(1);
  }
}

describe('the head', () => {
  const json = acJson();
  json.head.boxes = [{ shape: 'box', from: [10, -6, 5], to: [24, 8, 31] }];
  const machine = machineOf(json);
  const body = headBody(machine);
  const stack = machine.stack;

  it('has points within 2.5 mm of every place of its outline, and none outside it', () => {
    const random = seeded(1);
    // Flat ends and the flanks between, as radius and height.
    const ends = [{ above: 0, radius: 0 }, ...stack, { above: 60, radius: 0 }];
    for (let n = 0; n < 600; n++) {
      const i = n % (ends.length - 1);
      const [a, b, t] = [ends[i]!, ends[i + 1]!, random()];
      const r = a.radius + t * (b.radius - a.radius);
      const s = a.above + t * (b.above - a.above);
      const angle = 2 * Math.PI * random();
      expect(nearest([r * Math.cos(angle), r * Math.sin(angle), s], body.points)).toBeLessThan(2.5);
    }
    for (const p of body.points) expect(body.distance(p)).toBeLessThan(1e-9);
    tidy(body);
  });

  it('has points on its boxes, and goes with the joints of its side', () => {
    for (const p of [
      [10, -6, 5],
      [24, 8, 31],
      [17, 8, 20],
      [24, 1, 11],
    ] as Vec3[])
      expect(nearest(p, body.points)).toBeLessThan(2.5);
    expect(body.carrier).toBe(2);
    const frame = body.frame(Float64Array.from([10, 20, 30, 40, 50]));
    expect([...applyPoint(frame, [1, 2, 3])]).toEqual([11, 22, 33]);
  });
});

describe('the table', () => {
  const faces: [string, Json['table']['face'], (p: Vec3) => number][] = [
    [
      'a disc',
      { shape: 'disc', radius: 30 },
      ([x, y, z]) => Math.hypot(Math.max(0, Math.hypot(x, y) - 30), Math.max(0, z, -6 - z)),
    ],
    [
      'a rectangle',
      { shape: 'rectangle', size: [40, 20] },
      ([x, y, z]) =>
        Math.hypot(
          Math.max(0, Math.abs(x) - 20),
          Math.max(0, Math.abs(y) - 10),
          Math.max(0, z, -6 - z),
        ),
    ],
  ];
  it.each(faces)(
    '%s is a plate under its face, as far from any place as drawn',
    (_, face, want) => {
      const json = acJson();
      json.table.face = face;
      const body = tableBody(machineOf(json));
      const random = seeded(2);
      for (let n = 0; n < 300; n++) {
        const p: Vec3 = [90 * (random() - 0.5), 90 * (random() - 0.5), 30 * (random() - 0.5)];
        expect(body.distance(p)).toBeCloseTo(want(p), 9);
        const far = nearest(p, body.points);
        if (want(p) > 0) {
          expect(far).toBeGreaterThan(want(p) - 1e-9);
          expect(far).toBeLessThan(want(p) + 2.13);
        }
      }
      expect(body.carrier).toBe(4);
      tidy(body);
      // A table that is turned by +90 deg about X: its +Z looks to -Y.
      const frame = body.frame(Float64Array.from([0, 0, 0, 90 * DEG, 0]));
      const [x, y, z] = applyPoint(frame, [1, 0, 5]);
      expect([x, y, z].map((v) => Math.round(1e9 * v) / 1e9 + 0)).toEqual([1, -5, 0]);
    },
  );
});

describe('the solids of the file', () => {
  const json = acJson();
  json.obstacles = [
    {
      name: 'post',
      carriedBy: 'frame',
      solid: { shape: 'box', from: [40, 0, 0], to: [50, 9, 20] },
    },
    {
      name: 'rod',
      carriedBy: 'X',
      solid: { shape: 'cylinder', from: [0, 0, 80], to: [0, 30, 80], radius: 4 },
    },
  ];
  const [post, rod] = guardBodies(machineOf(json));
  it('stand in machine coordinates, and go with what carries them', () => {
    expect([post!.name, post!.carrier, rod!.name, rod!.carrier]).toEqual([
      '"post"',
      -1,
      '"rod"',
      0,
    ]);
    const joints = Float64Array.from([7, 8, 9, 1, 2]);
    expect([...applyPoint(post!.frame(joints), [1, 2, 3])]).toEqual([1, 2, 3]);
    expect([...applyPoint(rod!.frame(joints), [1, 2, 3])]).toEqual([8, 2, 3]);
    expect(post!.distance([60, 9, 20])).toBeCloseTo(10, 9);
    expect(rod!.distance([0, 10, 90])).toBeCloseTo(6, 9);
    tidy(post!);
    tidy(rod!);
  });

  it.each([1, 2])('are as near to each other as any two of their points, seed %d', (seed) => {
    const random = seeded(seed);
    const any = (): Vec3 => [random() - 0.5, random() - 0.5, random() - 0.5];
    let touching = 0;
    for (let n = 0; n < 150; n++) {
      // The post's points in the rod's frame, at any turn and place.
      const frame = compose(
        shift(scale(any(), 60)),
        compose(turn(unit(any()), 6 * random()), shift([-45, -5, -10])),
      );
      let asked = 0;
      const { gap, point } = leastDistance(post!, frame, (p) => {
        asked++;
        const q: Vec3 = [p[0], p[1] + 15, p[2] + 80];
        return rod!.distance(q);
      });
      const distances = post!.points.map((p) => {
        const q = applyPoint(frame, p);
        return rod!.distance([q[0], q[1] + 15, q[2] + 80]);
      });
      const least = Math.min(...distances);
      expect(gap).toBeCloseTo(least, 9);
      expect(distances[post!.points.indexOf(point!)]).toBeCloseTo(least, 9);
      expect(asked).toBeGreaterThan(0);
      if (least === 0) touching++;
    }
    expect(touching).toBeGreaterThan(2);
  });
});

it('cells of what is printed are those in which a point lies, once each, seed 3', () => {
  const random = seeded(3);
  const corner: Vec3 = [-21.6, -11.6, -1.6];
  const cells = new PrintedCells(corner);
  const coarse = new Map<string, Set<string>>();
  for (let n = 0; n < 2000; n++) {
    const p: Vec3 = [50 * random() - 20, 30 * random() - 10, 12 * random()];
    const key = (size: number): string =>
      p
        .map((v, c) => corner[c]! + size * (Math.floor((v - corner[c]!) / size) + 0.5))
        .map((v) => v.toFixed(6))
        .join();
    const isNew = !coarse.has(key(8));
    coarse.set(key(8), (coarse.get(key(8)) ?? new Set()).add(key(1)));
    expect(cells.add(p)).toBe(isNew);
  }
  const show = (p: Vec3): string => p.map((v) => v.toFixed(6)).join();
  expect(cells.middles.map(show)).toEqual([...coarse.keys()]);
  cells.middles.forEach((middle, cell) => {
    const fine = cells.finePoints(cell).map(show);
    expect(fine).toEqual([...coarse.get(show(middle))!]);
  });
  expect(PrintedCells.half).toBeCloseTo(Math.hypot(4, 4, 4), 9);
});
