import { mat4, quat, vec3 } from 'gl-matrix';
import { describe, expect, test } from 'vitest';
import * as f from '../../lib/base/frame.js';
import { seeded } from '../../lib/base/random.js';
import { type Vec3, angle, cross, dot, length, sub, unit } from '../../lib/base/vector.js';

const random = seeded(31);
const any = (size = 10): Vec3 => [
  size * (2 * random() - 1),
  size * (2 * random() - 1),
  size * (2 * random() - 1),
];
const anyTurn = (): f.Frame => f.turn(unit(any()), 7 * random() - 3.5, any());
const close = (a: ArrayLike<number>, b: ArrayLike<number>, digits = 12): void => {
  expect(a.length).toBe(b.length);
  for (let i = 0; i < a.length; i++) expect(a[i]).toBeCloseTo(b[i]!, digits);
};
const quarter = Math.PI / 2;

describe('turn', () => {
  test('is right-handed: X to Y about Z, Y to Z about X, Z to X about Y', () => {
    close(f.applyPoint(f.turn([0, 0, 1], quarter), [1, 0, 0]), [0, 1, 0]);
    close(f.applyPoint(f.turn([1, 0, 0], quarter), [0, 1, 0]), [0, 0, 1]);
    close(f.applyPoint(f.turn([0, 1, 0], quarter), [0, 0, 1]), [1, 0, 0]);
  });

  test('about (1 1 1) by a third of a turn permutes the axes', () => {
    const third = f.turn(unit([1, 1, 1]), (2 * Math.PI) / 3);
    close(f.applyPoint(third, [1, 2, 3]), [3, 1, 2]);
  });

  test('leaves the points of its line where they are', () => {
    const axis = unit([1, -2, 3]);
    const turn = f.turn(axis, 1.1, [4, 5, 6]);
    close(f.applyPoint(turn, [4, 5, 6]), [4, 5, 6]);
    close(f.applyPoint(turn, [4 + 2 * axis[0], 5 + 2 * axis[1], 6 + 2 * axis[2]]), [
      4 + 2 * axis[0],
      5 + 2 * axis[1],
      6 + 2 * axis[2],
    ]);
  });

  test('agrees with Rodrigues: v cos + (a x v) sin + a (a.v)(1 - cos), seed 31', () => {
    for (let i = 0; i < 100; i++) {
      const [a, v, t] = [unit(any()), any(), 7 * random() - 3.5];
      const [c, s, k] = [Math.cos(t), Math.sin(t), dot(a, v) * (1 - Math.cos(t))];
      const axv = cross(a, v);
      close(
        f.applyDirection(f.turn(a, t, any()), v),
        [0, 1, 2].map((j) => v[j]! * c + axv[j]! * s + a[j]! * k),
      );
    }
  });

  test('agrees with the quaternion of gl-matrix to its float32', () => {
    const a = unit([1, 2, -3]);
    const byQuat = vec3.transformQuat(
      vec3.create(),
      [1, 2, 3],
      quat.setAxisAngle(quat.create(), a as vec3, 0.7),
    );
    close(f.applyPoint(f.turn(a, 0.7), [1, 2, 3]), byQuat, 5);
  });

  test('refuses an axis without length', () => {
    expect(() => f.turn([0, 0, 0], 1)).toThrow(/zero axis/);
  });
});

describe('compose and inverse', () => {
  test('the second is applied first', () => {
    const both = f.compose(f.shift([10, 0, 0]), f.turn([0, 0, 1], quarter));
    close(f.applyPoint(both, [1, 0, 0]), [10, 1, 0]);
    const other = f.compose(f.turn([0, 0, 1], quarter), f.shift([10, 0, 0]));
    close(f.applyPoint(other, [1, 0, 0]), [0, 11, 0]);
  });

  test('a frame after its inverse changes nothing, and agrees with gl-matrix, seed 31', () => {
    for (let i = 0; i < 100; i++) {
      const frame = f.compose(anyTurn(), f.compose(f.shift(any()), anyTurn()));
      const back = f.inverse(frame);
      close(f.compose(frame, back), f.identity());
      const general = mat4.invert(
        new Float64Array(16) as unknown as mat4,
        frame as unknown as mat4,
      ) as unknown as Float64Array;
      close(back, general, 10);
    }
  });

  test('lengths are kept and nothing is mirrored (triple product), seed 31', () => {
    for (let i = 0; i < 50; i++) {
      const frame = f.compose(anyTurn(), anyTurn());
      const [p, q, r] = [any(), any(), any()];
      const [P, Q] = [p, q].map((x) => f.applyPoint(frame, x)) as [Vec3, Vec3];
      expect(length(sub(P, Q))).toBeCloseTo(length(sub(p, q)), 12);
      const triple = (a: Vec3, b: Vec3, c: Vec3): number => dot(a, cross(b, c));
      const turned = (x: Vec3): Vec3 => f.applyDirection(frame, x);
      expect(triple(turned(p), turned(q), turned(r))).toBeCloseTo(triple(p, q, r), 8);
    }
  });
});

test('packed points move as single ones do, into a new array', () => {
  const frame = anyTurn();
  const points = Float64Array.of(1, 2, 3, -4, 5, -6);
  const moved = f.applyPoints(frame, points);
  close(moved.subarray(0, 3), f.applyPoint(frame, [1, 2, 3]), 14);
  close(moved.subarray(3), f.applyPoint(frame, [-4, 5, -6]), 14);
  expect([...points]).toEqual([1, 2, 3, -4, 5, -6]);
});

describe('build frame of a direction', () => {
  const directions: Vec3[] = [
    [0, 0, 1],
    [0, 0, -1],
    [1, 0, 0],
    [0, -1, 0],
    [1e-13, 0, 1],
    [1e-13, 0, -1],
    [1e-9, 0, -1],
    [0, 1e-6, -1],
    ...Array.from({ length: 50 }, () => unit(any())),
  ].map((d) => unit(d as Vec3));

  test('takes the direction to +Z by a proper turn about the origin, seed 31', () => {
    for (const d of directions) {
      const frame = f.buildFromPart(d);
      close(f.applyDirection(frame, d), [0, 0, 1]);
      close(f.compose(frame, f.inverse(frame)), f.identity());
      close(frame.subarray(12), [0, 0, 0, 1], 14);
      const [x, y, z] = [0, 4, 8].map((i) => [...frame.subarray(i, i + 3)] as unknown as Vec3);
      expect(dot(cross(x!, y!), z!)).toBeCloseTo(1, 12);
    }
  });

  test('turns no further than the angle between the two (trace of a rotation: 1 + 2 cos)', () => {
    for (const d of directions) {
      const m = f.buildFromPart(d);
      const cosine = (m[0]! + m[5]! + m[10]! - 1) / 2;
      expect(cosine).toBeCloseTo(Math.cos(angle(d, [0, 0, 1])), 12);
    }
  });
});
