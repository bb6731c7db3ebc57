/**
 * Boxes over a surface and the heights of links over them, in closed form. The head of the test machine
 * (`stack` in machines.ts) is a cone of radius 0.4 to 4 mm up to 8 mm over the tip, then a block of radius 9 that
 * widens to 18 at 30 mm and to 22 at 60 mm; it keeps a clearance of 1 mm.
 */
import { describe, expect, it } from 'vitest';
import { applyPoint, compose, identity, inverse, shift, turn } from '../../lib/base/frame.js';
import { seeded } from '../../lib/base/random.js';
import { type Vec3, unit } from '../../lib/base/vector.js';
import { meshFrom } from '../../lib/mesh/build.js';
import { moved } from '../../lib/mesh/build.js';
import { boxesOf, turnedBox } from '../../lib/order/boxes.js';
import { skylineOf } from '../../lib/order/skyline.js';
import { acJson, machineOf } from '../machine/machines.js';
import { cuboid } from '../support/shapes.js';

const cellsOf = (boxes: Float64Array): number[][] =>
  Array.from({ length: boxes.length / 6 }, (_, i) => [...boxes.subarray(6 * i, 6 * i + 6)]);

describe('boxes', () => {
  it.each([1, 2, 3])(
    'of small facets: one for each cell of 2 mm that holds middles (seed %i)',
    (seed) => {
      const random = seeded(seed);
      const corners: number[][] = [];
      const want = new Map<string, number[]>();
      for (let n = 0; n < 300; n++) {
        const middle = [0, 1, 2].map(() => 2 * Math.floor(6 * random() - 3) + 0.2 + 1.6 * random());
        // Corners 0.1 mm about their middle, which stays where it is.
        const [u, w] = [0, 1].map(() => [0, 1, 2].map(() => 0.1 * (random() - 0.5))) as [number[], number[]]; // prettier-ignore
        const own = [u, w, u.map((x, c) => -x - w[c]!)].map((d) => d.map((x, c) => x + middle[c]!));
        corners.push(...own);
        const key = middle.map((x) => Math.floor(x / 2)).join();
        const box = want.get(key) ?? [
          Infinity,
          Infinity,
          Infinity,
          -Infinity,
          -Infinity,
          -Infinity,
        ];
        for (const p of own) {
          p.forEach((x, c) => {
            box[c] = Math.min(box[c]!, x);
            box[3 + c] = Math.max(box[3 + c]!, x);
          });
        }
        want.set(key, box);
      }
      const mesh = meshFrom(Float64Array.from(corners.flat()), Uint32Array.from(corners.keys()));
      expect(cellsOf(boxesOf(mesh)).sort()).toEqual([...want.values()].sort());
    },
  );

  it.each([1, 2, 3])('of large facets hold every place of them and are small (seed %i)', (seed) => {
    const random = seeded(seed);
    const corners = Array.from({ length: 9 }, () => [0, 1, 2].map(() => 30 * random() - 10));
    const mesh = meshFrom(Float64Array.from(corners.flat()), Uint32Array.from(corners.keys()));
    const boxes = cellsOf(boxesOf(mesh));
    // Edges up to 2 mm: a corner is at most two thirds of a median of 2 mm from the middle of its piece.
    for (const b of boxes) for (let c = 0; c < 3; c++) expect(b[c + 3]! - b[c]!).toBeLessThan(2 + 8 / 3); // prettier-ignore
    for (let n = 0; n < 600; n++) {
      const [r, s] = [random(), random()];
      const [u, w] = r + s > 1 ? [1 - r, 1 - s] : [r, s];
      const f = 3 * (n % 3);
      const p = [0, 1, 2].map(
        (c) => corners[f]![c]! * (1 - u - w) + corners[f + 1]![c]! * u + corners[f + 2]![c]! * w,
      );
      const held = boxes.some((b) => p.every((x, c) => x >= b[c]! - 1e-9 && x <= b[c + 3]! + 1e-9));
      expect(held).toBe(true);
    }
  });

  it('turned reach as far as their eight corners (200 frames, seed 4)', () => {
    const random = seeded(4);
    for (let n = 0; n < 200; n++) {
      const some = (): Vec3 => [random() - 0.5, random() - 0.5, random() - 0.5];
      const frame = compose(shift(some()), turn(unit(some()), 6 * random()));
      const [a, b] = [some(), some()];
      const low = a.map((x, c) => Math.min(x, b[c]!));
      const high = a.map((x, c) => Math.max(x, b[c]!));
      const boxes = Float64Array.of(9, 9, 9, 9, 9, 9, ...low, ...high);
      const corners = Array.from({ length: 8 }, (_, k) =>
        applyPoint(frame, [0, 1, 2].map((c) => ((k >> c) & 1 ? high : low)[c]!) as never),
      );
      turnedBox(frame, boxes, 6).forEach(([least, most], c) => {
        expect(least).toBeCloseTo(Math.min(...corners.map((p) => p[c]!)), 12);
        expect(most).toBeCloseTo(Math.max(...corners.map((p) => p[c]!)), 12);
      });
    }
  });
});

