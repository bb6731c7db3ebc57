/**
 * Removes triangles that have two or three corners on one vertex from a closed mesh; the surface stays
 * the same. Such a triangle is a stretched edge: its other two edges coincide, so their twins become
 * each other's.
 */
import type { TaggedMesh } from './section.js';

export function collapse({ mesh, cut }: TaggedMesh): TaggedMesh {
  const { triangles, twins: given } = mesh;
  const twins = given.slice();
  const place = new Int32Array(cut.length).fill(-1);
  let count = 0;
  for (let t = 0; t < cut.length; t++) {
    const point = pointEdge(triangles, t);
    if (point === undefined) place[t] = count++;
    else if (point >= 0) zip(twins, 3 * t + ((point + 1) % 3), 3 * t + ((point + 2) % 3));
  }
  if (count === cut.length) return { mesh, cut };
  const out = {
    triangles: new Uint32Array(3 * count),
    twins: new Int32Array(3 * count),
    cut: new Int32Array(count),
  };
  const used = new Int32Array(mesh.vertices.length / 3).fill(-1);
  const vertices = new Float64Array(mesh.vertices.length);
  let n = 0;
  for (let t = 0; t < cut.length; t++) {
    const to = place[t]!;
    if (to < 0) continue;
    out.cut[to] = cut[t]!;
    for (let c = 0; c < 3; c++) {
      const v = triangles[3 * t + c]!;
      if (used[v]! < 0) {
        vertices.set(mesh.vertices.subarray(3 * v, 3 * v + 3), 3 * n);
        used[v] = n++;
      }
      out.triangles[3 * to + c] = used[v]!;
      const g = twins[3 * t + c]!;
      out.twins[3 * to + c] = 3 * place[Math.floor(g / 3)]! + (g % 3);
    }
  }
  return {
    mesh: { vertices: vertices.slice(0, 3 * n), triangles: out.triangles, twins: out.twins },
    cut: out.cut,
  };
}

/** The edge of t that is a point: undefined if none is, -1 if all are. */
function pointEdge(triangles: Uint32Array, t: number): number | undefined {
  const [a, b, c] = [triangles[3 * t]!, triangles[3 * t + 1]!, triangles[3 * t + 2]!];
  if (a === b) return b === c ? -1 : 0;
  if (b === c) return 1;
  return c === a ? 2 : undefined;
}

function zip(twins: Int32Array, g: number, h: number): void {
  const [a, b] = [twins[g]!, twins[h]!];
  if (a === h) return;
  twins[a] = b;
  twins[b] = a;
}
