/** Orientation of facets: turning them over, and which shells lie within which. */
import type { Vec3 } from '../../base/vector.js';
import { treeOf } from '../bvh.js';
import { areaNormals } from '../measure.js';
import type { Mesh } from '../mesh.js';
import { windingNumbers } from '../query.js';
import type { Shells } from '../shells.js';

/** The mesh with all facets, or the chosen ones, turned over. Twins follow. Choose whole shells. */
export function turnedOver(mesh: Mesh, turn: (triangle: number) => boolean = () => true): Mesh {
  const triangles = mesh.triangles.slice();
  const twins = mesh.twins.slice();
  // Swapping the first two corners a, b, c -> b, a, c leaves edge 0 in place and swaps edges 1 and 2.
  const place = (h: number): number => (h % 3 === 0 ? h : h % 3 === 1 ? h + 1 : h - 1);
  for (let t = 0; t < triangles.length / 3; t++) {
    if (!turn(t)) continue;
    const h = 3 * t;
    triangles[h] = mesh.triangles[h + 1]!;
    triangles[h + 1] = mesh.triangles[h]!;
    for (let i = h; i < h + 3; i++) {
      const twin = mesh.twins[i]!;
      twins[place(i)] = twin < 0 ? -1 : place(twin);
    }
  }
  return { vertices: mesh.vertices, triangles, twins };
}

/**
 * For each shell the shells that it lies in, found by one ray from the middle of its largest facet.
 * Says nothing sure about shells that cross.
 */
export function enclosing(mesh: Mesh, shells: Shells): number[][] {
  const tree = treeOf(mesh);
  return largestFacets(mesh, shells).map((t, s) => {
    const counts = windingNumbers(tree, middleOf(mesh, t), (u) => shells.of[u]!);
    return [...counts].filter(([o, n]) => o !== s && n !== 0).map(([o]) => o);
  });
}

function largestFacets(mesh: Mesh, shells: Shells): number[] {
  const normals = areaNormals(mesh);
  const best = new Float64Array(shells.count).fill(-1);
  const out: number[] = new Array<number>(shells.count).fill(0);
  shells.of.forEach((s, t) => {
    const area = Math.hypot(normals[3 * t]!, normals[3 * t + 1]!, normals[3 * t + 2]!);
    if (area <= best[s]!) return;
    best[s] = area;
    out[s] = t;
  });
  return out;
}

function middleOf({ vertices: v, triangles: t }: Mesh, facet: number): Vec3 {
  const at = (c: number): number =>
    (v[3 * t[3 * facet]! + c]! + v[3 * t[3 * facet + 1]! + c]! + v[3 * t[3 * facet + 2]! + c]!) / 3;
  return [at(0), at(1), at(2)];
}
