import { vec3 } from 'gl-matrix';
import { describe, expect, test } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import * as v from '../../lib/base/vector.js';
import type { Vec3 } from '../../lib/base/vector.js';

const random = seeded(20);
const any = (): Vec3 => [random() * 20 - 10, random() * 20 - 10, random() * 20 - 10];
const close = (a: Vec3, b: Vec3, digits = 12): void =>
  a.forEach((x, i) => expect(x).toBeCloseTo(b[i]!, digits));

test('worked by hand: (1 2 3) and (4 -5 6)', () => {
  const [a, b]: Vec3[] = [
    [1, 2, 3],
    [4, -5, 6],
  ] as [Vec3, Vec3];
  expect(v.add(a!, b!)).toEqual([5, -3, 9]);
  expect(v.sub(a!, b!)).toEqual([-3, 7, -3]);
  expect(v.scale(a!, -2)).toEqual([-2, -4, -6]);
  expect(v.along(a!, b!, 0.5)).toEqual([3, -0.5, 6]);
  expect(v.dot(a!, b!)).toBe(12);
  expect(v.cross(a!, b!)).toEqual([27, 6, -13]);
  expect(v.length([2, 3, 6])).toBe(7);
  expect(v.unit([0, 3, 4])).toEqual([0, 0.6000000000000001, 0.8]);
});

test('float64 throughout: a step that float32 would lose is kept', () => {
  // gl-matrix writes into Float32Array by default (its documentation of glMatrix.ARRAY_TYPE).
  expect(vec3.add(vec3.create(), [1, 0, 0], [1e-9, 0, 0])[0]).toBe(1);
  expect(v.add([1, 0, 0], [1e-9, 0, 0])[0]).toBe(1 + 1e-9);
});

test('identities of Lagrange and Jacobi, seed 20', () => {
  for (let i = 0; i < 200; i++) {
    const [a, b, c] = [any(), any(), any()];
    // |a x b|^2 + (a.b)^2 = |a|^2 |b|^2
    const lagrange = v.length(v.cross(a, b)) ** 2 + v.dot(a, b) ** 2;
    expect(lagrange / (v.length(a) * v.length(b)) ** 2).toBeCloseTo(1, 12);
    // a x (b x c) + b x (c x a) + c x (a x b) = 0
    const jacobi = [
      v.cross(a, v.cross(b, c)),
      v.cross(b, v.cross(c, a)),
      v.cross(c, v.cross(a, b)),
    ];
    close(jacobi.reduce(v.add), [0, 0, 0], 9);
  }
});

describe('square', () => {
  test.each<[Vec3]>([
    [[1, 0, 0]],
    [[0, 1, 0]],
    [[0, 0, 1]],
    [[-1, 0, 0]],
    [[1, 1, 0]],
    [[1, 1, 1]],
    [[0, 1, 1e-12]],
    [[1e-12, 1, 0]],
    [[3, -4, 12]],
  ])('of %j is of unit length and square to it', (a) => {
    const s = v.square(a);
    expect(v.length(s)).toBeCloseTo(1, 14);
    expect(v.dot(s, a)).toBeCloseTo(0, 14);
  });
});

describe('angle', () => {
  test('small angles keep their digits, where the arc cosine of a dot product loses them', () => {
    const small = 1e-9;
    const a: Vec3 = [1, 0, 0];
    const b: Vec3 = [Math.cos(small), Math.sin(small), 0];
    expect(Math.acos(v.dot(a, b))).toBe(0);
    expect(v.angle(a, b) / small).toBeCloseTo(1, 12);
    expect(Math.PI - v.angle(a, v.scale(b, -1))).toBeCloseTo(small, 14);
  });

  test('does not ask for unit vectors: space diagonal of a cube to its edge, acos(1 / sqrt 3)', () => {
    expect(v.angle([5, 5, 5], [0, 0, 2])).toBeCloseTo(Math.acos(1 / Math.sqrt(3)), 14);
  });
});

test('the zero vector has no direction and stays zero', () => {
  expect(v.unit([0, 0, 0])).toEqual([0, 0, 0]);
});

test('points of a packed array', () => {
  expect(v.pointAt(Float64Array.of(1, 2, 3, 4, 5, 6), 1)).toEqual([4, 5, 6]);
});
