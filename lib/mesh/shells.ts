/** The shells of a mesh: facets connected over paired edges. */
import { bounds } from './measure.js';
import { meshFrom } from './build.js';
import type { Mesh } from './mesh.js';

export interface Shells {
  readonly count: number;
  /** Shell of each triangle; shells are numbered by their first triangle. */
  readonly of: Uint32Array;
}

/** Flood fill over twins, in time that grows with the number of triangles. */
export function shellsOf({ triangles, twins }: Mesh): Shells {
  const facets = triangles.length / 3;
  const of = new Uint32Array(facets).fill(0xffffffff);
  const stack = new Uint32Array(facets);
  let count = 0;
  for (let t = 0; t < facets; t++) {
    if (of[t] !== 0xffffffff) continue;
    let top = 0;
    of[t] = count;
    stack[top++] = t;
    while (top > 0) {
      const h = 3 * stack[--top]!;
      for (let i = h; i < h + 3; i++) {
        if (twins[i]! < 0) continue;
        const other = Math.floor(twins[i]! / 3);
        if (of[other] !== 0xffffffff) continue;
        of[other] = count;
        stack[top++] = other;
      }
    }
    count++;
  }
  return { count, of };
}

/** Each shell as a mesh of its own, in the order of their numbers. */
export function splitShells(mesh: Mesh, shells = shellsOf(mesh)): Mesh[] {
  if (shells.count === 1) return [mesh];
  const sizes = new Uint32Array(shells.count);
  for (const s of shells.of) sizes[s]!++;
  const parts = Array.from(sizes, (n) => new Uint32Array(3 * n));
  const filled = new Uint32Array(shells.count);
  shells.of.forEach((s, t) => {
    parts[s]!.set(mesh.triangles.subarray(3 * t, 3 * t + 3), 3 * filled[s]!++);
  });
  const renumbered = new Int32Array(mesh.vertices.length / 3);
  return parts.map((triangles) => compact(mesh.vertices, triangles, renumbered));
}

/** A mesh of the vertices that `triangles` uses; `scratch` is as long as the vertices. */
function compact(vertices: Float64Array, triangles: Uint32Array, scratch: Int32Array): Mesh {
  for (const v of triangles) scratch[v] = -1;
  const used = new Float64Array(3 * triangles.length);
  let count = 0;
  const renumbered = triangles.map((v) => {
    if (scratch[v]! < 0) {
      used.set(vertices.subarray(3 * v, 3 * v + 3), 3 * count);
      scratch[v] = count++;
    }
    return scratch[v]!;
  });
  return meshFrom(used.slice(0, 3 * count), renumbered);
}

/** One record of several meshes; vertices stay apart. */
export function joined(meshes: readonly Mesh[]): Mesh {
  const vertices = new Float64Array(meshes.reduce((n, m) => n + m.vertices.length, 0));
  const triangles = new Uint32Array(meshes.reduce((n, m) => n + m.triangles.length, 0));
  const twins = new Int32Array(triangles.length);
  let v = 0;
  let h = 0;
  for (const m of meshes) {
    vertices.set(m.vertices, 3 * v);
    for (let i = 0; i < m.triangles.length; i++) {
      triangles[h + i] = m.triangles[i]! + v;
      twins[h + i] = m.twins[i]! < 0 ? -1 : m.twins[i]! + h;
    }
    v += m.vertices.length / 3;
    h += m.triangles.length;
  }
  return { vertices, triangles, twins };
}

/** Length of the diagonal of the extent, mm; the measure that tolerances are relative to. */
export function diagonal(mesh: Mesh): number {
  if (mesh.vertices.length === 0) return 0;
  const { least, most } = bounds(mesh);
  return Math.hypot(most[0] - least[0], most[1] - least[1], most[2] - least[2]);
}

/**
 * Pairs of meshes whose boxes overlap, up to one more than `most`: a sweep along the axis on which they
 * are spread the widest.
 */
export function boxPairs(meshes: readonly Mesh[], most: number): number {
  const boxes = meshes.map(bounds);
  const spread = [0, 1, 2].map((c) => {
    const middles = boxes.map((b) => b.least[c]! + b.most[c]!);
    return middles.reduce((a, b) => Math.max(a, b)) - middles.reduce((a, b) => Math.min(a, b));
  });
  const axis = spread.indexOf(Math.max(...spread));
  boxes.sort((a, b) => a.least[axis]! - b.least[axis]!);
  const overlap = (a: (typeof boxes)[number], b: (typeof boxes)[number]): boolean =>
    [0, 1, 2].every((c) => a.least[c]! <= b.most[c]! && b.least[c]! <= a.most[c]!);
  let pairs = 0;
  let open: typeof boxes = [];
  for (const box of boxes) {
    open = open.filter((o) => o.most[axis]! >= box.least[axis]!);
    for (const o of open) if (overlap(o, box) && ++pairs > most) return pairs;
    open.push(box);
  }
  return pairs;
}
