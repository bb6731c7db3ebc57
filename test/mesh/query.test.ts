/** Nearest points, rays and winding numbers: closed forms for balls and boxes, and brute force. */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { type Vec3, along, cross, dot, length, pointAt, sub, unit } from '../../lib/base/vector.js';
import { treeOf } from '../../lib/mesh/bvh.js';
import { eachContact } from '../../lib/mesh/repair/crossing-facets.js';
import { meshFrom } from '../../lib/mesh/build.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { firstHit, nearestPoint, walkRay, windingNumbers } from '../../lib/mesh/query.js';
import { joined } from '../../lib/mesh/shells.js';
import { cuboid, hollowSphere, icosphere, torus } from '../support/shapes.js';
import { bunny3k } from '../support/open-meshes.js';

const inBox = (random: () => number, size: number): Vec3 => [
  size * (random() - 0.5),
  size * (random() - 0.5),
  size * (random() - 0.5),
];

/** Nearest point of a triangle by trying its plane, its edges and its corners in turn. */
function gapToTriangle(p: Vec3, a: Vec3, b: Vec3, c: Vec3): number {
  const n = unit(cross(sub(b, a), sub(c, a)));
  const foot = along(p, n, -dot(sub(p, a), n));
  const sides: [Vec3, Vec3][] = [
    [a, b],
    [b, c],
    [c, a],
  ];
  if (length(n) > 0 && sides.every(([u, v]) => dot(cross(sub(v, u), sub(foot, u)), n) >= 0)) {
    return Math.abs(dot(sub(p, a), n));
  }
  return Math.min(
    ...sides.map(([u, v]) => {
      const e = sub(v, u);
      const s = Math.min(1, Math.max(0, dot(sub(p, u), e) / dot(e, e)));
      return length(sub(p, along(u, e, s)));
    }),
  );
}

const cornersOf = (m: Mesh, t: number): [Vec3, Vec3, Vec3] => [
  pointAt(m.vertices, m.triangles[3 * t]!),
  pointAt(m.vertices, m.triangles[3 * t + 1]!),
  pointAt(m.vertices, m.triangles[3 * t + 2]!),
];

describe('nearest point', () => {
  it('of a box: the face, the edge, the corner (closed form)', () => {
    const tree = treeOf(cuboid([2, 4, 6]));
    expect(nearestPoint(tree, [3, 0, 3])).toMatchObject({ distance: 2, point: [1, 0, 3] });
    expect(nearestPoint(tree, [4, 6, 3])!.distance).toBeCloseTo(5, 12);
    expect(nearestPoint(tree, [2, 3, 7])!.distance).toBeCloseTo(Math.sqrt(3), 12);
    expect(nearestPoint(tree, [0, 0, 3])!.distance).toBeCloseTo(1, 12);
    expect(nearestPoint(tree, [3, 0, 3], 1.9)).toBeUndefined();
    expect(
      nearestPoint(treeOf(meshFrom(new Float64Array(0), new Uint32Array(0))), [0, 0, 0]),
    ).toBeUndefined();
  });

  for (const [name, make] of [
    ['bunny3k', bunny3k],
    ['torus', (): Mesh => torus(5, 2, 40, 20)],
  ] as const) {
    it(`of ${name} at 100 points is that of brute force (seed 11)`, () => {
      const mesh = make();
      const tree = treeOf(mesh);
      const random = seeded(11);
      for (let i = 0; i < 100; i++) {
        const p = inBox(random, 20);
        let least = Infinity;
        for (let t = 0; t < mesh.triangles.length / 3; t++) {
          least = Math.min(least, gapToTriangle(p, ...cornersOf(mesh, t)));
        }
        const found = nearestPoint(tree, p)!;
        expect(found.distance).toBeCloseTo(least, 9);
        expect(length(sub(found.point, p))).toBeCloseTo(found.distance, 12);
        expect(gapToTriangle(found.point, ...cornersOf(mesh, found.triangle))).toBeLessThan(1e-9);
      }
    });
  }
});

