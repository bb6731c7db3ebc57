/**
 * Signed distances of convex shapes against closed forms (derived beside each), in random poses.
 */
import { describe, expect, it, test } from 'vitest';
import { type Frame, applyPoint, compose, inverse, shift, turn } from '../../../lib/base/frame.js';
import { seeded } from '../../../lib/base/random.js';
import { type Vec3, length, scale, sub, unit } from '../../../lib/base/vector.js';
import { ConvexDistance } from '../../../lib/clearance/convex/convex-distance.js';
import {
  type ConvexShape,
  boxShape,
  hull,
  roundShape,
} from '../../../lib/clearance/convex/support-shape.js';

const prober = new ConvexDistance();

function randomFrame(random: () => number): Frame {
  const v = (): Vec3 => [random() - 0.5, random() - 0.5, random() - 0.5];
  return compose(shift(scale(v(), 200)), turn(unit(v()), 6 * random()));
}

/** Both shapes are turned and shifted alike; the gap must not notice. */
function gapInPoses(a: ConvexShape, b: ConvexShape, want: number, tolerance = 1e-9): void {
  const random = seeded(3);
  for (let n = 0; n < 20; n++) {
    // A frame on one shape alone is undone by moving the other: b seen from a turned a.
    const f = randomFrame(random);
    expect(Math.abs(prober.distance(a, f, moved(b, f)) - want)).toBeLessThan(tolerance);
  }
}

/** The shape with its points and rings carried by a frame. */
function moved(s: ConvexShape, f: Frame): ConvexShape {
  const points: Vec3[] = [];
  for (let i = 0; i < s.points.length; i += 3) {
    points.push(applyPoint(f, [s.points[i]!, s.points[i + 1]!, s.points[i + 2]!]));
  }
  if (s.rings.length === 0) return hull(points, s.margin);
  const rings = [];
  for (let i = 0; i < s.rings.length; i += 4) {
    const centre = applyPoint(f, [s.rings[i]!, s.rings[i + 1]!, s.rings[i + 2]!]);
    rings.push({ centre, radius: s.rings[i + 3]! });
  }
  return roundShape(rings, unit(sub(applyPoint(f, s.axis), applyPoint(f, [0, 0, 0]))));
}

const ball = (centre: Vec3, radius: number): ConvexShape => hull([centre], radius);
const capsule = (a: Vec3, b: Vec3, radius: number): ConvexShape => hull([a, b], radius);

describe('closed forms to 1e-9, 20 poses each, seed 3', () => {
  const box = boxShape([-3, -4, -5], [3, 4, 5]);
  // Distance from a point to a box: hypot of what lies outside along each axis.
  it.each([
    ['beside a face', [10, 0, 0], 2, 5],
    ['beside an edge', [6, 8, 0], 2, 3],
    ['beside a corner', [5, 7, 11], 2, 5],
    ['into a face', [4, 1, 1], 2, -1],
    ['centre inside: 1 to the nearest face and the radius', [2, 0, 0], 2, -3],
  ] as const)('sphere against box, %s', (_, centre, radius, want) => {
    gapInPoses(ball(centre, radius), box, want);
  });

  test('cone against disc', () => {
    // Cone: apex at the origin, opening up to radius 3 at height 4 (half-angle atan 3/4, flank 5 long).
    const cone = roundShape(
      [
        { centre: [0, 0, 0], radius: 0 },
        { centre: [0, 0, 4], radius: 3 },
      ],
      [0, 0, 1],
    );
    const disc = (centre: Vec3, radius: number, axis: Vec3): ConvexShape =>
      roundShape([{ centre, radius }], axis);
    // Under the apex.
    gapInPoses(cone, disc([0, 0, -2.5], 7, [0, 0, 1]), 2.5);
    // Rim at (6, 0, 1): distance to the flank z = 4 x / 3, normal (4, -3) / 5 -> (24 - 3) / 5; its foot
    // is (6, 1) - 4.2 (0.8, -0.6) = (2.64, 3.52), on the flank.
    gapInPoses(cone, disc([9, 0, 1], 3, [0, 0, 1]), 4.2);
    // A disc square to x, centre at height 2: the top rim's nearest point is (3, 0, 4), 5 aside.
    gapInPoses(cone, disc([8, 0, 4], 1, [1, 0, 0]), 5);
    // Over the top, its nearest rim point 1 aside and 2 over the rim of the cone's top.
    gapInPoses(cone, disc([6, 0, 6], 2, [0, 0, 1]), Math.sqrt(5));
  });

  test('capsule against capsule', () => {
    // Crossed axes 7 apart; skew ends 3-4-5; parallel axes 5 apart.
    gapInPoses(capsule([-5, 0, 0], [5, 0, 0], 1), capsule([0, -5, 7], [0, 5, 7], 2), 4);
    gapInPoses(capsule([-5, 0, 0], [0, 0, 0], 1), capsule([3, 4, 0], [9, 4, 0], 1), 3);
    gapInPoses(capsule([-5, 0, 0], [5, 0, 0], 1), capsule([-2, 3, 4], [2, 3, 4], 1), 3);
    gapInPoses(capsule([-5, 0, 0], [5, 0, 0], 2), capsule([0, -5, 3], [0, 5, 3], 2), -1);
  });

  test('box into box by its least overlap', () => {
    gapInPoses(boxShape([0, 0, 0], [4, 4, 4]), boxShape([3, 1, -1], [9, 9, 9]), -1);
    gapInPoses(boxShape([0, 0, 0], [4, 4, 4]), boxShape([1, 1, 1], [3, 3, 3]), -3);
  });
});

