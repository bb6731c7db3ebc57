import { describe, expect, test } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { DEG } from '../../lib/base/vector.js';
import { bounds, massOf, surfaceArea } from '../../lib/mesh/measure.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import * as make from './shapes.js';

const limbs = await make.loadShapes();

/** Vertices - edges + faces; 2 for each ball, 0 for each ring (Euler). Takes meshes without loose vertices. */
const euler = (m: Mesh): number =>
  m.vertices.length / 3 - m.triangles.length / 2 + m.triangles.length / 3;
const volume = (m: Mesh): number => massOf(m).volume;
/** Area of a regular n-gon in a circle of radius r, closed form. */
const gon = (r: number, n: number): number => (n / 2) * r * r * Math.sin((2 * Math.PI) / n);

const exact: [string, Mesh, chi: number, volume: number][] = [
  ['cuboid', make.cuboid([10, 20, 30]), 2, 6000],
  ['cuboid away from the origin', make.cuboid([10, 20, 30], [5, 6, 7]), 2, 6000],
  ['cylinder', make.cylinder(5, 20, 64), 2, 20 * gon(5, 64)],
  ['cylinder along X', make.cylinder(5, 20, 64, [1, 0, 0], [0, 0, 5]), 2, 20 * gon(5, 64)],
  ['cylinder downwards', make.cylinder(5, 20, 64, [0, 0, -1]), 2, 20 * gon(5, 64)],
  ['pipe', make.pipe(5, 3, 20, 64), 0, 20 * (gon(5, 64) - gon(3, 64))],
  [
    'frustum',
    make.frustum(2, 10, 6, 48),
    2,
    (6 / 3) * (gon(2, 48) + gon(10, 48) + Math.sqrt(gon(2, 48) * gon(10, 48))),
  ],
  ['cone', make.cone(10, 30, 48), 2, 10 * gon(10, 48)],
  ['cone on its tip', make.coneOnTip(10, 30, 48), 2, 10 * gon(10, 48)],
  ['post with an arm', make.postWithArm(), 2, 20 * 20 * 40 + 30 * 20 * 20],
  ['L', make.lShape(), 2, 20 * (50 * 20 + 20 * 20)],
  ['T', make.tShape(), 2, 20 * (20 * 40 + 2 * 25 * 15)],
  ['mushroom', make.mushroom(6, 30, 20, 8, 64), 2, 30 * gon(6, 64) + 8 * gon(20, 64)],
  ['arch', make.arch(20, 10, 15, 20, 48), 2, 20 * (60 * 45 - 40 * 15 - gon(20, 96) / 2)],
  ['cube on a corner', make.cubeOnCorner(20), 2, 8000],
];

describe('solids with flat faces have the volume of their formula', () => {
  test.each(exact)('%s', (_, mesh, chi, expected) => {
    expect(mesh.twins).not.toContain(-1);
    expect(euler(mesh)).toBe(chi);
    expect(volume(mesh) / expected).toBeCloseTo(1, 12);
  });
});

// Sphere 4/3 pi r^3; torus 2 pi^2 R r^2 (Pappus: area of the section times the path of its middle).
// A mesh with its vertices on the surface falls short by order (pi / n)^2 for each direction.
const round: [string, Mesh, chi: number, volume: number, within: number][] = [
  ['sphere', make.sphere(10, 256), 2, (4 / 3) * Math.PI * 1000, 3e-4],
  ['icosphere', make.icosphere(10, 5), 2, (4 / 3) * Math.PI * 1000, 1e-3],
  ['hollow sphere', make.hollowSphere(10, 8, 256), 4, (4 / 3) * Math.PI * (1000 - 512), 3e-4],
  ['torus', make.torus(20, 5, 360, 180), 0, 9869.6044, 3e-4],
  ['ring lying', make.ringLying(20, 5, 360, 180), 0, 9869.6044, 3e-4],
  ['ring standing', make.ringStanding(20, 5, 360, 180), 0, 9869.6044, 3e-4],
  ['elbow', make.elbow(20, 5, 0, 180, 90), 2, 9869.6044 / 4, 3e-4],
  ['hollow elbow', make.elbow(20, 5, 3, 180, 90), 0, (9869.6044 / 4) * (1 - 9 / 25), 3e-4],
];

describe('round solids approach the volume of their formula from below', () => {
  test.each(round)('%s', (_, mesh, chi, expected, within) => {
    expect(mesh.twins).not.toContain(-1);
    expect(euler(mesh)).toBe(chi);
    const ratio = volume(mesh) / expected;
    expect(ratio).toBeLessThan(1);
    expect(ratio).toBeGreaterThan(1 - within);
  });
});

test('areas: cuboid 2200, icosphere near 4 pi r^2, torus near 4 pi^2 R r', () => {
  expect(surfaceArea(make.cuboid([10, 20, 30]))).toBeCloseTo(2200, 9);
  expect(surfaceArea(make.icosphere(10, 4)) / (400 * Math.PI)).toBeCloseTo(1, 2);
  expect(surfaceArea(make.torus(20, 5, 360, 180)) / (4 * Math.PI ** 2 * 100)).toBeCloseTo(1, 3);
});

