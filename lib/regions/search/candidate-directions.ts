/**
 * Directions worth trying beside even ones over the sphere: the normals of large faces of the part, which fit its own
 * planes and axes exactly.
 */
import type { Mesh } from '../../base/mesh.js';
import { type Vec3, unit } from '../../base/vector.js';
import { areaNormals } from '../../mesh/measure.js';

/** Facets within this angle of each other count as one face, rad. */
const ONE_FACE = 0.02;

/** Normals of faces that hold at least `share` of the surface, largest first. */
export function faceNormals(mesh: Mesh, share: number, most: number): Vec3[] {
  const n = areaNormals(mesh);
  const groups = new Map<string, { sum: [number, number, number]; area: number }>();
  let total = 0;
  for (let i = 0; i < n.length; i += 3) {
    const area = Math.hypot(n[i]!, n[i + 1]!, n[i + 2]!);
    if (area === 0) continue;
    total += area;
    const key = [0, 1, 2].map((k) => Math.round(n[i + k]! / area / ONE_FACE)).join(' ');
    const group = groups.get(key) ?? { sum: [0, 0, 0], area: 0 };
    for (let k = 0; k < 3; k++) group.sum[k]! += n[i + k]!;
    group.area += area;
    groups.set(key, group);
  }
  return [...groups.values()]
    .filter((g) => g.area >= share * total)
    .sort((a, b) => b.area - a.area)
    .slice(0, most)
    .map((g) => unit(g.sum));
}
