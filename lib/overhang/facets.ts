/**
 * A mesh prepared for many build directions (facet normals and areas, neighbours of vertices), and the
 * overhang rule for one facet.
 */
import { type Mesh, next } from '../base/mesh.js';
import type { Vec3 } from '../base/vector.js';
import { areaNormals } from '../mesh/measure.js';

export interface PreparedMesh {
  readonly mesh: Mesh;
  /** Outward normal times area, packed xyz a triangle, mm2. */
  readonly normals: Float64Array;
  /** mm2 a triangle. */
  readonly areas: Float64Array;
  /** Sum of the area normals around each vertex, packed xyz. */
  readonly vertexNormals: Float64Array;
  /** Neighbours of vertex v: `neighbours[start[v] .. start[v + 1]]`. */
  readonly start: Uint32Array;
  readonly neighbours: Uint32Array;
}

/** @param mesh closed */
export function prepare(mesh: Mesh): PreparedMesh {
  const normals = areaNormals(mesh);
  const areas = new Float64Array(normals.length / 3);
  for (let t = 0, i = 0; t < areas.length; t++, i += 3) {
    const [x, y, z] = [normals[i]!, normals[i + 1]!, normals[i + 2]!];
    areas[t] = Math.sqrt(x * x + y * y + z * z);
  }
  return {
    mesh,
    normals,
    areas,
    vertexNormals: vertexNormals(mesh, normals),
    ...neighboursOf(mesh),
  };
}

/** In a closed mesh every neighbour of v is the end of exactly one half-edge that starts at v. */
function neighboursOf({ vertices, triangles }: Mesh): Pick<PreparedMesh, 'start' | 'neighbours'> {
  const start = new Uint32Array(vertices.length / 3 + 1);
  for (const v of triangles) start[v + 1]!++;
  for (let v = 1; v < start.length; v++) start[v]! += start[v - 1]!;
  const fill = start.slice();
  const neighbours = new Uint32Array(triangles.length);
  for (let h = 0; h < triangles.length; h++) {
    neighbours[fill[triangles[h]!]!++] = triangles[next(h)]!;
  }
  return { start, neighbours };
}

function vertexNormals({ vertices, triangles }: Mesh, normals: Float64Array): Float64Array {
  const out = new Float64Array(vertices.length);
  for (let h = 0, t = 0; h < triangles.length; h++) {
    const v = 3 * triangles[h]!;
    out[v]! += normals[t]!;
    out[v + 1]! += normals[t + 1]!;
    out[v + 2]! += normals[t + 2]!;
    if (h % 3 === 2) t += 3;
  }
  return out;
}

/** A triangle that the base carries, one flag each. */
export type CarriedFacets = Uint8Array;

/** Facets whose vertices all lie within `tolerance` mm of the table face z = 0. */
export function onTable(mesh: Mesh, tolerance: number): CarriedFacets {
  const { vertices, triangles } = mesh;
  const flags = new Uint8Array(triangles.length / 3);
  for (let t = 0; t < flags.length; t++) {
    flags[t] = 1;
    for (let c = 0; c < 3; c++) {
      if (vertices[3 * triangles[3 * t + c]! + 2]! > tolerance) flags[t] = 0;
    }
  }
  return flags;
}

/** True for facet t if it hangs by the angle alone. A facet with no area never does. */
export const leans = (p: PreparedMesh, t: number, d: Vec3, sine: number): boolean =>
  p.normals[3 * t]! * d[0] + p.normals[3 * t + 1]! * d[1] + p.normals[3 * t + 2]! * d[2] <
  -sine * p.areas[t]! - NORMAL_ROUNDING * p.areas[t]!;

/**
 * Normals carry the rounding of float32 files; a facet within this of the threshold is on it, not past
 * it: 0.008 deg at 45.
 */
const NORMAL_ROUNDING = 1e-4;
