/**
 * The facets of a closed shell divided into convex patches, each grown over its edges by region growing as
 * long as it stays convex. The hull of such a patch has nothing outside that the patch itself does not
 * have, so it bounds all of its facets at once, and closely. Every facet belongs to one patch.
 */
import type { Mesh } from '../../base/mesh.js';
import { type Vec3, cross, dot, length, pointAt, scale, sub } from '../../base/vector.js';

/** Vertices that stand out over the plane of a facet by less than this are on it, mm. */
export const FACET_FLATNESS = 1e-3;
/** Most facets of a patch. */
const MOST_PATCH_FACETS = 256;

interface FacetPlane {
  readonly normal: Vec3;
  readonly far: number;
}

export function convexPatches({ vertices, triangles, twins }: Mesh): number[][] {
  const count = triangles.length / 3;
  const planes = Array.from({ length: count }, (_, f) => planeOf(vertices, triangles, f));
  const taken = new Uint8Array(count);
  const corners = (f: number): Vec3[] =>
    [0, 1, 2].map((k) => pointAt(vertices, triangles[3 * f + k]!));
  const out: number[][] = [];
  for (let first = 0; first < count; first++) {
    if (taken[first]) continue;
    const patch = [first];
    const rim = corners(first);
    taken[first] = 1;
    // The list grows while it is traversed.
    for (let i = 0; i < patch.length && patch.length < MOST_PATCH_FACETS; i++) {
      for (let k = 0; k < 3; k++) {
        const twin = twins[3 * patch[i]! + k]!;
        const next = Math.floor(twin / 3);
        if (twin < 0 || taken[next] || patch.length === MOST_PATCH_FACETS) continue;
        const own = corners(next);
        if (!under(planes[next]!, rim) || !patch.every((f) => under(planes[f]!, own))) continue;
        taken[next] = 1;
        patch.push(next);
        rim.push(...own);
      }
    }
    out.push(patch);
  }
  return out;
}

const under = ({ normal, far }: FacetPlane, points: readonly Vec3[]): boolean =>
  points.every((p) => dot(normal, p) <= far + FACET_FLATNESS);

/** A facet without area is under everything. */
function planeOf(vertices: Float64Array, triangles: Uint32Array, f: number): FacetPlane {
  const [a, b, c] = [0, 1, 2].map((k) => pointAt(vertices, triangles[3 * f + k]!)) as [
    Vec3,
    Vec3,
    Vec3,
  ];
  const n = cross(sub(b, a), sub(c, a));
  const size = length(n);
  if (!(size > 0)) return { normal: [0, 0, 0], far: 0 };
  const normal = scale(n, 1 / size);
  return { normal, far: dot(normal, a) };
}
