/** Shells that are inside out are turned, so that every outermost shell encloses a positive volume. */
import type { Finding } from '../base/fault.js';
import { pointAt } from '../base/vector.js';
import { massOf } from './measure.js';
import { treeOf } from './bvh.js';
import type { Mesh } from './mesh.js';
import { windings } from './query.js';
import { type Shells, shellsOf, splitShells } from './shells.js';

/** The mesh with all facets, or those of the chosen shells, turned over. Twins follow. */
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
 * Turns shells that are inside out: a shell with negative volume that lies in no material is no cavity.
 * What lies within a turned shell is turned with it. Shells that cross count as not within each other.
 */
export function turnOutwards(mesh: Mesh): { mesh: Mesh; finding?: Finding } {
  const shells = shellsOf(mesh);
  const signs = splitShells(mesh, shells).map((s) => Math.sign(massOf(s).volume));
  if (!signs.includes(-1)) return { mesh };
  const around = shells.count === 1 ? [[]] : enclosing(mesh, shells);
  const turned = signs.map(() => false);
  const outsideIn = signs.map((_, s) => s).sort((a, b) => around[a]!.length - around[b]!.length);
  for (const s of outsideIn) {
    const material = around[s]!.reduce((sum, o) => sum + signs[o]!, 0);
    if (signs[s] !== -1 || material > 0) continue;
    signs.forEach((_, o) => {
      if (o !== s && !around[o]!.includes(s)) return;
      signs[o] = -signs[o]!;
      turned[o] = !turned[o];
    });
  }
  const count = turned.filter(Boolean).length;
  if (count === 0) return { mesh };
  const first = shells.of.findIndex((s) => turned[s]);
  return {
    mesh: turnedOver(mesh, (t) => turned[shells.of[t]!]!),
    finding: {
      code: 'mesh/inside-out',
      severity: 'warning',
      message: `${count} of ${shells.count} shells faced inwards and were turned`,
      at: { point: pointAt(mesh.vertices, mesh.triangles[3 * first]!), frame: 'part' },
    },
  };
}

/** For each shell the shells that it lies in, found by one ray from one of its points. */
export function enclosing(mesh: Mesh, shells: Shells): number[][] {
  const tree = treeOf(mesh);
  const firsts = new Int32Array(shells.count).fill(-1);
  shells.of.forEach((s, t) => {
    if (firsts[s]! < 0) firsts[s] = t;
  });
  return Array.from(firsts, (t, s) => {
    const counts = windings(
      tree,
      pointAt(mesh.vertices, mesh.triangles[3 * t]!),
      (u) => shells.of[u]!,
    );
    return [...counts].filter(([o, n]) => o !== s && n !== 0).map(([o]) => o);
  });
}
