/** Directions worth trying, headings that turn with the part, and how far a pedestal reaches into a part. */
import { describe, expect, it } from 'vitest';
import { applyDirection, compose, shift, turn } from '../../../lib/base/frame.js';
import { GRAVITY } from '../../../lib/base/gravity.js';
import { seeded } from '../../../lib/base/random.js';
import { DEG, type Vec3, angle, length } from '../../../lib/base/vector.js';
import { moved } from '../../../lib/mesh/build.js';
import { massOf } from '../../../lib/mesh/measure.js';
import { evenDirections } from '../../../lib/base/even-directions.js';
import { faceNormals } from '../../../lib/regions/search/candidate-directions.js';
import { frameAlong, headingOf, turnedLimits, turnedMesh, turnedMove } from '../../../lib/regions/search/heading.js'; // prettier-ignore
import { gripOf } from '../../../lib/regions/search/pedestal-grip.js';
import { openLimits } from '../../support/limits.js';
import { cuboid, frustum } from '../../support/shapes.js';

describe('directions', () => {
  it.each([20, 200])(
    '%i even ones: each on the unit sphere, with its share of every zone',
    (count) => {
      const all = evenDirections(count);
      expect(all).toHaveLength(count);
      for (const d of all) expect(length(d)).toBeCloseTo(1, 12);
      // Archimedes: a zone has the share of the sphere that it has of the axis.
      for (const z of [-0.7, 0.1, 0.6]) {
        expect(Math.abs(all.filter((d) => d[2] > z).length - (count * (1 - z)) / 2)).toBeLessThan(
          1,
        );
      }
      // Evenly round the sphere: the mean vanishes, and each has a near neighbour about where area says.
      const mean = [0, 1, 2].map((c) => all.reduce((sum, d) => sum + d[c]!, 0) / count);
      expect(Math.hypot(...mean)).toBeLessThan(0.05);
      const spacing = Math.sqrt((4 * Math.PI) / count);
      for (const d of all) {
        const near = Math.min(...all.filter((e) => e !== d).map((e) => angle(d, e)));
        expect(near).toBeGreaterThan(0.6 * spacing);
        expect(near).toBeLessThan(1.3 * spacing);
      }
    },
  );

  it('of faces: the normals of a cuboid by their areas, those with too small a share left out', () => {
    // 3 x 4 (Z), 4 x 5 (X), 3 x 5 (Y) of 94 mm2 in all: 12.8, 21.3 and 16 % each.
    const box = cuboid([3, 4, 5]);
    const near = (found: readonly Vec3[], axes: readonly number[]): void => {
      expect(found).toHaveLength(axes.length);
      found.forEach((n, i) => expect(Math.abs(n[axes[i]!]!)).toBeCloseTo(1, 12));
    };
    near(faceNormals(box, 0.1, 99), [0, 0, 1, 1, 2, 2]);
    near(faceNormals(box, 0.13, 99), [0, 0, 1, 1]);
    near(faceNormals(box, 0.17, 99), [0, 0]);
    near(faceNormals(box, 0.1, 3), [0, 0, 1]);
    expect(faceNormals(box, 0.22, 99)).toEqual([]);
  });
});