test('the nearest point of a box to a ball outside is its centre, each coordinate held within the box, seed 12', () => {
  const random = seeded(12);
  const size: Vec3 = [3, 4, 5];
  const box = boxShape([-3, -4, -5], size);
  for (let n = 0; n < 500; n++) {
    const centre = size.map((c) => 4 * c * (random() - 0.5)) as unknown as Vec3;
    const held = centre.map((x, c) =>
      Math.min(size[c]!, Math.max(-size[c]!, x)),
    ) as unknown as Vec3;
    const far = length(sub(centre, held));
    if (far < 0.01) continue;
    expect(prober.distance(ball(centre, 0.005), undefined, box)).toBeCloseTo(far - 0.005, 9);
    expect(length(sub([...prober.at] as unknown as Vec3, held))).toBeLessThan(1e-6);
  }
});

test('a swept shape has the least gap of 2,000 places of its sweep, 60 pairs, seed 5', () => {
  const random = seeded(5);
  const v = (size: number): Vec3 => [
    size * (random() - 0.5),
    size * (random() - 0.5),
    size * (random() - 0.5),
  ];
  for (let n = 0; n < 60; n++) {
    const a = hull([v(6), v(6), v(6), v(6)], random());
    const b = hull([v(6), v(6)], random());
    const by = v(30);
    const frame = shift(v(30));
    const swept = prober.distance(a, frame, b, Float64Array.from(by));
    let least = Infinity;
    for (let i = 0; i <= 2000; i++) {
      const here = compose(shift(scale(by, i / 2000)), frame);
      least = Math.min(least, prober.distance(a, here, b));
    }
    if (least <= 0) expect(swept).toBeLessThanOrEqual(1e-9);
    else {
      expect(swept).toBeLessThanOrEqual(least + 1e-9);
      expect(swept).toBeGreaterThan(least - length(by) / 2000);
    }
  }
});

test('depth never promises less than the supports of 4,000 directions, 40 pairs, seed 8', () => {
  const random = seeded(8);
  const v = (size: number): Vec3 => [
    size * (random() - 0.5),
    size * (random() - 0.5),
    size * (random() - 0.5),
  ];
  for (let n = 0; n < 40; n++) {
    const f = randomFrame(random);
    const a = hull([v(8), v(8), v(8), v(8), v(8), v(8)]);
    const b = roundShape(
      [
        { centre: [0, 0, -2], radius: 2 },
        { centre: [0, 0, 2], radius: 1 },
      ],
      [0, 0, 1],
    );
    const depth = -prober.distance(a, undefined, b);
    // Depth is the least width of the overlap over all directions.
    let least = Infinity;
    const out = new Float64Array(3);
    for (let k = 0; k < 4000; k++) {
      const d = unit(v(1));
      a.support(d[0], d[1], d[2], out, 0);
      const far = d[0] * out[0]! + d[1] * out[1]! + d[2] * out[2]!;
      b.support(-d[0], -d[1], -d[2], out, 0);
      least = Math.min(least, far - (d[0] * out[0]! + d[1] * out[1]! + d[2] * out[2]!));
    }
    if (depth < 0) continue;
    expect(depth).toBeLessThanOrEqual(least + 1e-6);
    expect(depth).toBeGreaterThan(0.9 * least - 0.02);
    expect(prober.distance(a, f, moved(b, f))).toBeCloseTo(-depth, 5);
  }
});

test('inverse frames give the same gap', () => {
  const f = randomFrame(seeded(2));
  const a = boxShape([0, 0, 0], [1, 2, 3]);
  const b = boxShape([-9, -8, -7], [-6, -5, -4]);
  expect(prober.distance(a, f, b)).toBeCloseTo(prober.distance(b, inverse(f), a), 9);
});

it('a disc seen along its axis but for rounding: a triangle swept 20 mm over a table tilted by 45 deg', () => {
  // The table's axis as it comes out of a product of frames, a unit vector to within rounding.
  const axis: Vec3 = [0, -0.7071067811865475, 0.7071067811865476];
  const rings = [
    { centre: [11.603730052946933, 19.785924206008843, -18.634235679733653] as Vec3, radius: 80 },
    { centre: [11.603730052946933, 14.129069956516464, -12.977381430241273] as Vec3, radius: 80 },
  ];
  const corners: Vec3[] = [
    [-0.970073513686657, -0.40181760489940643, 1],
    [-2.7716386318206787, -1.148050308227539, 4],
    [-0.9826874062418938, -0.36465829238295555, 1],
  ];
  const slide = [0.024870000155628347, 0.04152999990679973, 0] as const;
  // Over the face the distance is the least height over its plane, at the end of the slide, which falls.
  const over = (p: readonly number[]): number => p.reduce((sum, x, c) => sum + x * axis[c]!, 0);
  const least = Math.min(...corners.map((p) => over(sub(p, rings[1]!.centre)))) + over(slide);
  const swept = Float64Array.from(slide);
  const gap = prober.distance(hull(corners), undefined, roundShape(rings, axis), swept);
  expect(Math.abs(gap - least)).toBeLessThan(1e-9);
});
