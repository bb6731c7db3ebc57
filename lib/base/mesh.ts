/**
 * The one mesh record: an indexed triangle mesh with twin half-edges, millimetres, counter-clockwise
 * seen from outside. Half-edge h = 3 t + i runs from triangles[h] to triangles[next(h)].
 */
import type { Vec3 } from './vector.js';

/** A triangle mesh with twin half-edges, mm. */
export interface Mesh {
  /** Packed x, y, z, mm. */
  readonly vertices: Float64Array;
  /** Three vertex indices per triangle. */
  readonly triangles: Uint32Array;
  /** For each half-edge the opposite one, or -1 where the mesh is open. */
  readonly twins: Int32Array;
}

/** A plane as a point on it and its unit normal. */
export interface Plane {
  readonly point: Vec3;
  readonly normal: Vec3;
}

/** The next half-edge of the same triangle. */
export const next = (h: number): number => (h % 3 === 2 ? h - 2 : h + 1);

/** The half-edge before h in the same triangle. */
export const previous = (h: number): number => (h % 3 === 0 ? h + 2 : h - 1);
