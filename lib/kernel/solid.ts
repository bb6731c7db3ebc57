/**
 * The solid kernel: whether a mesh bounds a solid, booleans, plane cuts, hulls and simplification of
 * plain meshes. Every handle of the WASM library (manifold-3d) is deleted before a call returns.
 *
 * The library's JavaScript mesh holds float32 vertices. Two things keep the loss small: points are
 * passed relative to the middle of the input's extent, and a result vertex that is an input vertex
 * (equal after rounding) gets its float64 coordinates back. Only new vertices, where surfaces cross,
 * carry the rounding: 6e-8 of the half extent, 3e-6 mm on a part of 100 mm.
 */
import load, { type Manifold, type ManifoldToplevel } from '#solid-kernel';
import { Fault } from '../base/fault.js';
import type { Mesh, Plane } from '../base/mesh.js';
import { twinsOf } from '../base/half-edge-twins.js';

export interface Judgement {
  /** True when the mesh is closed and oriented, so that it bounds a solid. */
  readonly accepted: boolean;
  /** Why not; empty when accepted. */
  readonly why: string;
  /** Signed volume, mm3; negative when inside out. 0 when not accepted. */
  readonly volume: number;
  /** Handles through the surface, summed over shells: (2 shells - chi) / 2. 0 when not accepted. */
  readonly genus: number;
}

/** Methods throw Fault `solid/not-closed` where an input does not bound a solid. */
export interface SolidKernel {
  /** Whether the mesh bounds a solid, and if not, the reason. */
  judge(mesh: Mesh): Judgement;
  /** Signed volume, mm3. */
  volume(mesh: Mesh): number;
  /** What lies in any of the meshes. No mesh gives an empty one. */
  unite(meshes: readonly Mesh[]): Mesh;
  /** What lies in a and not in b. */
  difference(a: Mesh, b: Mesh): Mesh;
  /** What lies in both. */
  intersection(a: Mesh, b: Mesh): Mesh;
  /** The two sides of a plane: `above` on the side the normal points to. */
  cut(mesh: Mesh, plane: Plane): { above: Mesh; below: Mesh };
  /** Convex hull of the vertices; empty when they are coplanar. Takes open meshes too. */
  hull(mesh: Mesh): Mesh;
  /** Fewer triangles, no vertex moved, the surface within about `tolerance` mm of the old one. */
  simplify(mesh: Mesh, tolerance: number): Mesh;
}

/** Loads the solid kernel; once for each thread is enough. */
export async function loadSolidKernel(): Promise<SolidKernel> {
  const library = await load();
  library.setup();
  return kernelOn(library);
}

const reasons: Record<string, string> = {
  NotManifold: 'not every edge is shared by exactly two facets of opposite direction',
  NonFiniteVertex: 'a vertex is not a finite number',
  VertexOutOfBounds: 'a facet names a vertex that does not exist',
};

function kernelOn(library: ManifoldToplevel): SolidKernel {
  /** Runs `work` with handles of the meshes; all handles, also those it keeps, are deleted. */
  function withSolids<T>(
    meshes: readonly Mesh[],
    work: (solids: Manifold[], frame: Local, keep: (m: Manifold) => Manifold) => T,
  ): T {
    const frame = localFrame(meshes);
    const held: Manifold[] = [];
    const keep = (m: Manifold): Manifold => {
      held.push(m);
      return m;
    };
    try {
      return work(
        meshes.map((m) => keep(make(library, m, frame))),
        frame,
        keep,
      );
    } finally {
      for (const m of held) m.delete();
    }
  }

  return {
    judge(mesh) {
      try {
        return withSolids([mesh], ([solid]) => ({
          accepted: true,
          why: '',
          volume: solid!.volume(),
          genus: genusOf(solid!),
        }));
      } catch (error) {
        if (!(error instanceof Fault)) throw error;
        return { accepted: false, why: error.message, volume: 0, genus: 0 };
      }
    },
    volume: (mesh) => withSolids([mesh], ([solid]) => solid!.volume()),
    unite: (meshes) =>
      withSolids(meshes, (solids, frame, keep) =>
        meshOf(keep(library.Manifold.union(solids)), meshes, frame),
      ),
    difference: (a, b) =>
      withSolids([a, b], ([x, y], frame, keep) => meshOf(keep(x!.subtract(y!)), [a, b], frame)),
    intersection: (a, b) =>
      withSolids([a, b], ([x, y], frame, keep) => meshOf(keep(x!.intersect(y!)), [a, b], frame)),
    cut: (mesh, plane) =>
      withSolids([mesh], ([solid], frame, keep) => {
        const { point, normal } = plane;
        const offset = normal.reduce((s, n, c) => s + n * (point[c]! - frame.middle[c]!), 0);
        const [above, below] = solid!.splitByPlane([...normal], offset).map(keep);
        return {
          above: meshOf(above!, [mesh], frame),
          below: meshOf(below!, [mesh], frame),
        };
      }),
    hull: (mesh) =>
      withSolids([], (_, __, keep) => {
        const frame = localFrame([mesh]);
        const points: [number, number, number][] = [];
        const local = localVertices(mesh, frame);
        for (let i = 0; i < local.length; i += 3) {
          points.push([local[i]!, local[i + 1]!, local[i + 2]!]);
        }
        const hull = keep(library.Manifold.hull(points));
        // Points in a plane give a hull of two sides on each other, with the volume of rounding.
        const flat = !(hull.volume() > 1e-7 * extentOf(local) ** 3);
        return meshOf(flat ? keep(make(library, nothing, frame)) : hull, [mesh], frame);
      }),
    simplify: (mesh, tolerance) =>
      withSolids([mesh], ([solid], frame, keep) =>
        meshOf(keep(solid!.simplify(tolerance)), [mesh], frame),
      ),
  };
}

