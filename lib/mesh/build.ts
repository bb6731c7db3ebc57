/**
 * Building the mesh record with twin half-edges from vertices and triangles, and moved or scaled copies
 * that share its connectivity. Twins come from two counting sorts (base/half-edge-twins), against a Map
 * keyed by the vertex pair 1.8 times as fast at 70 k triangles and 8 times at 1.1 M.
 */
import { type Frame, applyPoints } from '../base/frame.js';
import { twinsOf } from '../base/half-edge-twins.js';
import type { Mesh } from './mesh.js';

/**
 * A mesh of vertices and triangles. An edge that is not shared by exactly two opposite half-edges keeps
 * twin -1 on all its half-edges.
 * @param vertices packed xyz, mm
 * @param triangles three vertex indices each
 */
export function meshFrom(vertices: Float64Array, triangles: Uint32Array): Mesh {
  return { vertices, triangles, twins: twinsOf(vertices.length / 3, triangles) };
}

/** The mesh moved by a rigid frame; connectivity is shared with the input. */
export function moved(mesh: Mesh, frame: Frame): Mesh {
  return { ...mesh, vertices: applyPoints(frame, mesh.vertices) };
}

/** The mesh scaled evenly about the origin by a positive factor. */
export function scaled(mesh: Mesh, factor: number): Mesh {
  if (!(factor > 0)) throw new Error(`scale must be positive, got ${factor}`);
  return { ...mesh, vertices: mesh.vertices.map((x) => x * factor) };
}
