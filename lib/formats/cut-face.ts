/** Faces of more than three corners as triangles, for the formats that have them (OBJ, PLY). */
import { type Vec3, cross, dot, length, pointAt, square, sub, unit } from '../base/vector.js';
import { earTriangles } from '../mesh/repair/ears.js';

/** Greatest number of corners of one face; cutting it up takes time with its square. */
export const FACE_CORNERS = 5000;

/**
 * Cut in the face's mean plane.
 * @param face vertex numbers, three or more
 * @returns three vertex numbers a triangle; undefined if the face crosses itself or has no area
 */
export function cutFace(vertices: Float64Array, face: Uint32Array): Uint32Array | undefined {
  const corners = face.filter((v, i) => v !== face[(i + 1) % face.length]);
  if (corners.length < 3) return new Uint32Array(0);
  const origin = pointAt(vertices, corners[0]!);
  let normal: Vec3 = [0, 0, 0];
  for (let i = 1; i + 1 < corners.length; i++) {
    const n = cross(
      sub(pointAt(vertices, corners[i]!), origin),
      sub(pointAt(vertices, corners[i + 1]!), origin),
    );
    normal = [normal[0] + n[0], normal[1] + n[1], normal[2] + n[2]];
  }
  const axis = unit(normal);
  const x = square(axis);
  const y = cross(axis, x);
  const flat = new Float64Array(2 * corners.length);
  corners.forEach((v, i) => {
    const p = sub(pointAt(vertices, v), origin);
    flat[2 * i] = dot(p, x);
    flat[2 * i + 1] = dot(p, y);
  });
  const cut = length(normal) > 0 ? earTriangles(flat) : undefined;
  return cut?.map((i) => corners[i]!);
}