describe('rays', () => {
  it('enter and leave a box where they should, along its axes too', () => {
    const tree = treeOf(cuboid([2, 4, 6]));
    expect(firstHit(tree, [-5, 0.3, 3.1], [1, 0, 0])).toMatchObject({ distance: 4, side: -1 });
    expect(firstHit(tree, [0.2, 0.3, 3.1], [0, 0, -2])).toMatchObject({ distance: 1.55, side: 1 });
    expect(firstHit(tree, [-5, 0.3, 3.1], [1, 0, 0], 4.5)).toMatchObject({ distance: 6, side: 1 });
    expect(firstHit(tree, [-5, 0.3, 3.1], [1, 0, 0], 0, 3.9)).toBeUndefined();
    expect(firstHit(tree, [-5, 0.3, 3.1], [-1, 0, 0])).toBeUndefined();
    expect(firstHit(tree, [-5, 0.3, 6.1], [1, 0, 0])).toBeUndefined();
  });

  it('meet as many facets as brute force says, 300 times (seed 5)', () => {
    const mesh = bunny3k();
    const tree = treeOf(mesh);
    const random = seeded(5);
    for (let i = 0; i < 300; i++) {
      const o = inBox(random, 16);
      const d = unit(inBox(random, 1));
      let expected = 0;
      for (let t = 0; t < mesh.triangles.length / 3; t++) {
        const [a, b, c] = cornersOf(mesh, t).map((p) => sub(p, o)) as [Vec3, Vec3, Vec3];
        // The ray passes the triangle when it winds the same way around all three edges.
        const s = [dot(cross(a, b), d), dot(cross(b, c), d), dot(cross(c, a), d)].map(Math.sign);
        if (s[0] !== s[1] || s[1] !== s[2]) continue;
        const n = cross(sub(b, a), sub(c, a));
        if (dot(a, n) / dot(d, n) >= 0) expected++;
      }
      let met = 0;
      walkRay(tree, o, d, 0, Infinity, () => {
        met++;
        return Infinity;
      });
      expect(met).toBe(expected);
    }
  });
});

describe('winding numbers', () => {
  it('are 1 in the wall of a hollow sphere, 0 in its cavity and outside', () => {
    const tree = treeOf(hollowSphere(10, 8, 48));
    const at = (p: Vec3): number => windingNumbers(tree, p).get(0) ?? 0;
    expect([at([0, 0, 9]), at([5, 5, -5.2]), at([0, 0, 0]), at([0, 0, 7]), at([0, 0, 11])]).toEqual(
      [1, 1, 0, 0, 0],
    );
  });

  it('add up where two boxes overlap', () => {
    const tree = treeOf(joined([cuboid([10, 10, 10]), cuboid([10, 10, 10], [5, 0, 0])]));
    const at = (x: number): number => windingNumbers(tree, [x, 0.1, 5]).get(0) ?? 0;
    expect([at(-7), at(-2), at(2), at(7), at(12)]).toEqual([0, 1, 2, 1, 0]);
  });
});