describe('headings', () => {
  it('follow the largest face seen from the side, and take it to +X (seed 3)', () => {
    const random = seeded(3);
    // A prism whose widest side faces +X; facets of equal share follow the first.
    const wedge = frustum(6, 2, 5, 3);
    for (let n = 0; n < 20; n++) {
      const by = 360 * DEG * random();
      const part = moved(wedge, turn([0, 0, 1], by));
      const [before, after] = [headingOf(wedge), headingOf(part)];
      const turned = applyDirection(turn([0, 0, 1], by), [before[0], before[1], 0]);
      expect(after[0]).toBeCloseTo(turned[0], 9);
      expect(after[1]).toBeCloseTo(turned[1], 9);
      const along = applyDirection(frameAlong(after), [after[0], after[1], 0]);
      [1, 0, 0].forEach((x, c) => expect(along[c]).toBeCloseTo(x, 12));
      // In the frame of their headings both are one mesh.
      const [a, b] = [turnedMesh(wedge, frameAlong(before)), turnedMesh(part, frameAlong(after))];
      a.vertices.forEach((x, i) => expect(b.vertices[i]).toBeCloseTo(x, 8));
    }
    // The last facet of a list counts as well as the first.
    const box = cuboid([3, 7, 5]);
    for (let k = 0; k < 12; k++) {
      const t = [...box.triangles.subarray(3 * k), ...box.triangles.subarray(0, 3 * k)];
      expect(Math.abs(headingOf({ ...box, triangles: Uint32Array.from(t) })[0])).toBeCloseTo(1, 12);
    }
    expect(headingOf({ ...box, triangles: box.triangles.subarray(0, 0) })).toEqual([1, 0]);
  });

  it('turn limits and moves with the mesh', () => {
    const frame = turn([0, 0, 1], 90 * DEG);
    const limits = { ...openLimits(110), canReach: (d: Vec3) => d[0] > 0.5 };
    expect(turnedLimits(limits, frame).canReach([0, 1, 0])).toBe(true);
    expect(turnedLimits(limits, frame).canReach([1, 0, 0])).toBe(false);
    const there = compose(shift([1, 2, 3]), frame);
    const move = { direction: [1, 0, 0], normal: [0, 1, 0], offset: 4, taken: [[1, 0, 0]], left: [[0, 0, 2]] }; // prettier-ignore
    const out = turnedMove(move as never, there);
    const near = (p: Vec3, q: Vec3): void => p.forEach((x, c) => expect(x).toBeCloseTo(q[c]!, 12));
    near(out.direction, [0, 1, 0]);
    near(out.normal, [-1, 0, 0]);
    near(out.taken[0]!, [1, 3, 3]);
    near(out.left[0]!, [1, 2, 5]);
    expect(out.offset).toBe(4);
  });
});

/*
 * A pyramid on its tip, of square section: a side of sqrt 2 times the corner's radius. Its area is the side squared,
 * its least section modulus, bent across the diagonal, the side cubed over 6 sqrt 2 (handbook).
 */
describe('the grip of a pedestal on a pyramid that widens upwards', () => {
  const [low, high, height] = [0.5, 12, 30];
  const part = moved(frustum(low, high, height, 4), shift([4, -3, 0.2]));
  const { volume } = massOf(part);

  it.each([
    [5, 0.2, 1, 2, 10],
    [5, 0.2, 1, 20, 10],
    [5, 0.25, 60, 2, 10],
    [40, 0.2, 1, 5, 6],
    [5, 3.3, 1, 2, 10],
    [5, 0.2, 1, 3000, 10],
    [5, 0.2, 2000, 2, 10],
  ])(
    'columns of %d mm, from %d mm on, %d mm2, a push of %d N, %d MPa',
    (column, least, contact, force, stress) => {
      const hold = { force, stress, density: 1.2 };
      const weight = volume * 1.2e-6 * GRAVITY;
      const enough = (z: number): boolean => {
        const side = Math.SQRT2 * (low + ((high - low) * z) / height);
        const bending = ((force + weight / 2) * (height + column)) / (side ** 3 / (6 * Math.SQRT2));
        return side ** 2 >= contact && bending <= 0.8 * stress;
      };
      let want = least;
      for (let z = least; z <= height / 3; z += 0.1) {
        if (!enough(z)) continue;
        want = z;
        break;
      }
      expect(gripOf(part, column, least, contact, hold)).toBeCloseTo(want, 9);
    },
  );

  it('takes an area or a stress that is just enough', () => {
    const box = cuboid([10, 10, 30]);
    const hold = { force: 2, stress: 10, density: 0 };
    expect(gripOf(box, 5, 1, 100 - 1e-9, hold)).toBe(1);
    // 2 N over 35 mm on a modulus of 1000 / (6 sqrt 2).
    const bending = (2 * 35) / (1000 / (6 * Math.SQRT2));
    const exact = { ...hold, stress: (bending / 0.8) * (1 + 1e-9) };
    expect(gripOf(box, 5, 1, 4, exact)).toBe(1);
  });
});
