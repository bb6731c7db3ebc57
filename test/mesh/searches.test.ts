/**
 * The box hierarchy and its searches over small sets of facets with whole coordinates, where facets touch,
 * coincide and have no area: every answer against a walk over all facets that knows no boxes.
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { type Vec3, along, cross, dot, length, pointAt, sub } from '../../lib/base/vector.js';
import { meshFrom } from '../../lib/mesh/build.js';
import { type BoxTree, facetBoxes, treeOf } from '../../lib/mesh/bvh.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { firstHit, nearestPoint, walkRay, windingNumbers } from '../../lib/mesh/query.js';
import { joined } from '../../lib/mesh/shells.js';
import { cuboid } from '../support/shapes.js';

type Corners = [Vec3, Vec3, Vec3];

const cornersOf = (m: Mesh, t: number): Corners => [
  pointAt(m.vertices, m.triangles[3 * t]!),
  pointAt(m.vertices, m.triangles[3 * t + 1]!),
  pointAt(m.vertices, m.triangles[3 * t + 2]!),
];

const loose = (corners: readonly Vec3[]): Mesh =>
  meshFrom(
    Float64Array.from(corners.flat()),
    Uint32Array.from({ length: corners.length }, (_, i) => i),
  );

const whole = (random: () => number, most: number): Vec3 => [
  Math.floor(most * random()),
  Math.floor(most * random()),
  Math.floor(most * random()),
];

/** Facets with whole coordinates below `most`; some have no area. */
const facets = (random: () => number, count: number, most: number): Mesh =>
  loose(Array.from({ length: 3 * count }, () => whole(random, most)));

describe('the hierarchy', () => {
  /** The facets under a node, after all that must hold there; `deepest` takes the longest chain. */
  function under(tree: BoxTree, node: number, depth: number, deepest: { nodes: number }): number[] {
    const { leaf, link, order, boxes, mesh } = tree;
    deepest.nodes = Math.max(deepest.nodes, depth);
    let own: number[];
    if (leaf[node]! > 0) {
      expect(leaf[node]).toBeLessThanOrEqual(4);
      own = [...order.subarray(link[node], link[node]! + leaf[node]!)];
    } else {
      const left = under(tree, node + 1, depth + 1, deepest);
      own = [...left, ...under(tree, link[node]!, depth + 1, deepest)];
      expect(own.length).toBeGreaterThan(4);
    }
    const points = own.flatMap((t) => cornersOf(mesh, t));
    for (let c = 0; c < 3; c++) {
      expect(boxes[6 * node + c]).toBe(Math.min(...points.map((p) => p[c]!)));
      expect(boxes[6 * node + 3 + c]).toBe(Math.max(...points.map((p) => p[c]!)));
    }
    return own;
  }

  function depthOf(tree: BoxTree, count: number): number {
    const deepest = { nodes: 0 };
    const all = under(tree, 0, 1, deepest);
    expect(all.sort((a, b) => a - b)).toEqual(Array.from({ length: count }, (_, i) => i));
    expect(tree.boxes.length).toBe(6 * tree.leaf.length);
    expect(tree.link.length).toBe(tree.leaf.length);
    return deepest.nodes;
  }

  it('holds each facet once, in the box of every node above it (seed 3)', () => {
    const random = seeded(3);
    for (const count of [1, 2, 4, 5, 8, 9, 17, 60, 120]) {
      const mesh = facets(random, count, 12);
      depthOf(treeOf(mesh), count);
      const limits = facetBoxes(mesh);
      for (let t = 0; t < count; t++) {
        for (let c = 0; c < 3; c++) {
          const values = cornersOf(mesh, t).map((p) => p[c]!);
          expect(limits[6 * t + c]).toBe(Math.min(...values));
          expect(limits[6 * t + 3 + c]).toBe(Math.max(...values));
        }
      }
    }
    expect(treeOf(facets(random, 0, 1)).leaf).toHaveLength(0);
  });

  /*
   * Where a split at the middle leaves less than an eighth on one side, the median is taken: no child has more
   * than 7/8 of its parent, so from n facets down to 4 there are at most log (n / 4) / log (8 / 7) steps.
   */
  it.each([
    ['in a row, each twice as far as the one before', (i: number): Vec3 => [2 ** i, 0, 0]],
    ['the same along Z, shuffled', (i: number): Vec3 => [0, 0, 2 ** ((i * 37) % 500)]],
    ['all in one place', (): Vec3 => [1, 2, 3]],
    ['in one place but for one', (i: number): Vec3 => (i === 77 ? [0, 1e6, 0] : [1, 2, 3])],
  ])('is not deep for 500 facets %s', (_, at) => {
    const corners: Vec3[] = [];
    for (let i = 0; i < 500; i++) {
      const p = at(i);
      corners.push(p, [p[0] + 0.5, p[1], p[2]], [p[0], p[1] + 0.5, p[2]]);
    }
    const depth = depthOf(treeOf(loose(corners)), 500);
    expect(depth).toBeLessThanOrEqual(2 + Math.log(500 / 4) / Math.log(8 / 7));
    // A chain would be 500 deep; twice log2 of 500 is 18.
    expect(depth).toBeLessThan(128);
  });

  it('is as shallow as halving gives for evenly spaced facets along each axis', () => {
    for (const axis of [0, 1, 2]) {
      const corners: Vec3[] = [];
      for (let i = 0; i < 256; i++) {
        const p = [0, 0, 0];
        p[axis] = i;
        const [x, y, z] = p as [number, number, number];
        corners.push([x, y, z], [x + 0.1, y, z], [x, y + 0.1, z + 0.1]);
      }
      // 256 = 4 * 2^6: seven nodes from the root to a leaf of four.
      expect(depthOf(treeOf(loose(corners)), 256)).toBe(7);
    }
  });
});

