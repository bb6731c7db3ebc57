/**
 * An unfinished solid made ready for many sweeps: neighbours of every vertex, facet normals, what
 * hangs along the table normal. Made once for each solid that the search keeps.
 */
import { next } from '../base/mesh.js';
import { type Tree, treeOf } from '../mesh/bvh.js';
import { type Hanging, type Prepared, hanging, onTable, prepare } from '../overhang/overhang.js';
import type { Tagged } from './cut.js';

export interface Solid extends Prepared {
  readonly tagged: Tagged;
  /** Neighbours of vertex v: `neighbours[start[v] .. start[v + 1]]`. */
  readonly start: Uint32Array;
  readonly neighbours: Uint32Array;
  /** Sum of area normals around a vertex, packed xyz. */
  readonly vertexNormals: Float64Array;
  /** What hangs if the solid is built along the table normal. */
  readonly upright: Hanging;
  readonly tree: Tree;
}

/** A vertex this low stands on the table, mm. */
export const ON_TABLE = 1e-4;

export function solidFrom(tagged: Tagged, theta: number): Solid {
  const p = prepare(tagged.mesh);
  return {
    ...p,
    ...adjacency(tagged),
    tagged,
    vertexNormals: vertexNormals(p),
    upright: hanging(p, [0, 0, 1], theta, onTable(tagged.mesh, ON_TABLE)),
    tree: treeOf(tagged.mesh),
  };
}

/** In a closed mesh every neighbour of v is the end of exactly one half-edge that starts at v. */
function adjacency({ mesh }: Tagged): Pick<Solid, 'start' | 'neighbours'> {
  const { triangles } = mesh;
  const start = new Uint32Array(mesh.vertices.length / 3 + 1);
  for (const v of triangles) start[v + 1]!++;
  for (let v = 1; v < start.length; v++) start[v]! += start[v - 1]!;
  const fill = start.slice();
  const neighbours = new Uint32Array(triangles.length);
  for (let h = 0; h < triangles.length; h++) {
    neighbours[fill[triangles[h]!]!++] = triangles[next(h)]!;
  }
  return { start, neighbours };
}

function vertexNormals(p: Prepared): Float64Array {
  const out = new Float64Array(p.mesh.vertices.length);
  for (let h = 0; h < p.mesh.triangles.length; h++) {
    const v = 3 * p.mesh.triangles[h]!;
    const t = 3 * Math.floor(h / 3);
    for (let c = 0; c < 3; c++) out[v + c]! += p.normals[t + c]!;
  }
  return out;
}
