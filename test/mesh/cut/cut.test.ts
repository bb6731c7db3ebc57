/** The plane cut: both halves closed, volumes whole, cut faces that share their number and area. */
import { describe, expect, test } from 'vitest';
import type { Mesh, Plane } from '../../../lib/base/mesh.js';
import { seeded } from '../../../lib/base/random.js';
import { type Vec3, dot, sub, unit } from '../../../lib/base/vector.js';
import { areaNormals, bounds, massOf } from '../../../lib/mesh/measure.js';
import { type Halves, cut, uncut } from '../../../lib/mesh/cut/cut.js';
import { bunny69k, gearwheel, scaledToHeight } from '../../support/open-meshes.js';
import {
  cuboid,
  hollowSphere,
  loadShapes,
  postWithArm,
  sphere,
  torus,
} from '../../support/shapes.js';

const limbs = await loadShapes();

/** What must hold of any cut, whatever the plane. */
function holds(mesh: Mesh, plane: Plane, halves: Halves): void {
  const whole = massOf(mesh).volume;
  const [above, below] = [massOf(halves.piece.mesh).volume, massOf(halves.rest.mesh).volume];
  expect(Math.abs(above + below - whole) / whole).toBeLessThan(1e-9);
  for (const half of [halves.piece, halves.rest]) {
    expect(half.mesh.twins.includes(-1)).toBe(false);
    expect(half.cut.length).toBe(half.mesh.triangles.length / 3);
  }
  const [up, down] = [faceOf(halves.piece), faceOf(halves.rest)];
  // The same face seen from both sides (divergence theorem: it closes what the plane opened).
  expect(up).toBeCloseTo(-down, 6);
  expect(down).toBeCloseTo(halves.contact, 6);
  for (const [half, side] of [
    [halves.piece, 1],
    [halves.rest, -1],
  ] as const) {
    const v = half.mesh.vertices;
    let worst = Infinity;
    for (let i = 0; i < v.length; i += 3) {
      const over = dot(sub([v[i]!, v[i + 1]!, v[i + 2]!], plane.point), plane.normal);
      worst = Math.min(worst, side * over);
    }
    expect(worst).toBeGreaterThan(-1e-6);
  }

  function faceOf(half: Halves['piece']): number {
    const n = areaNormals(half.mesh);
    let sum = 0;
    half.cut.forEach((id, t) => {
      if (id < 0) return;
      sum += dot([n[3 * t]!, n[3 * t + 1]!, n[3 * t + 2]!], plane.normal);
    });
    return sum;
  }
}

describe('closed forms', () => {
  test('a ball is cut at its middle into halves with a face of pi r^2, and off it into caps', () => {
    const mesh = sphere(10, 256);
    const half = cut(uncut(mesh), { point: [0, 0, 0], normal: unit([1, 2, 3]) }, 7)!;
    expect(half.contact / (Math.PI * 100)).toBeCloseTo(1, 3);
    const cap = cut(uncut(mesh), { point: [0, 0, 6], normal: [0, 0, 1] }, 7)!;
    // Cap of height h: pi h^2 (3 r - h) / 3; its circle pi (r^2 - z^2), checks value 201.06193.
    expect(massOf(cap.piece.mesh).volume / ((Math.PI * 16 * 26) / 3)).toBeCloseTo(1, 2);
    expect(cap.contact / 201.06193).toBeCloseTo(1, 3);
    expect(new Set(cap.piece.cut)).toEqual(new Set([-1, 7]));
  });

  test('a plane in the face of a post takes the arm off whole, 20 x 20 mm of contact', () => {
    const halves = cut(uncut(postWithArm()), { point: [10, 0, 0], normal: [1, 0, 0] }, 0)!;
    expect(massOf(halves.piece.mesh).volume).toBeCloseTo(12000, 6);
    expect(massOf(halves.rest.mesh).volume).toBeCloseTo(16000, 6);
    expect(halves.contact).toBeCloseTo(400, 6);
  });

  test('a hollow ball keeps its hollow on both sides: the face is a ring', () => {
    const halves = cut(
      uncut(hollowSphere(10, 8, 256)),
      { point: [0, 0, 0], normal: [0, 0, 1] },
      0,
    )!;
    expect(halves.contact / (Math.PI * 36)).toBeCloseTo(1, 3);
  });

  test('a ring standing upright, cut through its hole, has two round faces', () => {
    const mesh = torus(20, 5, 256, 128);
    const halves = cut(uncut(mesh), { point: [0, 0, 0], normal: [1, 0, 0] }, 0)!;
    expect(halves.contact / (2 * Math.PI * 25)).toBeCloseTo(1, 3);
    holds(mesh, { point: [0, 0, 0], normal: [1, 0, 0] }, halves);
  });
});

test('a plane that misses takes nothing off', () => {
  const mesh = cuboid([10, 10, 10]);
  for (const z of [-1, 11])
    expect(cut(uncut(mesh), { point: [0, 0, z], normal: [0, 0, 1] }, 0)).toBeUndefined();
});

test.each([
  ['bunny of 69,664 triangles', () => scaledToHeight(bunny69k(), 100)],
  ['gearwheel', gearwheel],
  ['random union, seed 3', () => limbs.randomUnion(3)],
  ['random union, seed 4', () => limbs.randomUnion(4)],
] as const)('30 planes through a %s, seed 11', (_name, build) => {
  const mesh = build();
  const random = seeded(11);
  const { least, most } = bounds(mesh);
  let cuts = 0;
  for (let i = 0; i < 30; i++) {
    const normal = unit([random() - 0.5, random() - 0.5, random() - 0.5]);
    const point = least.map(
      (low, c) => low + (0.3 + 0.4 * random()) * (most[c]! - low),
    ) as unknown as Vec3;
    const halves = cut(uncut(mesh), { point, normal }, i);
    if (!halves) continue;
    cuts++;
    holds(mesh, { point, normal }, halves);
  }
  expect(cuts).toBeGreaterThan(15);
});

test('planes exactly through vertices, edges and faces of a box', () => {
  const mesh = cuboid([10, 20, 30]);
  const planes: Plane[] = [
    { point: [0, 0, 0], normal: unit([1, 0, 1]) },
    { point: [5, 10, 0], normal: unit([3, 2, 1]) },
    { point: [0, 0, 15], normal: unit([0, 1, 1]) },
    { point: [5, -10, 30], normal: unit([1, 1, 0]) },
  ];
  for (const plane of planes) {
    const halves = cut(uncut(mesh), plane, 0);
    if (halves) holds(mesh, plane, halves);
  }
});