/** Distance to a triangle: its inside if the foot of the perpendicular is there, else the least of its sides. */
function gapTo(p: Vec3, corners: Corners): number {
  const [a, b, c] = corners;
  const n = cross(sub(b, a), sub(c, a));
  const toSide = (u: Vec3, v: Vec3): number => {
    const e = sub(v, u);
    const size = dot(e, e);
    const s = size > 0 ? Math.min(1, Math.max(0, dot(sub(p, u), e) / size)) : 0;
    return length(sub(p, along(u, e, s)));
  };
  const sides = Math.min(toSide(a, b), toSide(b, c), toSide(c, a));
  if (length(n) === 0) return sides;
  const within = [0, 1, 2].every((i) => {
    const [u, v] = [corners[i]!, corners[(i + 1) % 3]!];
    return dot(cross(sub(v, u), sub(p, u)), n) >= 0;
  });
  return within ? Math.abs(dot(sub(p, a), n)) / length(n) : sides;
}

describe('the nearest point', () => {
  it.each([1, 2, 3, 4])('is that of a walk over all facets (seed %i)', (seed) => {
    const random = seeded(seed);
    const mesh = facets(random, 3 + 12 * seed, 6);
    const tree = treeOf(mesh);
    for (let i = 0; i < 80; i++) {
      const p = whole(random, 9).map((x) => x - 1 + (i % 3) / 3) as unknown as Vec3;
      const gaps = Array.from({ length: mesh.triangles.length / 3 }, (_, t) =>
        gapTo(p, cornersOf(mesh, t)),
      );
      const least = Math.min(...gaps);
      const found = nearestPoint(tree, p)!;
      expect(found.distance).toBeCloseTo(least, 12);
      expect(gaps[found.triangle]).toBeCloseTo(least, 12);
      expect(length(sub(found.point, p))).toBeCloseTo(least, 12);
      expect(gapTo(found.point, cornersOf(mesh, found.triangle))).toBeLessThan(1e-12);
      if (least > 1e-9) expect(nearestPoint(tree, p, 0.999 * least)).toBeUndefined();
      expect(nearestPoint(tree, p, 1.001 * least + 1e-9)!.distance).toBeCloseTo(least, 12);
    }
  });

  it('is found at exactly the distance that is asked for, and no farther', () => {
    // 3, 4, 5: the corner of the box is 5 mm away.
    const tree = treeOf(cuboid([2, 2, 2]));
    expect(nearestPoint(tree, [4, 5, 1], 5)).toMatchObject({ distance: 5, point: [1, 1, 1] });
    expect(nearestPoint(tree, [4, 5, 1], 4.999999)).toBeUndefined();
    expect(nearestPoint(tree, [1, 0, 1], 0)).toMatchObject({ distance: 0 });
    expect(nearestPoint(treeOf(loose([])), [0, 0, 0])).toBeUndefined();
  });
});

