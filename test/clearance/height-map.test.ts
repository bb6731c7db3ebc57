/**
 * Nothing is left out that comes near: pieces of a path that are kept for the search, against brute
 * force over dense points of random paths and of beads that lean any way, with the distance of a point
 * to a cylinder in closed form: its height beyond the ends and its radius beyond the wall, squared up.
 */
import { expect, test } from 'vitest';
import { applyPoint, compose, shift, turn } from '../../lib/base/frame.js';
import { seeded } from '../../lib/base/random.js';
import { type Vec3, unit } from '../../lib/base/vector.js';
import { BeadShapes, beadsOf } from '../../lib/clearance/bead-shapes.js';
import { RigidBody } from '../../lib/clearance/body.js';
import { Path } from '../../lib/clearance/body-path.js';
import { piecesNear } from '../../lib/clearance/height-map.js';
import { roundShape } from '../../lib/clearance/convex/support-shape.js';

const [LOW, HIGH, RADIUS, HEIGHT] = [1, 40, 4, 0.2];

const rings = [LOW, HIGH].map((z) => ({ centre: [0, 0, z] as Vec3, radius: RADIUS }));
const round = { low: LOW, lowRadius: RADIUS, high: HIGH, highRadius: RADIUS };
const body = new RigidBody([{ shape: roundShape(rings, [0, 0, 1]), round }]);

const toCylinder = ([x, y, z]: Vec3): number =>
  Math.hypot(Math.max(0, Math.hypot(x, y) - RADIUS), Math.max(0, LOW - z, z - HIGH));

test('no place within reach is left out of 20 random scenes, seed 2203', () => {
  const random = seeded(2203);
  const any = (size: number): number => (random() - 0.5) * size;
  let near = 0;
  let kept = 0;
  let all = 0;
  for (let scene = 0; scene < 20; scene++) {
    const ends = Array.from({ length: 24 }, (): Vec3 => [any(30), any(30), any(8)]);
    const count = ends.length;
    const beads = beadsOf({
      points: Float64Array.from(ends.flat()),
      width: new Float64Array(count).fill(0.45),
      height: new Float64Array(count).fill(HEIGHT),
      start: Uint32Array.from({ length: count / 2 + 1 }, (_, i) => 2 * i),
    } as unknown as Parameters<typeof beadsOf>[0]);
    expect(beads).toBeInstanceOf(BeadShapes);
    const axis = unit([any(1), any(1), any(1)]);
    const frame = compose(shift([any(4), any(4), -6]), turn(axis, any(3)));
    const knots = Array.from({ length: 9 }, () => [any(30), any(30), 4 + any(12)]);
    const path = new Path(Float64Array.from(knots.flat()));
    const within = 0.2 + random();
    const pieces = piecesNear(beads.heightMap(frame, beads.count), body, path, within);
    const isKept = (stretch: number, p: Vec3): boolean => {
      for (let i = 0; i < pieces.tree.count; i++) {
        if (pieces.origin(i) !== stretch) continue;
        const far = [0, 1, 2].map((c) => {
          const b = 6 * i + c;
          return Math.abs(p[c]! - pieces.boxes[b]!) - pieces.boxes[b + 3]!;
        });
        if (Math.max(...far) <= 1e-9) return true;
      }
      return false;
    };
    // Middle lines of the beads, every quarter of a millimetre; the skin is half the height nearer.
    const middle: Vec3[] = [];
    for (let i = 0; i < count; i += 2) {
      const [a, b] = [ends[i]!, ends[i + 1]!];
      for (let k = 0; k <= 120; k++) {
        const at = (c: number): number => a[c]! + ((b[c]! - a[c]!) * k) / 120;
        middle.push(applyPoint(frame, [at(0), at(1), at(2) - HEIGHT / 2]));
      }
    }
    for (let s = 0; s + 1 < knots.length; s++) {
      for (let k = 0; k < 60; k++) {
        const at = (c: number): number =>
          knots[s]![c]! + ((knots[s + 1]![c]! - knots[s]![c]!) * (k + 0.5)) / 60;
        const p: Vec3 = [at(0), at(1), at(2)];
        const gap =
          Math.min(...middle.map((m) => toCylinder([m[0] - p[0], m[1] - p[1], m[2] - p[2]]))) -
          HEIGHT / 2;
        all++;
        const is = isKept(s, p);
        if (is) kept++;
        if (gap >= within - 1e-9) continue;
        near++;
        expect(is, `scene ${scene}, stretch ${s}, place ${k}: ${gap} of ${within}`).toBe(true);
      }
    }
  }
  // Both kinds are there: places that must be kept, and places that may be left out and are.
  expect(near).toBeGreaterThan(300);
  expect(all - kept).toBeGreaterThan(300);
});
