/**
 * What is left of the part during the search, prepared for many directions: facet normals, neighbours,
 * convex edges, and what hangs along the table normal.
 */
import type { Vec3 } from '../../base/vector.js';
import { type BoxTree, treeOf } from '../../mesh/bvh.js';
import { type ConvexEdges, edgesOf, hangingEdges } from '../../overhang/hanging-edges.js';
import {
  type CarriedFacets,
  type PreparedMesh,
  hanging,
  prepare,
} from '../../overhang/overhang.js';
import { carriedUpright } from './ceilings.js';
import type { TaggedMesh } from '../../mesh/cut/section.js';

/** What hangs in a body along a direction, and what the search makes of it. */
export interface HangingCost {
  /** A flag per triangle: 1 where it hangs. */
  readonly facets: Uint8Array;
  /** What hangs, mm2. */
  readonly area: number;
  readonly islands: readonly number[];
  /** mm of edges that hang although their facets do not. */
  readonly edgeLength: number;
  /** mm2: whole facets, edges by their width, islands each as a patch. */
  readonly cost: number;
  /** Connected patches of hanging facets. */
  readonly patches: number;
}

/** What one mm of hanging edge costs in the search, mm2: a bead's width. */
export const EDGE_COST = 0.4;
/** What each place that begins in the air costs in the search, mm2. */
export const ISLAND_COST = 1;

export interface RemainingBody extends PreparedMesh {
  readonly tagged: TaggedMesh;
  readonly edges: ConvexEdges;
  readonly upright: HangingCost;
  /** Vertices from the lowest over the table to the highest. */
  readonly byHeight: Uint32Array;
  readonly tree: BoxTree;
}

export interface TableRules {
  /** Steepest self-supporting angle from the build direction, rad. */
  readonly theta: number;
  /** What lies wholly within this height rests on the table, mm. */
  readonly foot: number;
}

export function hangingCost(
  p: PreparedMesh,
  edges: ConvexEdges,
  d: Vec3,
  theta: number,
  carried: CarriedFacets,
): HangingCost {
  const { facets, area, whole, islands } = hanging(p, d, theta, carried);
  let edgeLength = 0;
  for (const e of hangingEdges(p, edges, d, theta, carried)) edgeLength += edges.length[e]!;
  const cost = whole + EDGE_COST * edgeLength + ISLAND_COST * islands.length;
  return { facets, area, islands, edgeLength, cost, patches: patchesOf(p, facets) };
}

/** Patches smaller than this share of the hanging area do not count. */
const LEAST_PATCH = 0.01;

function patchesOf({ mesh: { twins }, areas }: PreparedMesh, flags: Uint8Array): number {
  const seen = new Uint8Array(flags.length);
  const sums: number[] = [];
  let total = 0;
  for (let t = 0; t < flags.length; t++) {
    if (!flags[t] || seen[t]) continue;
    let sum = 0;
    const stack = [t];
    seen[t] = 1;
    for (let u = stack.pop(); u !== undefined; u = stack.pop()) {
      sum += areas[u]!;
      for (let h = 3 * u; h < 3 * u + 3; h++) {
        const g = twins[h]!;
        const w = (g - (g % 3)) / 3;
        if (!flags[w] || seen[w]) continue;
        seen[w] = 1;
        stack.push(w);
      }
    }
    sums.push(sum);
    total += sum;
  }
  return sums.filter((sum) => sum > LEAST_PATCH * total).length;
}

/** What hangs in a piece along its own direction; its base is carried. */
export function pieceHangingCost(
  piece: TaggedMesh,
  base: number,
  d: Vec3,
  theta: number,
): HangingCost {
  const p = prepare(piece.mesh);
  return hangingCost(p, edgesOf(p), d, theta, madeBy(piece, base));
}

/** Flags the triangles of one cut. */
export const madeBy = ({ cut }: TaggedMesh, id: number): CarriedFacets =>
  Uint8Array.from(cut, (c) => (c === id ? 1 : 0));

/** What hangs along the table normal in a body that stands on the table. */
export function uprightHangingCost(tagged: TaggedMesh, { theta, foot }: TableRules): HangingCost {
  const p = prepare(tagged.mesh);
  return hangingCost(p, edgesOf(p), [0, 0, 1], theta, carriedUpright(tagged, foot));
}

export function bodyFrom(tagged: TaggedMesh, { theta, foot }: TableRules): RemainingBody {
  const p = prepare(tagged.mesh);
  const edges = edgesOf(p);
  return {
    ...p,
    tagged,
    edges,
    upright: hangingCost(p, edges, [0, 0, 1], theta, carriedUpright(tagged, foot)),
    byHeight: byHeight(tagged.mesh.vertices),
    tree: treeOf(tagged.mesh),
  };
}

function byHeight(vertices: Float64Array): Uint32Array {
  const out = Uint32Array.from({ length: vertices.length / 3 }, (_, v) => v);
  return out.sort((a, b) => vertices[3 * a + 2]! - vertices[3 * b + 2]! || a - b);
}