interface Met {
  readonly distance: number;
  readonly triangle: number;
  readonly side: number;
}

/** Every facet that a line meets in its inside, by the volumes that the direction spans with its sides. */
function metBy(mesh: Mesh, o: Vec3, d: Vec3): Met[] {
  const out: Met[] = [];
  for (let t = 0; t < mesh.triangles.length / 3; t++) {
    const [a, b, c] = cornersOf(mesh, t).map((p) => sub(p, o)) as Corners;
    const turns = [dot(cross(a, b), d), dot(cross(b, c), d), dot(cross(c, a), d)].map(Math.sign);
    if (turns[0] === 0 || turns[0] !== turns[1] || turns[1] !== turns[2]) continue;
    const n = cross(sub(b, a), sub(c, a));
    out.push({ distance: dot(a, n) / dot(d, n), triangle: t, side: Math.sign(dot(d, n)) });
  }
  return out;
}

describe('rays', () => {
  it.each([1, 2, 3, 4])(
    'meet what a walk over all facets meets, with their sides (seed %i)',
    (seed) => {
      const random = seeded(seed);
      const mesh = facets(random, 15 * seed, 6);
      const tree = treeOf(mesh);
      for (let i = 0; i < 100; i++) {
        // Off the whole numbers, so that no ray meets an edge; every third one runs along an axis.
        const o = whole(random, 9).map((x, c) => x - 1.5 + [0.137, 0.271, 0.319][c]!) as never;
        const d: Vec3 =
          i % 3 > 0
            ? [random() - 0.5, random() - 0.5, random() - 0.5]
            : ([0, 1, 2].map((c) => (c === (i % 9) / 3 ? (i % 2 ? -1 : 2) : 0)) as never);
        const from = i % 4 === 0 ? 1.3 : 0;
        const to = i % 5 === 0 ? 4.1 : Infinity;
        const want = metBy(mesh, o, d).filter((m) => m.distance >= from && m.distance <= to);
        want.sort((a, b) => a.triangle - b.triangle);
        const found: Met[] = [];
        walkRay(tree, o, d, from, to, (hit, edge) => {
          found.push(hit);
          expect(edge).toBeGreaterThanOrEqual(0);
          expect(edge).toBeLessThanOrEqual(1 / 3);
          return Infinity;
        });
        found.sort((a, b) => a.triangle - b.triangle);
        expect(found.map((f) => [f.triangle, f.side])).toEqual(
          want.map((m) => [m.triangle, m.side]),
        );
        found.forEach((f, k) => expect(f.distance).toBeCloseTo(want[k]!.distance, 9));
        const first = firstHit(tree, o, d, from, to);
        const least = Math.min(...want.map((m) => m.distance));
        if (want.length === 0) expect(first).toBeUndefined();
        else expect(first!.distance).toBeCloseTo(least, 9);
      }
    },
  );

  it('say how near to an edge they pass: the least of the weights of the three corners', () => {
    const tree = treeOf(loose([0, 0, 0, 8, 0, 0, 0, 8, 0].reduce<Vec3[]>(triples, [])));
    for (const [x, y, edge] of [
      [1, 3, 1 / 8],
      [3, 2, 2 / 8],
      [4, 3, 1 / 8],
      [0, 3, 0],
      [8, 0, 0],
    ] as const) {
      let seen = NaN;
      walkRay(tree, [x, y, 5], [0, 0, -1], 0, Infinity, (_, e) => (seen = e));
      expect(seen).toBeCloseTo(edge, 12);
    }
  });

  it('take in both ends of the stretch that is asked for', () => {
    const tree = treeOf(cuboid([2, 4, 6]));
    const hits = (from: number, to: number): number[] => {
      const out: number[] = [];
      walkRay(tree, [-5, 0.3, 3.1], [1, 0, 0], from, to, ({ distance }) => {
        out.push(distance);
        return Infinity;
      });
      return out.sort((a, b) => a - b);
    };
    expect(hits(4, 6)).toEqual([4, 6]);
    expect(hits(4.01, 5.99)).toEqual([]);
    expect(hits(-Infinity, 4)).toEqual([4]);
  });

  it('along a face of a box meet nothing in it, but what stands across', () => {
    const tree = treeOf(loose(([[0, 0, 0], [4, 0, 0], [0, 4, 0], [3, -1, -1], [3, 3, -1], [3, 1, 3]] as Vec3[]))); // prettier-ignore
    expect(firstHit(tree, [-1, 1, 0], [1, 0, 0])).toMatchObject({ distance: 4, triangle: 1 });
    expect(firstHit(tree, [-1, 1, 0], [-1, 0, 0])).toBeUndefined();
  });
});

