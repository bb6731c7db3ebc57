/**
 * A closed mesh as convex pieces: a convex shell is the hull of its vertices, every other shell the pieces
 * of its facets, and what lies wholly inside is found by winding number. Nothing that is not convex is
 * replaced by its hull. Over a height `from` only what lies above counts, and what lies below is pressed
 * flat onto that height: the foot of a head is as wide as anything below.
 *
 * Facets are grouped into convex patches, each in a hull that is measured before they are, and bounded as
 * round where it is. Facets in a plain hierarchy of boxes were tried: near the tip of a head hundreds of
 * them lie within the distance that is searched, and every one was measured against every bead (gutter
 * elbow, the sample head as 876 facets: motion 38 s of processor time, 11 s with hulls alone, 6.8 s with
 * hulls bounded as round; 5.1 s with the head as radii).
 */
import type { Mesh } from '../base/mesh.js';
import { type Vec3, cross, dot, length, pointAt, scale, sub } from '../base/vector.js';
import { treeOf } from '../mesh/bvh.js';
import { massOf } from '../mesh/measure.js';
import { windingNumbers } from '../mesh/query.js';
import { splitShells } from '../mesh/shells.js';
import { FACET_FLATNESS, convexPatches } from './convex/convex-patches.js';
import { type ConvexShape, hull } from './convex/support-shape.js';

/** Shells of more facets are not asked whether they are convex: it takes facets times vertices. */
const MOST_CONVEX_FACETS = 4000;

export interface MeshPieces {
  /** In groups whose hull is little more than themselves (`convexPatches`). */
  readonly groups: readonly (readonly ConvexShape[])[];
  /** True if a point lies inside a shell that is not convex; left out where all are. */
  readonly holds?: (p: Vec3) => boolean;
  /** A point of each shell. */
  readonly seeds: readonly Vec3[];
}

/** The pieces of a mesh above any height; what does not depend on the height is computed once. */
export function meshPieces(mesh: Mesh): (from?: number) => MeshPieces {
  const parts = splitShells(mesh);
  // Where a shell bounds a cavity, the body around it is not convex.
  const shells = parts.every((s) => massOf(s).volume > 0) ? parts : [mesh];
  const whole = shells.map(isConvex);
  const convex = shells.filter((_, i) => whole[i]);
  const others = shells.filter((_, i) => !whole[i]);
  // Edges of each piece, in groups.
  const grouped = [
    ...convex.map((shell) => [allEdges(shell)]),
    ...others.flatMap((shell) =>
      convexPatches(shell).map((patch) => patch.map((f) => edgesOf(shell, f))),
    ),
  ];
  const trees = others.map(treeOf);
  // Over all heights, -Infinity, nothing is pressed flat.
  return (from = -Infinity) => ({
    groups: grouped.map((group) => group.flatMap((edges) => lifted(edges, from))),
    ...(trees.length > 0 && {
      holds: (p) => p[2] >= from && trees.some((t) => (windingNumbers(t, p).get(0) ?? 0) !== 0),
    }),
    seeds: parts.map(({ vertices: v }) => [v[0]!, v[1]!, Math.max(v[2]!, from)]),
  });
}

/** The hull of edges (two points each): the part above the height, and the rest pressed onto it. */
function lifted(edges: readonly Vec3[], from: number): ConvexShape[] {
  const over: Vec3[] = [];
  const under: Vec3[] = [];
  for (let i = 0; i < edges.length; i += 2) {
    const [a, b] = [edges[i]!, edges[i + 1]!];
    (a[2] >= from ? over : under).push([a[0], a[1], Math.max(a[2], from)]);
    if (a[2] >= from === b[2] >= from) continue;
    const t = (from - a[2]) / (b[2] - a[2]);
    const cut: Vec3 = [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1]), from];
    over.push(cut);
    under.push(cut);
  }
  return [over, under].filter((points) => points.length > 0).map((points) => hull(points));
}

/** Both ends of the three edges of a facet. */
function edgesOf({ vertices, triangles }: Mesh, f: number): Vec3[] {
  const [a, b, c] = [0, 1, 2].map((k) => pointAt(vertices, triangles[3 * f + k]!)) as [
    Vec3,
    Vec3,
    Vec3,
  ];
  return [a, b, b, c, c, a];
}

/** Both ends of every edge of a shell; each vertex begins at least one. */
function allEdges({ vertices, triangles, twins }: Mesh): Vec3[] {
  const out: Vec3[] = [];
  const begun = new Uint8Array(vertices.length / 3);
  triangles.forEach((v, h) => {
    const end = triangles[h % 3 === 2 ? h - 2 : h + 1]!;
    if (twins[h]! < h && begun[v] === 1) return;
    begun[v] = 1;
    out.push(pointAt(vertices, v), pointAt(vertices, end));
  });
  return out;
}

function isConvex({ vertices: v, triangles: t }: Mesh): boolean {
  if (t.length / 3 > MOST_CONVEX_FACETS) return false;
  for (let f = 0; f < t.length; f += 3) {
    const [a, b, c] = [0, 1, 2].map((k) => pointAt(v, t[f + k]!)) as [Vec3, Vec3, Vec3];
    const n = cross(sub(b, a), sub(c, a));
    const size = length(n);
    if (!(size > 0)) continue;
    const normal = scale(n, 1 / size);
    const far = dot(normal, a) + FACET_FLATNESS;
    for (let i = 0; i < v.length; i += 3) {
      if (v[i]! * normal[0] + v[i + 1]! * normal[1] + v[i + 2]! * normal[2] > far) return false;
    }
  }
  return true;
}
