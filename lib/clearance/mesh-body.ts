/**
 * A closed mesh as convex pieces: a shell that is convex is the hull of its vertices, every other shell
 * the pieces of its facets, and what lies wholly inside is told by winding. Never a hull in place of
 * what is not convex. Over a height `from` only what lies over it counts, and what lies under it is
 * pressed flat onto it: the foot of a head is as wide as anything below.
 */
import type { Mesh } from '../base/mesh.js';
import { type Vec3, cross, dot, length, pointAt, scale, sub } from '../base/vector.js';
import { treeOf } from '../mesh/bvh.js';
import { massOf } from '../mesh/measure.js';
import { windings } from '../mesh/query.js';
import { splitShells } from '../mesh/shells.js';
import { type Shape, hull } from './shape.js';

/** No vertex of a convex shell stands out over the plane of a facet by more than this, mm. */
const FLAT = 1e-3;
/** Shells of more facets are not asked whether they are convex: it takes facets times vertices. */
const MANY = 4000;

export interface MeshPieces {
  /** In an order in which neighbours lie together. */
  readonly pieces: readonly Shape[];
  /** True if a point lies inside a shell that is not convex; left out where all are. */
  readonly holds?: (p: Vec3) => boolean;
  /** A point of each shell. */
  readonly seeds: readonly Vec3[];
}

/** @param from height over which the mesh counts, mm; -Infinity for all of it */
export function meshPieces(mesh: Mesh, from = -Infinity): MeshPieces {
  const tests: ((p: Vec3) => boolean)[] = [];
  const parts = splitShells(mesh);
  // Where a shell bounds a cavity, what is around it is no hull.
  const shells = parts.every((s) => massOf(s).volume > 0) ? parts : [mesh];
  const pieces = shells.flatMap((shell): Shape[] => {
    if (isConvex(shell)) return lifted(allEdges(shell), from);
    const tree = treeOf(shell);
    tests.push((p) => p[2] >= from && (windings(tree, p).get(0) ?? 0) !== 0);
    return Array.from(tree.order).flatMap((t) => {
      const [a, b, c] = [0, 1, 2].map((k) => pointAt(shell.vertices, shell.triangles[3 * t + k]!));
      return lifted([a!, b!, b!, c!, c!, a!], from);
    });
  });
  return {
    pieces,
    ...(tests.length > 0 && { holds: (p) => tests.some((inside) => inside(p)) }),
    seeds: parts.map(({ vertices: v }) => [v[0]!, v[1]!, Math.max(v[2]!, from)]),
  };
}

/** The hull of edges (two points each): what of it lies over the height, and the rest pressed onto it. */
function lifted(edges: readonly Vec3[], from: number): Shape[] {
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
  if (t.length / 3 > MANY) return false;
  for (let f = 0; f < t.length; f += 3) {
    const [a, b, c] = [0, 1, 2].map((k) => pointAt(v, t[f + k]!)) as [Vec3, Vec3, Vec3];
    const n = cross(sub(b, a), sub(c, a));
    const size = length(n);
    if (!(size > 0)) continue;
    const normal = scale(n, 1 / size);
    const far = dot(normal, a) + FLAT;
    for (let i = 0; i < v.length; i += 3) {
      if (v[i]! * normal[0] + v[i + 1]! * normal[1] + v[i + 2]! * normal[2] > far) return false;
    }
  }
  return true;
}
