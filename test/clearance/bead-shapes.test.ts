/**
 * Beads as convex shapes against their definition: a middle line, a flat across it and at its ends, rounded
 * by half the height. Extents along a direction follow from that (support function of a sum of segments and
 * a ball); on which side of a plane a bead lies is counted bead by bead.
 */
import { describe, expect, it } from 'vitest';
import {
  type Frame,
  applyDirection,
  applyPoint,
  compose,
  shift,
  turn,
} from '../../lib/base/frame.js';
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
import { type BeadShapes, beadsOf } from '../../lib/clearance/bead-shapes.js';
import { Scratch } from '../../lib/clearance/convex/support-shape.js';
import type { Paths } from '../../lib/paths/paths.js';

interface PlannedBead {
  readonly points: readonly Vec3[];
  readonly width: number;
  readonly height: number;
}

function pathsOf(beads: readonly PlannedBead[]): Paths {
  const start = [0];
  beads.forEach((b) => start.push(start.at(-1)! + b.points.length));
  const each = (of: (b: PlannedBead) => number): Float64Array =>
    Float64Array.from(beads.flatMap((b) => b.points.map(() => of(b))));
  return {
    points: Float64Array.from(beads.flatMap((b) => b.points.flat())),
    width: each((b) => b.width),
    height: each((b) => b.height),
    start: Uint32Array.from(start),
  } as unknown as Paths;
}

const vec = (random: () => number, size: number): Vec3 => [
  size * (random() - 0.5),
  size * (random() - 0.5),
  size * (random() - 0.5),
];

/** Short stretches, mostly level; a few climb, and one in eight is as high as it is wide. */
function some(seed: number, count: number): PlannedBead[] {
  const random = seeded(seed);
  return Array.from({ length: count }, (_, i) => {
    const a = vec(random, 20);
    const by = scale(unit(vec(random, 1)), 0.3 + 2.5 * random());
    const b: Vec3 = [a[0] + by[0], a[1] + by[1], i % 4 === 0 ? a[2] + by[2] : a[2]];
    const height = 0.1 + 0.3 * random();
    return { points: [a, b], width: i % 8 === 0 ? height : height + random(), height };
  });
}

/** Farthest that a bead reaches along a unit direction of the frame in which it stands. */
function reach({ points, width, height }: PlannedBead, f: Frame, d: Vec3): number {
  const down: Vec3 = [0, 0, -height / 2];
  const [a, b] = [add(points[0]!, down), add(points[1]!, down)];
  const level: Vec3 = [b[0] - a[0], b[1] - a[1], 0];
  const on = length(level) > 0 ? unit(level) : ([1, 0, 0] as Vec3);
  const aside = cross([0, 0, 1], on);
  const flat = (width - height) / 2;
  const ends = [applyPoint(f, sub(a, scale(on, flat))), applyPoint(f, add(b, scale(on, flat)))];
  const across = flat * Math.abs(dot(applyDirection(f, aside), d));
  return Math.max(...ends.map((p) => dot(p, d))) + across + height / 2;
}

