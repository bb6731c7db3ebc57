import { describe, expect, test } from 'vitest';
import { shift, turn } from '../../lib/base/frame.js';
import { type Vec3, unit } from '../../lib/base/vector.js';
import { meshFrom, moved, scaled } from '../../lib/mesh/build.js';
import { areaNormals, bounds, massOf, surfaceArea } from '../../lib/mesh/measure.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import {
  cone,
  cuboid,
  frustum,
  hollowSphere,
  postWithArm,
  sphere,
  together,
} from '../support/shapes.js';

const close = (a: Vec3, b: Vec3, digits: number): void =>
  a.forEach((x, i) => expect(x).toBeCloseTo(b[i]!, digits));

const turnedOver = (mesh: Mesh): Mesh =>
  meshFrom(
    mesh.vertices,
    mesh.triangles.map((_, h) => mesh.triangles[h % 3 === 1 ? h + 1 : h % 3 === 2 ? h - 1 : h]!),
  );

describe('centre of mass, closed forms', () => {
  test('cone: a quarter of its height', () => {
    close(massOf(cone(10, 30, 48)).centre, [0, 0, 7.5], 12);
  });

  test('frustum: h/4 (R^2 + 2 R r + 3 r^2) / (R^2 + R r + r^2) above the wide end', () => {
    const [R, r, h] = [10, 4, 12];
    const z = ((h / 4) * (R * R + 2 * R * r + 3 * r * r)) / (R * R + R * r + r * r);
    close(massOf(frustum(R, r, h, 48)).centre, [0, 0, z], 12);
  });

  test('post with an arm: two boxes weighed', () => {
    // 16,000 mm3 about (0, 0, 20) and 12,000 mm3 about (25, 0, 30).
    const { volume, centre } = massOf(postWithArm());
    expect(volume).toBeCloseTo(28000, 9);
    close(centre, [(12 * 25) / 28, 0, (16 * 20 + 12 * 30) / 28], 12);
  });

  test('several shells and a cavity count with their sign', () => {
    const two = together(cuboid([2, 2, 2]), cuboid([2, 2, 2], [10, 0, 0]));
    close(massOf(two).centre, [5, 0, 1], 12);
    const [ball, hole, both] = [sphere(10, 32), sphere(8, 32), hollowSphere(10, 8, 32)];
    expect(massOf(both).volume).toBeCloseTo(massOf(ball).volume - massOf(hole).volume, 9);
    close(massOf(both).centre, [0, 0, 0], 12);
  });
});

test('an inside-out mesh has a negative volume and the same centre', () => {
  const { volume, centre } = massOf(turnedOver(cuboid([1, 2, 3])));
  expect(volume).toBeCloseTo(-6, 12);
  close(centre, [0, 0, 1.5], 12);
});

test('a part a kilometre away keeps its digits', () => {
  const far = moved(cuboid([1, 2, 3]), shift([1e6, -1e6, 1e6]));
  const { volume, centre } = massOf(far);
  expect(volume).toBeCloseTo(6, 8);
  close(centre, [1e6, -1e6, 1e6 + 1.5], 8);
  expect(surfaceArea(far)).toBeCloseTo(22, 8);
});

test('normals scaled by area: six faces of a cuboid, two triangles each', () => {
  const n = areaNormals(cuboid([1, 2, 3]));
  const sums = new Map<string, number>();
  for (let i = 0; i < n.length; i += 3) {
    const size = Math.hypot(n[i]!, n[i + 1]!, n[i + 2]!);
    const key = [n[i]!, n[i + 1]!, n[i + 2]!].map((x) => Math.round(x / size) + 0).join(' ');
    sums.set(key, (sums.get(key) ?? 0) + size);
  }
  expect(Object.fromEntries(sums)).toEqual({
    '1 0 0': 6,
    '-1 0 0': 6,
    '0 1 0': 3,
    '0 -1 0': 3,
    '0 0 1': 2,
    '0 0 -1': 2,
  });
});

test('nothing has no volume, no area and no extent', () => {
  const none = meshFrom(new Float64Array(0), new Uint32Array(0));
  expect(massOf(none)).toEqual({ volume: 0, centre: [0, 0, 0] });
  expect(surfaceArea(none)).toBe(0);
  expect(bounds(none).least[0]).toBeGreaterThan(bounds(none).most[0]);
});

describe('moved and scaled copies', () => {
  const mesh = postWithArm();

  test('a turn and a shift keep volume and area and carry the centre along', () => {
    const frame = turn(unit([1, 2, 3]), 1.234, [5, 6, 7]);
    const other = moved(mesh, frame);
    expect(massOf(other).volume / 28000).toBeCloseTo(1, 12);
    expect(surfaceArea(other) / surfaceArea(mesh)).toBeCloseTo(1, 12);
    expect(other.twins).toBe(mesh.twins);
    expect(mesh.vertices).toEqual(postWithArm().vertices);
  });

  test('scale by k: lengths k, areas k^2, volumes k^3', () => {
    const big = scaled(mesh, 2.5);
    expect(bounds(big).most).toEqual([100, 25, 100]);
    expect(surfaceArea(big) / surfaceArea(mesh)).toBeCloseTo(6.25, 12);
    expect(massOf(big).volume / 28000).toBeCloseTo(15.625, 12);
  });

  test.each([0, -1, NaN])('scale by %d is refused', (k) => {
    expect(() => scaled(mesh, k)).toThrow(/must be positive/);
  });
});
