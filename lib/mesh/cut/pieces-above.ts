/**
 * The connected pieces of the material above a section. Vertices above are connected over edges of the
 * skin; skins of one piece are connected over the caps that close them (an outline and its holes), and
 * a hollow that lies wholly above belongs to the skin over it.
 */
import { type Vec3, pointAt } from '../../base/vector.js';
import { next } from '../../base/mesh.js';
import type { Cap } from './caps.js';
import type { MeshSection, TaggedMesh } from './section.js';

export interface PiecesAbove {
  readonly count: number;
  /** Piece of each vertex above, -1 for those below. */
  readonly of: Int32Array;
  /** Piece that each cap closes. */
  readonly ofCap: Int32Array;
}

export function piecesAbove(
  { mesh }: TaggedMesh,
  section: MeshSection,
  caps: readonly Cap[],
): PiecesAbove {
  const { above } = section;
  const { triangles } = mesh;
  const root = new Int32Array(above.length).fill(-1);
  for (let v = 0; v < root.length; v++) if (above[v]) root[v] = v;
  const find = (v: number): number => {
    while (root[v] !== v) v = root[v] = root[root[v]!]!;
    return v;
  };
  const join = (a: number, b: number): void => {
    const [ra, rb] = [find(a), find(b)];
    if (ra < rb) root[rb] = ra;
    else root[ra] = rb;
  };
  for (let h = 0; h < triangles.length; h++) {
    const a = triangles[h]!;
    const b = triangles[next(h)]!;
    if (above[a] && above[b]) join(a, b);
  }
  const vertexOf = (loop: number): number => {
    const h = 3 * section.crossed[section.start[loop]!]!;
    return [0, 1, 2].map((c) => triangles[h + c]!).find((v) => above[v])!;
  };
  for (const cap of caps)
    for (const loop of cap.loops) join(vertexOf(cap.loops[0]!), vertexOf(loop));
  const open = new Set<number>();
  for (let loop = 0; loop + 1 < section.start.length; loop++) open.add(find(vertexOf(loop)));
  joinHollows(mesh, section, root, find, join, open);
  return numbered(
    root,
    find,
    caps.map((cap) => vertexOf(cap.loops[0]!)),
  );
}

/** Skins that the plane does not meet: hollows join the skin over them, bodies stay as they are. */
function joinHollows(
  mesh: TaggedMesh['mesh'],
  { above, height, normal }: MeshSection,
  root: Int32Array,
  find: (v: number) => number,
  join: (a: number, b: number) => void,
  open: ReadonlySet<number>,
): void {
  const tops = new Map<number, number>();
  for (let v = 0; v < root.length; v++) {
    if (!above[v]) continue;
    const r = find(v);
    if (open.has(r)) continue;
    const top = tops.get(r);
    if (top === undefined || height[v]! > height[top]!) tops.set(r, v);
  }
  for (const v of tops.values()) {
    const over = leavesOver(mesh, pointAt(mesh.vertices, v), normal, find(v), find, above);
    if (over >= 0) join(v, over);
  }
}

/** A vertex of the first other skin that a ray along n leaves; -1 if it meets none, or enters it. */
function leavesOver(
  { vertices, triangles }: TaggedMesh['mesh'],
  from: Vec3,
  n: Vec3,
  own: number,
  find: (v: number) => number,
  above: Uint8Array,
): number {
  let best = Infinity;
  let found = -1;
  for (let h = 0; h < triangles.length; h += 3) {
    if (!above[triangles[h]!] || !above[triangles[h + 1]!] || !above[triangles[h + 2]!]) continue;
    if (find(triangles[h]!) === own) continue;
    const hit = meet(vertices, triangles, h, from, n);
    if (!hit || hit.distance >= best || hit.distance <= 0) continue;
    best = hit.distance;
    found = hit.leaves ? triangles[h]! : -1;
  }
  return found;
}

/** Where the line from a point along n meets a triangle (Moeller and Trumbore, 1997). */
function meet(
  v: Float64Array,
  t: Uint32Array,
  h: number,
  o: Vec3,
  d: Vec3,
): { distance: number; leaves: boolean } | undefined {
  const a = pointAt(v, t[h]!);
  const b = pointAt(v, t[h + 1]!);
  const c = pointAt(v, t[h + 2]!);
  const [ux, uy, uz] = [b[0] - a[0], b[1] - a[1], b[2] - a[2]];
  const [wx, wy, wz] = [c[0] - a[0], c[1] - a[1], c[2] - a[2]];
  const [px, py, pz] = [d[1] * wz - d[2] * wy, d[2] * wx - d[0] * wz, d[0] * wy - d[1] * wx];
  const det = ux * px + uy * py + uz * pz;
  if (det === 0) return undefined;
  const [sx, sy, sz] = [o[0] - a[0], o[1] - a[1], o[2] - a[2]];
  const p = (sx * px + sy * py + sz * pz) / det;
  if (p < 0 || p > 1) return undefined;
  const [qx, qy, qz] = [sy * uz - sz * uy, sz * ux - sx * uz, sx * uy - sy * ux];
  const q = (d[0] * qx + d[1] * qy + d[2] * qz) / det;
  if (q < 0 || p + q > 1) return undefined;
  // With counter-clockwise facets the determinant is negative where the line leaves.
  return { distance: (wx * qx + wy * qy + wz * qz) / det, leaves: det < 0 };
}

function numbered(
  root: Int32Array,
  find: (v: number) => number,
  capVertices: readonly number[],
): PiecesAbove {
  const of = new Int32Array(root.length).fill(-1);
  const numbers = new Map<number, number>();
  for (let v = 0; v < root.length; v++) {
    if (root[v]! < 0) continue;
    const r = find(v);
    let n = numbers.get(r);
    if (n === undefined) {
      n = numbers.size;
      numbers.set(r, n);
    }
    of[v] = n;
  }
  return { count: numbers.size, of, ofCap: Int32Array.from(capVertices, (v) => of[v]!) };
}