test('solids stand on z = 0, those of flat faces and rings exactly', () => {
  const meshes = [
    make.postWithArm(),
    make.tShape(),
    make.arch(),
    make.mushroom(),
    make.ringLying(20, 5),
    make.ringStanding(20, 5),
    make.elbow(20, 5, 3),
  ];
  for (const mesh of meshes) expect(bounds(mesh).least[2]).toBe(0);
  expect(bounds(make.cubeOnCorner(20)).least[2]).toBeCloseTo(0, 12);
  // The space diagonal of the cube is upright.
  expect(bounds(make.cubeOnCorner(20)).most[2]).toBeCloseTo(20 * Math.sqrt(3), 12);
  const ring = bounds(make.ringStanding(20, 5));
  expect(ring.most).toEqual([25, 5, 50]);
});

test('the elbow ends facing +X: its far face has the area of its section', () => {
  const { vertices: v, triangles: t } = make.elbow(20, 5, 0, 64, 32);
  const atEnd = (i: number): boolean => Math.abs(v[3 * i]! - 20) < 1e-12;
  let area = 0;
  for (let i = 0; i < t.length; i += 3) {
    const [a, b, c] = [t[i]!, t[i + 1]!, t[i + 2]!];
    if (!atEnd(a) || !atEnd(b) || !atEnd(c)) continue;
    const [y, z] = [1, 2].map((k) => (p: number, q: number) => v[3 * q + k]! - v[3 * p + k]!);
    area += (y!(a, b) * z!(a, c) - z!(a, b) * y!(a, c)) / 2;
  }
  expect(area).toBeCloseTo(gon(5, 64), 12);
});

test('a solid turned by a frame keeps volume and area', () => {
  const frame = make.frameAlong([0.6, 0, 0.8], [3, 4, 5]);
  const turned = make.rotated(make.postWithArm(), frame);
  expect(volume(turned)).toBeCloseTo(28000, 8);
  expect(bounds(make.standing(turned)).least[2]).toBeCloseTo(0, 12);
});

describe('solids with limbs', () => {
  test.each([30, 44.5, 45.5, 70])('Y of arms %i deg off the trunk', (alpha) => {
    const mesh = limbs.yShape(alpha * DEG, 6, 25, 40, 96);
    expect(mesh.twins).not.toContain(-1);
    expect(euler(mesh)).toBe(2);
    const { least, most } = bounds(mesh);
    expect(least[2]).toBe(0);
    // The highest and widest points are on the rims of the arms' ends.
    const [s, c] = [Math.sin(alpha * DEG), Math.cos(alpha * DEG)];
    expect(most[2]).toBeCloseTo(25 + 40 * c + 6 * s, 5);
    expect(most[0]).toBeCloseTo(Math.max(40 * s + 6 * c, 6), 5);
    expect(least[0]).toBeCloseTo(-most[0], 5);
  });

  test('trunk with four branches 60 deg off it: same in all four directions', () => {
    const mesh = limbs.trunkWithBranches(60 * DEG, 7, 60, 35, 96);
    expect(mesh.twins).not.toContain(-1);
    expect(euler(mesh)).toBe(2);
    const reach = 35 * Math.sin(60 * DEG) + 4.9 * Math.cos(60 * DEG);
    const { least, most } = bounds(mesh);
    for (const x of [most[0], most[1], -least[0], -least[1]]) expect(x).toBeCloseTo(reach, 5);
    expect(least[2]).toBe(0);
  });

  test('union and difference of boxes on whole millimetres are exact', () => {
    const a = make.cuboid([20, 20, 20]);
    const b = make.cuboid([20, 20, 20], [10, 0, 5]);
    // Overlap 10 x 20 x 15.
    expect(volume(limbs.unite(a, b))).toBeCloseTo(16000 - 3000, 9);
    expect(volume(limbs.without(a, b))).toBeCloseTo(8000 - 3000, 9);
    expect(limbs.volume(a)).toBeCloseTo(8000, 9);
  });

  test('random unions, seeds 1 to 60: closed, in one piece, on the table, same for the same seed', () => {
    for (let seed = 1; seed <= 60; seed++) {
      const mesh = limbs.randomUnion(seed);
      expect(mesh.twins, `seed ${seed}`).not.toContain(-1);
      expect(bounds(mesh).least[2], `seed ${seed}`).toBe(0);
      expect(volume(mesh) / limbs.volume(mesh), `seed ${seed}`).toBeCloseTo(1, 9);
      expect(shells(mesh), `seed ${seed}`).toBe(1);
    }
    expect(limbs.randomUnion(7).vertices).toEqual(limbs.randomUnion(7).vertices);
    expect(seeded(7)()).not.toBe(seeded(8)());
  });
});

/** Sets of triangles joined by edges, by union-find. */
function shells(m: Mesh): number {
  const parent = Int32Array.from({ length: m.triangles.length / 3 }, (_, i) => i);
  const root = (i: number): number => {
    while (parent[i] !== i) i = parent[i] = parent[parent[i]!]!;
    return i;
  };
  m.twins.forEach((g, h) => (parent[root(Math.floor(h / 3))] = root(Math.floor(g / 3))));
  return parent.filter((p, i) => p === i).length;
}
