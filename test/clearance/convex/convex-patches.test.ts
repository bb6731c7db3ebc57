/**
 * Facets in convex patches: a body made of them has the gaps of its facets one by one, and the bounds
 * that leave patches out never leave out one that is near. Counts follow from the solids.
 */
import { describe, expect, it } from 'vitest';
import { identity } from '../../../lib/base/frame.js';
import { seeded } from '../../../lib/base/random.js';
import { type Vec3, cross, dot, pointAt, sub, unit } from '../../../lib/base/vector.js';
import { RigidBody, meshBody } from '../../../lib/clearance/body.js';
import { DistanceSearch } from '../../../lib/clearance/nearest-on-path.js';
import { meshPieces } from '../../../lib/clearance/mesh-body.js';
import { convexPatches } from '../../../lib/clearance/convex/convex-patches.js';
import { Path } from '../../../lib/clearance/body-path.js';
import { boxShape } from '../../../lib/clearance/convex/support-shape.js';
import { extruded, revolved } from '../../../lib/mesh/make-solids.js';

// A head from the tip up: cone, flange, cylinder; hollows where the flange begins and under the ring.
const stepped = revolved(
  [
    [
      [0, 0],
      [0.5, 0],
      [4, 8],
      [9, 8],
      [12, 20],
      [20, 20],
      [20, 40],
      [0, 40],
    ],
  ],
  24,
);
const angle = extruded(
  [
    [
      [0, 0],
      [30, 0],
      [30, 6],
      [6, 6],
      [6, 30],
      [0, 30],
    ],
  ],
  10,
);

describe('patches', () => {
  it('hold every facet once, and no corner of one stands out over a facet of it', () => {
    for (const mesh of [stepped, angle]) {
      const patches = convexPatches(mesh);
      const all = patches.flat().sort((a, b) => a - b);
      expect(all).toEqual(Array.from({ length: mesh.triangles.length / 3 }, (_, f) => f));
      for (const patch of patches) {
        const corners = patch.map((f) =>
          [0, 1, 2].map((k) => pointAt(mesh.vertices, mesh.triangles[3 * f + k]!)),
        ) as [Vec3, Vec3, Vec3][];
        for (const [a, b, c] of corners) {
          const n = unit(cross(sub(b, a), sub(c, a)));
          for (const p of corners.flat()) expect(dot(n, sub(p, a))).toBeLessThan(2e-3);
        }
      }
    }
  });

  it('are as few as there are steps: the tip, the flange, the ring', () => {
    expect(convexPatches(stepped)).toHaveLength(3);
  });
});

describe('a body in patches', () => {
  it('has the gaps of its facets one by one along a path, 400 paths, seed 41', () => {
    const random = seeded(41);
    const search = new DistanceSearch();
    for (const mesh of [stepped, angle]) {
      const whole = meshBody(mesh);
      const loose = meshPieces(mesh)();
      const facets = new RigidBody([], [{ ...loose, groups: loose.groups.flat().map((s) => [s]) }]);
      const post = new RigidBody([{ shape: boxShape([-2, -3, -4], [2, 3, 4]) }]);
      let near = 0;
      for (let n = 0; n < 200; n++) {
        const at = (): number => 90 * random() - 45;
        const path = new Path(Float64Array.from({ length: 6 }, at));
        const ask = { path, things: post, frame: identity(), within: 25 };
        const [a, b] = [whole, facets].map((body) => search.least({ ...ask, body }));
        expect(a === undefined).toBe(b === undefined);
        if (!a || !b) continue;
        near++;
        expect(a.gap).toBeCloseTo(b.gap, 9);
      }
      expect(near).toBeGreaterThan(40);
    }
  });

  it('is never bounded by more than the gap of a box, 2000 boxes, seed 42', () => {
    const random = seeded(42);
    const search = new DistanceSearch();
    const still = new Path(new Float64Array(6));
    for (const body of [meshBody(stepped), meshBody(angle)]) {
      for (let n = 0; n < 1000; n++) {
        const c = [0, 1, 2].map(() => 90 * random() - 45) as [number, number, number];
        const h = [0, 1, 2].map(() => 8 * random() + 0.1) as [number, number, number];
        const things = new RigidBody([
          { shape: boxShape(sub(c, h), [c[0] + h[0], c[1] + h[1], c[2] + h[2]]) },
        ]);
        const gap = search.least({
          body,
          path: still,
          things,
          frame: identity(),
          within: 500,
        })!.gap;
        expect(body.bound(...c, ...h, 500)).toBeLessThan(Math.max(0, gap) + 1e-9);
      }
    }
  });
});