function triples(out: Vec3[], x: number, i: number, all: number[]): Vec3[] {
  return i % 3 === 0 ? [...out, [x, all[i + 1]!, all[i + 2]!]] : out;
}

describe('winding numbers', () => {
  it('count the boxes around a point, each by itself and all together (seed 8)', () => {
    const random = seeded(8);
    for (let n = 0; n < 30; n++) {
      const boxes = Array.from({ length: 6 }, () => {
        const low = whole(random, 6);
        const size = whole(random, 5).map((x) => x + 1) as unknown as Vec3;
        return { low, size };
      });
      const mesh = joined(
        boxes.map(({ low, size }) =>
          cuboid(size, [low[0] + size[0] / 2, low[1] + size[1] / 2, low[2]]),
        ),
      );
      const tree = treeOf(mesh);
      for (let i = 0; i < 20; i++) {
        const p = whole(random, 10).map((x) => x + 0.5) as unknown as Vec3;
        const around = boxes.map(({ low, size }) =>
          Number(low.every((x, c) => p[c]! > x && p[c]! < x + size[c]!)),
        );
        const each = windingNumbers(tree, p, (t) => Math.floor(t / 12));
        expect(around.map((_, k) => each.get(k) ?? 0)).toEqual(around);
        expect(windingNumbers(tree, p).get(0) ?? 0).toBe(around.reduce((a, b) => a + b));
      }
    }
  });

  it('stand where the first direction that is tried runs into edges and corners', () => {
    const box = cuboid([20, 20, 20]);
    const d: Vec3 = [0.5377, 0.6191, 0.5724];
    const tree = treeOf(box);
    // From these places it meets the middle of an edge, the middle of a face (its diagonal) or a corner.
    const marks: Vec3[] = [[10, 10, 13], [10, 3, 20], [4, 10, 20], [10, 0, 10], [0, 10, 10], [0, 0, 20], [10, 10, 20]]; // prettier-ignore
    for (const mark of marks) {
      for (let s = 1; s < 16; s++) {
        expect(windingNumbers(tree, along(mark, d, -s)).get(0) ?? 0).toBe(
          along(mark, d, -s).every((x, c) => (c < 2 ? Math.abs(x) < 10 : x > 0 && x < 20)) ? 1 : 0,
        );
      }
    }
  });
});
