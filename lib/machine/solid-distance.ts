/**
 * Distance from a point to the solids of a machine, 0 inside: the head as it is drawn (stack turned
 * about its axis, boxes as boxes, meshes by their facets and winding number) and the obstacles.
 * Millimetres; the head frame has its origin in the nozzle tip and +Z up the head.
 */
import type { Mesh } from '../base/mesh.js';
import { type Vec3, along, cross, length, pointAt, square, sub, unit } from '../base/vector.js';
import type { BoxTree } from '../mesh/bvh.js';
import { nearestPoint, windingNumbers } from '../mesh/query.js';
import type { Machine, Solid } from './machine.js';

/** Distance from a point of the head frame to the head. */
export function headDistance(machine: Machine, p: Vec3): number {
  const { stack, headBoxes, headMeshes } = machine;
  let least = Math.min(outlineDistance(stack, p), boxesDistance(headBoxes, p));
  for (const { tree } of headMeshes) least = Math.min(least, meshDistance(tree, p, least));
  return least;
}

/** Distance to a round outline about the axis; infinite where there is none. */
export function outlineDistance(outline: Machine['stack'], p: Vec3): number {
  if (outline.length === 0) return Infinity;
  return stackDistance(outline, p[2], Math.sqrt(p[0] * p[0] + p[1] * p[1]));
}

/** Distance to the nearest of some boxes; infinite without any. */
export function boxesDistance(boxes: Machine['headBoxes'], p: Vec3): number {
  let least = Infinity;
  for (const box of boxes) least = Math.min(least, boxDistance(box, p));
  return least;
}

/** Distance to a closed mesh, 0 inside; Infinity where it is more than `within`, mm. */
export function meshDistance(tree: BoxTree, p: Vec3, within = Infinity): number {
  if (isInside(tree, p)) return 0;
  return nearestPoint(tree, p, within)?.distance ?? Infinity;
}

function isInside(tree: BoxTree, p: Vec3): boolean {
  for (let c = 0; c < 3; c++) {
    if (p[c]! < tree.boxes[c]! || p[c]! > tree.boxes[c + 3]!) return false;
  }
  return (windingNumbers(tree, p).get(0) ?? 0) !== 0;
}

/** Distance from height s and radius r to the turned outline: flat end, flanks, flat top. */
function stackDistance(stack: Machine['stack'], s: number, r: number): number {
  const bottom = stack[0]!;
  const top = stack.at(-1)!;
  let least = Math.min(
    segmentDistance(s, r, bottom.above, 0, bottom.above, bottom.radius),
    segmentDistance(s, r, top.above, 0, top.above, top.radius),
  );
  for (let i = 0; i + 1 < stack.length; i++) {
    const a = stack[i]!;
    const b = stack[i + 1]!;
    if (a.above < b.above && s >= a.above && s <= b.above) {
      const share = (s - a.above) / (b.above - a.above);
      if (r <= a.radius + share * (b.radius - a.radius)) return 0;
    }
    least = Math.min(least, segmentDistance(s, r, a.above, a.radius, b.above, b.radius));
  }
  return least;
}

function segmentDistance(
  x: number,
  y: number,
  x0: number,
  y0: number,
  x1: number,
  y1: number,
): number {
  const dx = x1 - x0;
  const dy = y1 - y0;
  const size = dx * dx + dy * dy;
  const t = size > 0 ? Math.min(1, Math.max(0, ((x - x0) * dx + (y - y0) * dy) / size)) : 0;
  const ex = x - x0 - t * dx;
  const ey = y - y0 - t * dy;
  // Not Math.hypot: it is several times slower, and nothing here is near overflow.
  return Math.sqrt(ex * ex + ey * ey);
}

function boxDistance(box: { readonly from: Vec3; readonly to: Vec3 }, p: Vec3): number {
  let sum = 0;
  for (let c = 0; c < 3; c++) {
    const out = Math.max(box.from[c]! - p[c]!, 0, p[c]! - box.to[c]!);
    sum += out * out;
  }
  return Math.sqrt(sum);
}