describe.each([1, 2, 3])('beads of one stretch, seed %d', (seed) => {
  const planned = some(seed, 60);
  const beads = beadsOf(pathsOf(planned));

  it('are one shape each, in order, of the extent that follows from their section', () => {
    expect(beads.count).toBe(planned.length);
    expect(Array.from(beads.path)).toEqual(planned.map((_, i) => i));
    const random = seeded(seed + 100);
    const shape = new Scratch();
    const out = new Float64Array(3);
    planned.forEach((bead, i) => {
      const f = compose(shift(vec(random, 30)), turn(unit(vec(random, 1)), 6 * random()));
      const by = vec(random, 10);
      beads.take(i, shape, f, ...by);
      for (let n = 0; n < 20; n++) {
        const d = unit(vec(random, 1));
        shape.support(...d, out, 0);
        const far = dot([out[0]!, out[1]!, out[2]!], d) + shape.margin;
        expect(far).toBeCloseTo(reach(bead, f, d) - dot(by, d), 9);
      }
    });
  });

  it('with directions of their own are those beads, turned', () => {
    const random = seeded(seed + 200);
    const shape = new Scratch();
    const out = new Float64Array(3);
    const q = turn(unit(vec(random, 1)), 6 * random());
    const level = planned.filter(({ points: [a, b] }) => a![2] === b![2]);
    const paths = pathsOf(
      level.map((bead) => ({ ...bead, points: bead.points.map((p) => applyPoint(q, p)) })),
    );
    const up = applyDirection(q, [0, 0, 1]);
    const own = beadsOf({
      ...paths,
      directions: Float64Array.from(paths.points, (_, i) => up[i % 3]!),
    });
    level.forEach((bead, i) => {
      const f = compose(shift(vec(random, 30)), turn(unit(vec(random, 1)), 6 * random()));
      const by = vec(random, 10);
      own.take(i, shape, f, ...by);
      for (let n = 0; n < 20; n++) {
        const d = unit(vec(random, 1));
        shape.support(...d, out, 0);
        const far = dot([out[0]!, out[1]!, out[2]!], d) + shape.margin;
        expect(far).toBeCloseTo(reach(bead, compose(f, q), d) - dot(by, d), 9);
      }
    });
  });

  it('lie in their boxes, which are no larger than a bead turned to any side in its layer', () => {
    const still = turn([0, 0, 1], 0);
    planned.forEach((bead, i) => {
      for (let c = 0; c < 3; c++) {
        const axis = [0, 1, 2].map((k) => (k === c ? 1 : 0)) as unknown as Vec3;
        const [high, low] = [reach(bead, still, axis), -reach(bead, still, scale(axis, -1))];
        const [middle, half] = [beads.boxes[6 * i + c]!, beads.boxes[6 * i + 3 + c]!];
        expect(middle + half).toBeGreaterThan(high - 1e-9);
        expect(middle - half).toBeLessThan(low + 1e-9);
        const most = c < 2 ? (Math.SQRT2 * (bead.width - bead.height)) / 2 : 0;
        const span = Math.abs(bead.points[0]![c]! - bead.points[1]![c]!);
        expect(2 * half).toBeCloseTo(span + bead.height + 2 * most, 9);
      }
    });
  });

  it('are parted by any plane: those under it rise over it by at most half their height', () => {
    const random = seeded(seed + 200);
    const shapes = (b: BeadShapes): string[] =>
      Array.from({ length: b.count }, (_, i) => b.data.subarray(8 * i, 8 * i + 8).join(' '));
    const whole = shapes(beads);
    for (let n = 0; n < 20; n++) {
      const plane = { point: vec(random, 16), normal: unit(vec(random, 1)) };
      const isUnder = planned.map(({ points, height }) =>
        points.every(
          (p) => dot(sub(add(p, [0, 0, -height / 2]), plane.point), plane.normal) <= height / 2,
        ),
      );
      const { under, beside } = beads.parted(plane);
      expect(shapes(under)).toEqual(whole.filter((_, i) => isUnder[i]));
      expect(shapes(beside)).toEqual(whole.filter((_, i) => !isUnder[i]));
      expect(Array.from(under.path)).toEqual(planned.flatMap((_, i) => (isUnder[i] ? [i] : [])));
    }
  });
});

it('all on one side of a plane there are none on the other', () => {
  const beads = beadsOf(pathsOf(some(4, 10)));
  const high = beads.parted({ point: [0, 0, 90], normal: [0, 0, 1] });
  expect([high.under.count, high.beside.count]).toEqual([10, 0]);
  const low = beads.parted({ point: [0, 0, -90], normal: [0, 0, 1] });
  expect([low.under.count, low.beside.count]).toEqual([0, 10]);
});

it('a stretch longer than 3 mm is beads in a row that end where the next ones begin', () => {
  const [a, b]: Vec3[] = [
    [1, 2, 0.2],
    [9, 8, 0.2],
  ];
  // 10 mm in four beads, their middles 0.1 mm under the tip.
  const beads = beadsOf(pathsOf([{ points: [a!, b!], width: 0.45, height: 0.2 }]));
  expect(beads.count).toBe(4);
  for (let k = 0; k < 4; k++) {
    const want = [k / 4, (k + 1) / 4].flatMap((s) => add(along(a!, sub(b!, a!), s), [0, 0, -0.1]));
    want.forEach((x, c) => expect(beads.data[8 * k + c]).toBeCloseTo(x, 12));
    expect(beads.data[8 * k + 6]).toBeCloseTo(0.125, 12);
    expect(beads.data[8 * k + 7]).toBeCloseTo(0.1, 12);
  }
});

describe('beads that are joined where the path is straight', () => {
  const line = (width: number[], height: number[]): Paths =>
    ({
      points: Float64Array.from([0, 1, 2, 3, 4].flatMap((x) => [x / 2, 0, 1])),
      width: Float64Array.from(width),
      height: Float64Array.from(height),
      start: Uint32Array.of(0, 5),
    }) as unknown as Paths;

  it('are one of the greatest width and height', () => {
    const { count, data } = beadsOf(
      line([0.4, 0.4, 0.41, 0.42, 0.41], [0.2, 0.2, 0.19, 0.2, 0.21]),
      0.02,
    );
    expect(count).toBe(1);
    [0, 0, 1 - 0.105, 2, 0, 1 - 0.105, 0.21 - 0.105, 0.105].forEach((x, c) =>
      expect(data[c]).toBeCloseTo(x, 12),
    );
  });

  it.each([
    ['width', [0.4, 0.4, 0.4, 0.5, 0.5], [0.2, 0.2, 0.2, 0.2, 0.2]],
    ['height', [0.4, 0.4, 0.4, 0.4, 0.4], [0.2, 0.2, 0.2, 0.3, 0.3]],
  ])('are two where their %s changes', (_, width, height) => {
    const { count, data } = beadsOf(line(width, height), 0.02);
    expect(count).toBe(2);
    expect(data[3]).toBe(1);
    expect(data[8]).toBe(1);
  });

  it('are as many as there are stretches without a tolerance', () => {
    expect(beadsOf(line([1, 1, 1, 1, 1], [0.2, 0.2, 0.2, 0.2, 0.2])).count).toBe(4);
  });
});