describe('links', () => {
  const machine = machineOf(acJson());

  /** How far a point may stand over the tip at a distance from the axis of the head. */
  function free(aside: number): number {
    if (aside < 1.4) return -1;
    if (aside < 5) return (8 * (aside - 1.4)) / 3.6 - 1;
    if (aside < 10) return 8 - 1;
    if (aside < 19) return 8 + (22 * (aside - 10)) / 9 - 1;
    if (aside < 23) return 30 + (30 * (aside - 19)) / 4 - 1;
    return Infinity;
  }

  /** Least distance of a point from a segment, by thirds. */
  function gap([x, y]: readonly number[], [x0, y0, x1, y1]: readonly number[]): number {
    const at = (s: number): number => Math.hypot(x0! + s * (x1! - x0!) - x!, y0! + s * (y1! - y0!) - y!); // prettier-ignore
    let [low, high] = [0, 1];
    for (let i = 0; i < 80; i++) {
      const [a, b] = [low + (high - low) / 3, high - (high - low) / 3];
      if (at(a) < at(b)) high = b;
      else low = a;
    }
    return at((low + high) / 2);
  }

  /** Layer space turned by a quarter about X and moved, so that the posts stand along Y of the part. */
  const frames = [identity(), compose(shift([3, -4, 5]), turn([1, 0, 0], Math.PI / 2))];

  it.each([
    [0, 1],
    [0, 2],
    [1, 3],
    [1, 4], // prettier-ignore
  ])('pass over or beside posts as the head is wide (frame %i, seed %i)', (which, seed) => {
    const random = seeded(seed);
    const frame = frames[which]!;
    const posts = [0, 1, 2].map(() => ({
      at: [40 * random() - 20, 40 * random() - 20] as const,
      top: 5 + 35 * random(),
    }));
    const skyline = skylineOf(
      machine,
      frame,
      posts.map(({ at, top }) =>
        boxesOf(moved(cuboid([0.2, 0.2, top], [at[0], at[1], 0]), inverse(frame))),
      ),
    );
    let [over, beside] = [0, 0];
    for (let n = 0; n < 300; n++) {
      const link = [0, 0, 0, 0].map(() => 90 * random() - 45) as [number, number, number, number];
      if (n % 10 === 0) [link[2], link[3]] = [link[0], link[1]];
      const from = 1 + 20 * random();
      const height = skyline.least(...link, from);
      const need = (nearer: number): number =>
        Math.max(from, ...posts.map((p) => p.top - free(gap(p.at, link) + nearer)));
      // A cell reaches up to its diagonal nearer, its half diagonal is taken off, and heights come in halves.
      expect(height).toBeGreaterThanOrEqual(need(0.15) - 1e-6);
      expect(height).toBeLessThanOrEqual(need(-2 * Math.SQRT2 - 0.15) + 0.5 + 1e-6);
      if (height > from) over++;
      else if (posts.some((p) => p.top > from)) beside++;
    }
    expect(over).toBeGreaterThan(30);
    expect(beside).toBeGreaterThan(30);
  });

  it('keep their own height where nothing stands, or nothing so high', () => {
    expect(skylineOf(machine, identity(), []).least(0, 0, 9, 9, 4)).toBe(4);
    const low = skylineOf(machine, identity(), [boxesOf(cuboid([10, 10, 5]))]);
    expect(low.least(-20, 0, 20, 0, 5)).toBe(5);
    expect(low.least(-20, 0, 20, 0, 6)).toBe(6);
    // Under the tip the clearance of 1 mm is kept.
    expect(low.least(-20, 0, 20, 0, 4)).toBe(6);
  });

  it('go over every cell of a long box, at both of its ends too', () => {
    const wall = skylineOf(machine, identity(), [boxesOf(cuboid([40, 1, 12], [0.5, 0.3, 0]))]);
    for (let x = -19; x <= 20; x += 0.5) {
      expect(wall.least(x, -5, x, 5, 0.2)).toBe(13);
      expect(wall.least(x, 0.3, x, 0.3, 0.2)).toBe(13);
    }
    const across = skylineOf(machine, identity(), [boxesOf(cuboid([1, 40, 12], [0.3, 0.5, 0]))]);
    for (let y = -19; y <= 20; y += 0.5) expect(across.least(-5, y, 5, y, 0.2)).toBe(13);
  });
});