/** Distance from a point to an obstacle, both in machine coordinates with all joints at zero. */
export function solidDistance(solid: Solid, p: Vec3): number {
  if (solid.shape === 'box') return boxDistance(solid, p);
  // Without intermediate vectors, which took most of the time.
  const [ax, ay, az] = [
    solid.to[0] - solid.from[0],
    solid.to[1] - solid.from[1],
    solid.to[2] - solid.from[2],
  ];
  const [px, py, pz] = [p[0] - solid.from[0], p[1] - solid.from[1], p[2] - solid.from[2]];
  const height = Math.sqrt(ax * ax + ay * ay + az * az);
  const s = (px * ax + py * ay + pz * az) / height;
  const k = s / height;
  const [rx, ry, rz] = [px - k * ax, py - k * ay, pz - k * az];
  const beyond = Math.max(-s, 0, s - height);
  const aside = Math.max(0, Math.sqrt(rx * rx + ry * ry + rz * rz) - solid.radius);
  return Math.sqrt(beyond * beyond + aside * aside);
}

/** A ball around a solid. */
export function ballAround(solid: Solid): { readonly centre: Vec3; readonly radius: number } {
  const half = sub(solid.to, solid.from);
  const radius = length(half) / 2;
  return {
    centre: along(solid.from, half, 0.5),
    radius: solid.shape === 'box' ? radius : Math.hypot(radius, solid.radius),
  };
}

/** Points on the surface of a solid, none farther than `spacing` from its neighbours. */
export function surfacePoints(solid: Solid, spacing: number): Vec3[] {
  return solid.shape === 'box' ? boxPoints(solid, spacing) : cylinderPoints(solid, spacing);
}

/** Points on the facets of a mesh, likewise. */
export function meshPoints({ vertices, triangles }: Mesh, spacing: number): Vec3[] {
  const points: Vec3[] = [];
  for (let i = 0; i < triangles.length; i += 3) {
    const [a, b, c] = [0, 1, 2].map((k) => pointAt(vertices, triangles[i + k]!));
    const [ab, ac] = [sub(b!, a!), sub(c!, a!)];
    const n = Math.max(1, Math.ceil(Math.max(length(ab), length(ac)) / spacing));
    for (let j = 0; j <= n; j++) {
      for (let k = 0; j + k <= n; k++) points.push(along(along(a!, ab, j / n), ac, k / n));
    }
  }
  return points;
}

function boxPoints(box: { readonly from: Vec3; readonly to: Vec3 }, spacing: number): Vec3[] {
  const out: Vec3[] = [];
  const steps = [0, 1, 2].map((c) => Math.max(1, Math.ceil((box.to[c]! - box.from[c]!) / spacing)));
  for (let i = 0; i <= steps[0]!; i++) {
    for (let j = 0; j <= steps[1]!; j++) {
      for (let k = 0; k <= steps[2]!; k++) {
        const at = [i, j, k];
        if (!at.some((n, c) => n === 0 || n === steps[c])) continue;
        out.push(
          [0, 1, 2].map(
            (c) => box.from[c]! + ((box.to[c]! - box.from[c]!) * at[c]!) / steps[c]!,
          ) as unknown as Vec3,
        );
      }
    }
  }
  return out;
}

function cylinderPoints(
  solid: { readonly from: Vec3; readonly to: Vec3; readonly radius: number },
  spacing: number,
): Vec3[] {
  const axis = sub(solid.to, solid.from);
  const u = square(axis);
  const v = unit(cross(axis, u));
  const rings = Math.max(1, Math.ceil(length(axis) / spacing));
  const round = Math.max(6, Math.ceil((2 * Math.PI * solid.radius) / spacing));
  const shells = Math.max(1, Math.ceil(solid.radius / spacing));
  const out: Vec3[] = [];
  for (let i = 0; i <= rings; i++) {
    const centre = along(solid.from, axis, i / rings);
    // Only the two ends are closed by discs.
    for (let k = i === 0 || i === rings ? 0 : shells; k <= shells; k++) {
      const r = (solid.radius * k) / shells;
      for (let j = 0; j < (k === 0 ? 1 : round); j++) {
        const a = (2 * Math.PI * j) / round;
        out.push(along(along(centre, u, r * Math.cos(a)), v, r * Math.sin(a)));
      }
    }
  }
  return out;
}