describe('contacts', () => {
  const contacts = (m: Mesh): { cross: number; overlap: number } => {
    const counts = { cross: 0, overlap: 0 };
    eachContact(treeOf(m), (_, __, c) => {
      counts[c]++;
      return true;
    });
    return counts;
  };
  const moved = (m: Mesh, x: number, y = 0, z = 0): Mesh => ({
    ...m,
    vertices: m.vertices.map((v, i) => v + [x, y, z][i % 3]!),
  });

  it.each([
    ['a ball', icosphere(10, 4)],
    ['a torus', torus(20, 5, 60, 30)],
    ['the scanned bunny', bunny3k()],
    ['two boxes that touch in a corner', joined([cuboid([2, 2, 2]), cuboid([2, 2, 2], [2, 2, 2])])],
    [
      'two boxes that touch along an edge',
      joined([cuboid([2, 2, 2]), cuboid([2, 2, 2], [2, 2, 0])]),
    ],
    ['two boxes 1e-3 apart', joined([cuboid([2, 2, 2]), cuboid([2, 2, 2], [2.001, 0, 0])])],
  ])('%s has none', (_, mesh) => {
    expect(contacts(mesh)).toEqual({ cross: 0, overlap: 0 });
  });

  it('two boxes on each other: their common face overlaps, nothing crosses', () => {
    const { cross: crossed, overlap } = contacts(
      joined([cuboid([2, 2, 2]), cuboid([2, 2, 2], [0, 0, 2])]),
    );
    expect(crossed).toBe(0);
    expect(overlap).toBeGreaterThan(0);
  });

  it('a box stuck through a box: 4 edges pass through 2 faces', () => {
    const counts = contacts(
      joined([cuboid([10, 10, 10]), moved(cuboid([2.02, 3.04, 20]), 0.3, 0.2, -5)]),
    );
    expect(counts.overlap).toBe(0);
    // Each of the four long edges, on two facets each, passes through one facet of each of two faces.
    expect(counts.cross).toBeGreaterThanOrEqual(8);
  });

  for (let seed = 1; seed <= 20; seed++) {
    it(`loose facets cross where brute force says (seed ${seed})`, () => {
      const random = seeded(seed);
      const n = 60;
      const vertices = new Float64Array(9 * n).map(() => 10 * random());
      const mesh = meshFrom(
        vertices,
        Uint32Array.from({ length: 3 * n }, (_, i) => i),
      );
      const found = new Set<string>();
      eachContact(treeOf(mesh), (a, b) => {
        found.add(`${Math.min(a, b)} ${Math.max(a, b)}`);
        return true;
      });
      const expected = new Set<string>();
      for (let a = 0; a < n; a++) {
        for (let b = a + 1; b < n; b++) {
          if (
            pierced(cornersOf(mesh, a), cornersOf(mesh, b)) ||
            pierced(cornersOf(mesh, b), cornersOf(mesh, a))
          ) {
            expected.add(`${a} ${b}`);
          }
        }
      }
      expect([...found].sort()).toEqual([...expected].sort());
    });
  }

  /** Whether an edge of s passes through t: solve for the point where it meets the plane. */
  function pierced(s: [Vec3, Vec3, Vec3], [a, b, c]: [Vec3, Vec3, Vec3]): boolean {
    const n = cross(sub(b, a), sub(c, a));
    return [0, 1, 2].some((i) => {
      const u = s[i]!;
      const e = sub(s[(i + 1) % 3]!, u);
      const k = dot(sub(a, u), n) / dot(e, n);
      if (!(k > 0 && k < 1)) return false;
      const p = along(u, e, k);
      const inside = (x: Vec3, y: Vec3): boolean => dot(cross(sub(y, x), sub(p, x)), n) > 0;
      return inside(a, b) && inside(b, c) && inside(c, a);
    });
  }
});

it('builds a tree over facets that all have one centre', () => {
  // Seven coincident facets cannot be parted by their centres.
  const one = [0, 0, 0, 1, 0, 0, 0, 1, 0];
  for (const n of [5, 6, 7, 8, 100]) {
    const mesh = meshFrom(
      Float64Array.from(Array(n).fill(one).flat() as number[]),
      Uint32Array.from({ length: 3 * n }, (_, i) => i),
    );
    const tree = treeOf(mesh);
    expect([...tree.order].sort((a, b) => a - b)).toEqual(Array.from({ length: n }, (_, i) => i));
    expect(tree.leaf.reduce((a, b) => a + b)).toBe(n);
    expect(nearestPoint(tree, [0.2, 0.2, 3])!.distance).toBeCloseTo(3, 12);
  }
});
