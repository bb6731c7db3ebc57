/**
 * Merge trees against plain counts at many heights: the vertices above a plane and the edges between them
 * fall into pieces (flood fill), and the facets wholly above it have an area.
 */
import { describe, expect, it } from 'vitest';
import type { Mesh } from '../../../lib/base/mesh.js';
import { type Vec3, cross, dot, length, pointAt, sub, unit } from '../../../lib/base/vector.js';
import { bodyFrom } from '../../../lib/regions/search/remaining-body.js';
import { MergeTree } from '../../../lib/regions/search/merge-tree.js';
import {
  arch,
  hollowSphere,
  icosphere,
  ringStanding,
  tShape,
  together,
} from '../../support/shapes.js';
import { moved } from '../../../lib/mesh/build.js';
import { shift } from '../../../lib/base/frame.js';

const RULES = { theta: Math.PI / 4, foot: 0.1 };

/** Pieces into which the vertices above a height fall. */
function piecesAbove({ triangles }: Mesh, along: Float64Array, height: number): number[][] {
  const near = new Map<number, Set<number>>();
  for (let v = 0; v < along.length; v++) if (along[v]! >= height) near.set(v, new Set());
  for (let h = 0; h < triangles.length; h++) {
    const [a, b] = [triangles[h]!, triangles[h % 3 === 2 ? h - 2 : h + 1]!];
    if (!near.has(a) || !near.has(b)) continue;
    near.get(a)!.add(b);
    near.get(b)!.add(a);
  }
  const pieces: number[][] = [];
  const seen = new Set<number>();
  for (const v of near.keys()) {
    if (seen.has(v)) continue;
    const piece = [v];
    seen.add(v);
    for (let i = 0; i < piece.length; i++) {
      for (const w of near.get(piece[i]!)!) {
        if (seen.has(w)) continue;
        seen.add(w);
        piece.push(w);
      }
    }
    pieces.push(piece.sort((a, b) => a - b));
  }
  return pieces.sort((a, b) => a[0]! - b[0]!);
}

function areaOf({ vertices, triangles }: Mesh, t: number): number {
  const [a, b, c] = [0, 1, 2].map((k) => pointAt(vertices, triangles[3 * t + k]!)) as [
    Vec3,
    Vec3,
    Vec3,
  ];
  return length(cross(sub(b, a), sub(c, a))) / 2;
}

const solids: [string, Mesh][] = [
  ['a T', tShape()],
  ['an arch', arch(20, 10, 15, 20, 12)],
  ['a ring on its rim', ringStanding(20, 5, 24, 12)],
  ['two balls', together(icosphere(6, 2), moved(icosphere(4, 2), shift([15, 3, 2])))],
];
const normals: Vec3[] = [
  [0.1, 0.03, 1],
  [1, 0.2, 0.3],
  [-0.3, 0.9, 0.25],
  [0.2, -0.5, -1],
];

describe.each(solids)('%s', (_, mesh) => {
  const cut = new Int32Array(mesh.triangles.length / 3).fill(-1);
  const body = bodyFrom({ mesh, cut }, RULES);
  const worth = Float64Array.from(cut, (_c, t) => (t % 3 ? 1.5 * t : 0));
  const tree = new MergeTree(body, worth);

  it('has the pieces and the areas that are counted, for one normal after another', () => {
    for (const n of normals) {
      const normal = unit(n);
      tree.sink(normal);
      const count = mesh.vertices.length / 3;
      const along = Float64Array.from({ length: count }, (_v, v) =>
        dot(pointAt(mesh.vertices, v), normal),
      );
      expect([...tree.vertex].sort((a, b) => a - b)).toEqual(Array.from(along.keys()));
      const areas = Array.from(cut, (_c, t) => areaOf(mesh, t));
      for (let r = 0; r < count; r += 7) {
        // Only where the next vertex is clearly lower.
        if (r + 1 < count && tree.height[r]! - tree.height[r + 1]! < 1e-4) continue;
        const height = tree.height[r]!;
        expect(height).toBe(along[tree.vertex[r]!]);
        // Arcs up to here, each carried on to the one that joined it.
        const into = new Map<number, number>();
        let arcs = 0;
        for (let k = 0; k <= r; k++) if (tree.begins[k]) arcs++;
        for (let a = 0; a < arcs; a++) {
          for (let i = tree.joinStart[a]!; i < tree.joinStart[a + 1]!; i++)
            into.set(tree.joined[i]!, a);
        }
        const pieces = new Map<number, number[]>();
        for (let k = 0; k <= r; k++) {
          let a = tree.arc[k]!;
          while (into.has(a)) a = into.get(a)!;
          pieces.set(a, [...(pieces.get(a) ?? []), tree.vertex[k]!]);
        }
        const found = [...pieces.values()].map((p) => p.sort((a, b) => a - b));
        expect(found.sort((a, b) => a[0]! - b[0]!)).toEqual(piecesAbove(mesh, along, height));
        let [area, relieved, wantArea, wantRelieved] = [0, 0, 0, 0];
        for (let k = 0; k <= r; k++) {
          area += tree.area[k]!;
          relieved += tree.relieved[k]!;
        }
        areas.forEach((size, t) => {
          if ([0, 1, 2].some((c) => along[mesh.triangles[3 * t + c]!]! < height)) return;
          wantArea += size;
          wantRelieved += worth[t]!;
        });
        expect(area).toBeCloseTo(wantArea, 6);
        expect(relieved).toBeCloseTo(wantRelieved, 6);
      }
      for (let t = 0; t < areas.length; t++) {
        const ranks = [0, 1, 2].map((c) => tree.rankOf[mesh.triangles[3 * t + c]!]!);
        expect(tree.top[t]).toBe(Math.min(...ranks));
      }
    }
  });
});

it('the roof of a hollow begins no piece: a hollow ball is one at any height', () => {
  const mesh = hollowSphere(10, 8, 24);
  const cut = new Int32Array(mesh.triangles.length / 3).fill(-1);
  const tree = new MergeTree(bodyFrom({ mesh, cut }, RULES), new Float64Array(cut.length));
  for (const n of normals) {
    tree.sink(unit(n));
    expect(tree.begins.reduce((sum, flag) => sum + flag, 0)).toBe(1);
    expect(tree.begins[0]).toBe(1);
  }
});