/** The middle of the extent of all meshes, mm. */
interface Local {
  readonly middle: readonly [number, number, number];
}

function localFrame(meshes: readonly Mesh[]): Local {
  const middle: [number, number, number] = [0, 0, 0];
  for (let c = 0; c < 3; c++) {
    let least = Infinity;
    let most = -Infinity;
    for (const { vertices } of meshes) {
      for (let i = c; i < vertices.length; i += 3) {
        least = Math.min(least, vertices[i]!);
        most = Math.max(most, vertices[i]!);
      }
    }
    const mean = (least + most) / 2;
    if (Number.isFinite(mean)) middle[c] = mean;
  }
  return { middle };
}

function localVertices({ vertices }: Mesh, { middle }: Local): Float32Array {
  const out = new Float32Array(vertices.length);
  for (let i = 0; i < out.length; i++) out[i] = vertices[i]! - middle[i % 3]!;
  return out;
}

/** Greatest distance of a coordinate from the middle, doubled, mm. */
function extentOf(local: Float32Array): number {
  let most = 0;
  for (const x of local) if (Math.abs(x) > most) most = Math.abs(x);
  return 2 * most;
}

const nothing: Mesh = {
  vertices: new Float64Array(0),
  triangles: new Uint32Array(0),
  twins: new Int32Array(0),
};

function make(library: ManifoldToplevel, mesh: Mesh, frame: Local): Manifold {
  try {
    return new library.Manifold(
      new library.Mesh({
        numProp: 3,
        vertProperties: localVertices(mesh, frame),
        triVerts: mesh.triangles,
      }),
    );
  } catch (error) {
    const code = (error as { code?: string }).code;
    if (code === undefined || !(code in reasons)) throw error;
    throw new Fault('solid/not-closed', `the mesh bounds no solid: ${reasons[code]}`);
  }
}

/**
 * Sum over the shells: the library's own figure, 1 - chi / 2, counts several shells as one surface.
 * (Its `decompose` takes time that grows with the square of their number: 13 s for 3,000 boxes.)
 */
const genusOf = (solid: Manifold): number => solid.genus() + shellCount(solid) - 1;

/** Connected sets of vertices, by union-find with path halving. */
function shellCount(solid: Manifold): number {
  const { triVerts, numVert } = solid.getMesh();
  const leader = Uint32Array.from({ length: numVert }, (_, i) => i);
  const find = (v: number): number => {
    while (leader[v] !== v) v = leader[v] = leader[leader[v]!]!;
    return v;
  };
  let count = numVert;
  for (let i = 0; i < triVerts.length; i += 3) {
    for (const other of [triVerts[i + 1]!, triVerts[i + 2]!]) {
      const [a, b] = [find(triVerts[i]!), find(other)];
      if (a === b) continue;
      leader[Math.max(a, b)] = Math.min(a, b);
      count--;
    }
  }
  return count;
}

function meshOf(solid: Manifold, inputs: readonly Mesh[], frame: Local): Mesh {
  const { vertProperties, triVerts } = solid.getMesh();
  const vertices = restore(vertProperties, inputs, frame);
  const triangles = triVerts.slice();
  return { vertices, triangles, twins: twinsOf(vertices.length / 3, triangles) };
}

/** Local float32 points back to float64, exactly where they are vertices of an input. */
function restore(points: Float32Array, inputs: readonly Mesh[], frame: Local): Float64Array {
  const out = Float64Array.from(points, (x, i) => x + frame.middle[i % 3]!);
  const size = 2 ** Math.ceil(Math.log2(Math.max(8, (2 * points.length) / 3)));
  const table = new Int32Array(size).fill(-1);
  const after = new Int32Array(points.length / 3);
  const bits = new Int32Array(points.buffer, points.byteOffset, points.length);
  const slotOf = (b: Int32Array, i: number): number => {
    // The float -0 has other bits than 0: shift both to the same slot by dropping the sign of zero.
    let h = 0;
    for (let c = 0; c < 3; c++) {
      const word = b[i + c]! === -0x80000000 ? 0 : b[i + c]!;
      h = Math.imul(h ^ word, 0x85ebca6b);
      h ^= h >>> 15;
    }
    return h & (size - 1);
  };
  for (let v = 0; v < after.length; v++) {
    const slot = slotOf(bits, 3 * v);
    after[v] = table[slot]!;
    table[slot] = v;
  }
  for (const mesh of inputs) {
    const local = localVertices(mesh, frame);
    const localBits = new Int32Array(local.buffer);
    for (let i = 0; i < local.length; i += 3) {
      for (let v = table[slotOf(localBits, i)]!; v >= 0; v = after[v]!) {
        const o = 3 * v;
        if (
          points[o] === local[i] &&
          points[o + 1] === local[i + 1] &&
          points[o + 2] === local[i + 2]
        ) {
          out.set(mesh.vertices.subarray(i, i + 3), o);
        }
      }
    }
  }
  return out;
}
