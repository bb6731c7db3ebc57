/**
 * Completes the twins of a mesh, or throws a Fault. The mesh record leaves -1 where an edge is not
 * shared by exactly two opposite half-edges. Where as many half-edges run one way as the other (bodies
 * that touch along an edge) any pairing closes the loops of a section: they then touch in a point.
 */
import { Fault } from '../base/fault.js';
import { type Mesh, next } from '../mesh/mesh.js';

/** @throws Fault `layers/open-mesh` with the number of edges that no pairing closes */
export function closedTwins(mesh: Mesh): Int32Array {
  const { triangles, twins } = mesh;
  if (twins.indexOf(-1) < 0) return twins;
  const out = twins.slice();
  const waiting = new Map<number, number[]>();
  const count = mesh.vertices.length / 3;
  let open = 0;
  for (let h = 0; h < out.length; h++) {
    if (out[h]! >= 0) continue;
    const a = triangles[h]!;
    const b = triangles[next(h)]!;
    const opposite = waiting.get(b * count + a);
    if (opposite?.length) {
      const g = opposite.pop()!;
      out[g] = h;
      out[h] = g;
      open--;
      continue;
    }
    const same = waiting.get(a * count + b);
    if (same) same.push(h);
    else waiting.set(a * count + b, [h]);
    open++;
  }
  if (open > 0) {
    throw new Fault(
      'layers/open-mesh',
      `the mesh has ${open} open edges; layers need a closed mesh (limit 0 edges)`,
    );
  }
  return out;
}
