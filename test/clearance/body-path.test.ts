/**
 * Paths of bodies: boxes of their stretches, pieces of them, and stretches joined, against the points given; and where
 * a body is inside another as its path begins.
 */
import { describe, expect, it } from 'vitest';
import { shift } from '../../lib/base/frame.js';
import { seeded } from '../../lib/base/random.js';
import { type Vec3, length } from '../../lib/base/vector.js';
import { Path, still } from '../../lib/clearance/body-path.js';
import { DistanceSearch } from '../../lib/clearance/nearest-on-path.js';

const random = seeded(9);
const points = Float64Array.from({ length: 30 }, () => 20 * (random() - 0.5));

describe('a chain', () => {
  const path = new Path(points);
  it('has a box about each of its stretches', () => {
    expect(path.tree.count).toBe(9);
    for (let i = 0; i < 9; i++) {
      for (let c = 0; c < 3; c++) {
        const [a, b] = [points[3 * i + c]!, points[3 * i + 3 + c]!];
        const [middle, half] = [path.boxes[6 * i + c]!, path.boxes[6 * i + 3 + c]!];
        expect(middle - half).toBeCloseTo(Math.min(a, b), 9);
        expect(middle + half).toBeCloseTo(Math.max(a, b), 9);
      }
      expect(path.origin(i)).toBe(i);
    }
  });

  it('in part is those stretches, which know where they came from', () => {
    const some = path.only(Uint32Array.of(2, 5, 6));
    expect(some.step).toBe(2);
    expect(some.tree.count).toBe(3);
    [2, 5, 6].forEach((s, i) => {
      expect([...some.points.subarray(6 * i, 6 * i + 6)]).toEqual([
        ...points.subarray(3 * s, 3 * s + 6),
      ]);
      expect(some.origin(i)).toBe(s);
      expect([...some.boxes.subarray(6 * i, 6 * i + 6)]).toEqual([
        ...path.boxes.subarray(6 * s, 6 * s + 6),
      ]);
    });
    // Parts of parts are counted among the parts.
    const one = some.only(Uint32Array.of(2));
    expect([...one.points]).toEqual([...points.subarray(18, 24)]);
    expect(one.origin(0)).toBe(2);
  });
});

it('joined, straight stretches are one, and corners stay', () => {
  // Ten millimetres along X in four pieces, five along Y in two with a bow of 0.02 mm.
  const bent = Float64Array.from(
    [
      [0, 0, 0],
      [2, 0, 0],
      [3, 0, 0],
      [7, 0, 0],
      [10, 0, 0],
      [10.02, 3, 0],
      [10, 5, 0],
    ].flat(),
  );
  const loose = new Path(bent).joined(0.05);
  expect([...loose.points]).toEqual([0, 0, 0, 10, 0, 0, 10, 5, 0]);
  expect([0, 1].map((i) => loose.origin(i))).toEqual([0, 4]);
  const tight = new Path(bent).joined(0.01);
  expect([...tight.points]).toEqual([0, 0, 0, 10, 0, 0, 10.02, 3, 0, 10, 5, 0]);
  expect([0, 1, 2].map((i) => tight.origin(i))).toEqual([0, 4, 5]);
});

it('a body that stays has one stretch of length zero', () => {
  const stays = still();
  expect(stays.tree.count).toBe(1);
  expect([...stays.points]).toEqual([0, 0, 0, 0, 0, 0]);
  expect([...stays.boxes]).toEqual([0, 0, 0, 0, 0, 0]);
});

describe('a ball of 2 mm that knows its inside, against a point that has none', () => {
  const inBall = (p: Vec3): boolean => length(p) < 2;
  const solid = { holds: inBall, seeds: [[0, 0, 0] as Vec3] };
  const dot = { holds: undefined, seeds: [[0, 0, 0] as Vec3] };
  const begun = (body: object, things: object, at: Vec3): Vec3 | undefined =>
    new DistanceSearch().begunInside({
      body,
      things,
      path: { points: Float64Array.from(at) },
      frame: shift([10, 0, 0]),
    } as never);

  it('is found inside on either side, where it is', () => {
    // Things stand 10 mm along X; the body is displaced by the first point of its path.
    expect(begun(solid, dot, [9, 1, 0])).toEqual([10, 0, 0]);
    expect(begun(dot, solid, [9, 1, 0])).toEqual([9, 1, 0]);
    expect(begun(solid, solid, [9, 1, 0])).toEqual([10, 0, 0]);
  });

  it('is found nowhere outside, nor where neither has an inside', () => {
    expect(begun(solid, dot, [7.9, 0, 0])).toBeUndefined();
    expect(begun(dot, solid, [7.9, 0, 0])).toBeUndefined();
    expect(begun(dot, dot, [10, 0, 0])).toBeUndefined();
  });
});
