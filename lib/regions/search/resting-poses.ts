/**
 * Resting poses: the faces of the convex hull on which the part stands without falling, its centre of
 * mass over the face. Each gives a rigid frame that lays the face on the table. The steadiness of a
 * pose is the angle by which it can be tipped over the nearest edge of the face before it falls.
 */
import { type Frame, compose, shift, turn, identity } from '../../base/frame.js';
import { type Mesh, next } from '../../base/mesh.js';
import { type Vec3, angle, cross, dot, pointAt, square, sub, unit } from '../../base/vector.js';
import type { SolidKernel } from '../../kernel/solid.js';
import { moved } from '../../mesh/build.js';
import { areaNormals, bounds, massOf } from '../../mesh/measure.js';

/**
 * The given pose first, then at most `most` others, by the area of the face they rest on: each as the
 * part's frame from the mesh as given.
 * @param steady least angle by which it can be tipped, rad
 */
export function poses(mesh: Mesh, kernel: SolidKernel, most: number, steady: number): Frame[] {
  if (most === 0) return [identity()];
  const centre = massOf(mesh).centre;
  const faces = restingFaces(kernel.hull(mesh), centre, steady).filter(
    (n) => angle(n, [0, 0, -1]) > 0.01,
  );
  return [identity(), ...faces.slice(0, most).map((n) => laidOn(mesh, n))];
}

/** Outward normals of the hull faces that the centre of mass stands over, largest face first. */
function restingFaces(hull: Mesh, centre: Vec3, steady: number): Vec3[] {
  const faces = facesOf(hull);
  return faces
    .filter((face) => tipping(hull, face.triangles, face.normal, centre) >= steady)
    .sort((a, b) => b.area - a.area)
    .map((f) => f.normal);
}

/** Cosine between the normals of triangles in one plane. */
const SAME_PLANE = 1 - 1e-6;

interface RestingFace {
  readonly normal: Vec3;
  readonly area: number;
  readonly triangles: number[];
}

/** Triangles in one plane together: of a convex body they hang together. */
function facesOf(hull: Mesh): RestingFace[] {
  const normals = areaNormals(hull);
  const count = hull.triangles.length / 3;
  const areaOf = (t: number): number => Math.hypot(...pointAt(normals, t));
  const taken = Uint8Array.from({ length: count }, (_, t) => (areaOf(t) === 0 ? 1 : 0));
  const faces: RestingFace[] = [];
  for (let first = 0; first < count; first++) {
    if (taken[first]) continue;
    taken[first] = 1;
    const normal = unit(pointAt(normals, first));
    const triangles = [first];
    // Grows while it is walked.
    for (const t of triangles) {
      for (let h = 3 * t; h < 3 * t + 3; h++) {
        const other = Math.floor(hull.twins[h]! / 3);
        if (taken[other] || dot(normal, unit(pointAt(normals, other))) <= SAME_PLANE) continue;
        taken[other] = 1;
        triangles.push(other);
      }
    }
    faces.push({ normal, area: triangles.reduce((sum, t) => sum + areaOf(t), 0), triangles });
  }
  return faces;
}

/** Angle by which the part can be tipped over the rim of a face, rad; negative if it does not stand. */
function tipping(hull: Mesh, triangles: readonly number[], normal: Vec3, centre: Vec3): number {
  const inside = new Set(triangles);
  let least = Infinity;
  for (const t of triangles) {
    for (let h = 3 * t; h < 3 * t + 3; h++) {
      if (inside.has(Math.floor(hull.twins[h]! / 3))) continue;
      const a = pointAt(hull.vertices, hull.triangles[h]!);
      const edge = unit(sub(pointAt(hull.vertices, hull.triangles[next(h)]!), a));
      const to = sub(centre, a);
      // Sideways to the edge, and up from the face.
      const over = dot(cross(normal, edge), to);
      least = Math.min(least, Math.atan2(over, -dot(normal, to)));
    }
  }
  return least;
}

/** Turns the face with this normal down, onto z = 0; the middle keeps its place on the table. */
function laidOn(mesh: Mesh, normal: Vec3): Frame {
  const axis = cross(normal, [0, 0, -1]);
  const lying = Math.hypot(...axis) < 1e-9;
  const turned = turn(lying ? square(normal) : unit(axis), angle(normal, [0, 0, -1]));
  const before = bounds(mesh);
  const after = bounds(moved(mesh, turned));
  const middle = (b: typeof before, c: number): number => (b.least[c]! + b.most[c]!) / 2;
  return compose(
    shift([
      middle(before, 0) - middle(after, 0),
      middle(before, 1) - middle(after, 1),
      -after.least[2],
    ]),
    turned,
  );
}
