/**
 * The mesh on which the search works: fewer triangles where there are many, and long edges halved, so
 * that a plane that sinks over a large flat facet finds vertices on the way.
 */
import type { Mesh } from '../../base/mesh.js';
import { diagonal } from '../../mesh/shells.js';
import { coarse } from '../../mesh/quadric-error-simplify.js';
import { splitLongEdges } from '../../mesh/split-edges.js';
import { inHeading } from './heading.js';

/** A mesh to make coarser: plain data, so that it may run on another thread. */
export interface SimplifySpec {
  readonly mesh: Mesh;
  /** At most so many are left, where no more would stray too far. */
  readonly triangles: number;
}

/** A coarser mesh. A pure function of the spec. */
export const simplified = ({ mesh, triangles }: SimplifySpec): Mesh =>
  inHeading(mesh, (turned) => coarse(turned, triangles));

/**
 * A coarser mesh where there are more triangles than wanted, a finer one where there are fewer.
 * @param most triangles
 */
export function forSearch(mesh: Mesh, most: number): Mesh {
  return inHeading(mesh, (turned) => refinedUpTo(coarse(turned, most), most));
}

/** Halves long edges as far as the number of triangles allows, but not below a 64th of the extent. */
function refinedUpTo(mesh: Mesh, most: number): Mesh {
  const size = diagonal(mesh);
  let out = mesh;
  for (let longest = size / 2; longest > size / 64; longest *= 0.75) {
    const finer = splitLongEdges(out, longest);
    if (finer.triangles.length / 3 > most) break;
    out = finer;
  }
  return out;
}
