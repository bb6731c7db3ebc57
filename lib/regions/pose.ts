/**
 * Resting poses: the faces of the convex hull on which the part stands without falling, its centre
 * of mass over the face. Each gives a rigid frame that lays the face on the table.
 */
import { type Frame, compose, shift, turn, identity } from '../base/frame.js';
import type { Mesh } from '../base/mesh.js';
import { type Vec3, angle, cross, dot, pointAt, square, sub, unit } from '../base/vector.js';
import type { SolidKernel } from '../kernel/solid.js';
import { moved } from '../mesh/build.js';
import { areaNormals, bounds, massOf } from '../mesh/measure.js';

export interface Pose {
  /** Part frame from the mesh as given. */
  readonly frame: Frame;
  readonly mesh: Mesh;
}

/** The given pose first, then at most `most` others, by the area of the face they rest on. */
export function poses(mesh: Mesh, kernel: SolidKernel, most: number): Pose[] {
  const centre = massOf(mesh).centre;
  const faces = restingFaces(kernel.hull(mesh), centre).filter((n) => angle(n, [0, 0, -1]) > 0.01);
  const given: Pose = { frame: identity(), mesh };
  return [given, ...faces.slice(0, most).map((n) => laidOn(mesh, n))];
}

/** Outward normals of the hull faces that the centre of mass stands over, largest face first. */
function restingFaces(hull: Mesh, centre: Vec3): Vec3[] {
  const normals = areaNormals(hull);
  const faces: { normal: Vec3; area: number; stable: boolean }[] = [];
  for (let t = 0; t < hull.triangles.length / 3; t++) {
    const scaledNormal = pointAt(normals, t);
    const area = Math.hypot(...scaledNormal);
    if (area === 0) continue;
    const normal = unit(scaledNormal);
    const stable = standsOver(hull, t, normal, centre);
    const face = faces.find((f) => dot(f.normal, normal) > 1 - 1e-6);
    if (!face) faces.push({ normal, area, stable });
    else {
      face.area += area;
      face.stable ||= stable;
    }
  }
  return faces
    .filter((f) => f.stable)
    .sort((a, b) => b.area - a.area)
    .map((f) => f.normal);
}

/** True if the centre, dropped along the normal, falls into triangle t. */
function standsOver(hull: Mesh, t: number, normal: Vec3, centre: Vec3): boolean {
  const corner = (i: number): Vec3 => pointAt(hull.vertices, hull.triangles[3 * t + i]!);
  return [0, 1, 2].every((i) => {
    const a = corner(i);
    const edge = sub(corner((i + 1) % 3), a);
    return dot(cross(edge, sub(centre, a)), normal) >= 0;
  });
}

/** Turns the face with this normal down, onto z = 0; the middle keeps its place on the table. */
function laidOn(mesh: Mesh, normal: Vec3): Pose {
  const axis = cross(normal, [0, 0, -1]);
  const lying = Math.hypot(...axis) < 1e-9;
  const turned = turn(lying ? square(normal) : unit(axis), angle(normal, [0, 0, -1]));
  const before = bounds(mesh);
  const after = bounds(moved(mesh, turned));
  const middle = (b: typeof before, c: number): number => (b.least[c]! + b.most[c]!) / 2;
  const frame = compose(
    shift([
      middle(before, 0) - middle(after, 0),
      middle(before, 1) - middle(after, 1),
      -after.least[2],
    ]),
    turned,
  );
  return { frame, mesh: moved(mesh, frame) };
}
