/**
 * What the user asks of a plan: directions that may or may not be used, one to prefer, faces that no
 * cut goes through, cuts that are made in any case. Stated for the part as it is placed; if the part is
 * laid in another pose they turn with it.
 */
import { z } from 'zod';
import { type Frame, applyDirection, applyPoint } from '../../base/frame.js';
import type { Mesh } from '../../base/mesh.js';
import { DEG, type Vec3, dot, pointAt, unit } from '../../base/vector.js';
import { treeOf } from '../../mesh/bvh.js';
import { areaNormals } from '../../mesh/measure.js';
import { nearestPoint } from '../../mesh/query.js';
import type { SearchLimits } from '../search/machine-limits.js';

const point = z.tuple([z.number(), z.number(), z.number()]).readonly();
const direction = point
  .refine((v) => Math.hypot(...v) > 1e-9, 'must not be 0 0 0')
  .transform((v) => unit(v));

export const steerRules = z.strictObject({
  only: z
    .array(direction)
    .max(64)
    .default([])
    .describe(
      'build directions, [x, y, z] in the part frame; if any are given, no others are used beside the table normal',
    ),
  forbid: z
    .array(
      z.strictObject({
        direction: direction.describe('[x, y, z] in the part frame'),
        within: z.number().min(0).max(180).default(10).describe('deg; half-angle of the cone'),
        at: point
          .optional()
          .describe(
            'mm, part frame; only the piece with the place of the surface nearest to this point is meant',
          ),
      }),
    )
    .max(64)
    .default([])
    .describe('cones of build directions that are not used, by any piece or by one'),
  prefer: direction
    .optional()
    .describe(
      '[x, y, z]; of plans that leave as little hanging with as many regions the one that builds nearest to this direction',
    ),
  whole: z
    .array(point)
    .max(64)
    .default([])
    .describe(
      'mm; points of the part frame: no cut goes through the face nearest to each. A face ends where facets bend by more than 12 deg',
    ),
  cuts: z
    .array(
      z.strictObject({
        point: point.describe('mm; a point of the plane, part frame'),
        normal: direction.describe('of the plane, towards the piece that is taken off'),
        direction: direction
          .optional()
          .describe('build direction of the piece; the normal if left out'),
      }),
    )
    .max(32)
    .default([])
    .describe(
      'cuts that are made first, in this order, from the finished part; what is cut off first is printed last',
    ),
});

export type Steer = z.output<typeof steerRules>;

/** The same requests in another frame. */
export function steerIn(frame: Frame, { only, forbid, prefer, whole, cuts }: Steer): Steer {
  const turned = (d: Vec3): Vec3 => unit(applyDirection(frame, d));
  return {
    only: only.map(turned),
    forbid: forbid.map((cone) => ({
      ...cone,
      direction: turned(cone.direction),
      ...(cone.at ? { at: applyPoint(frame, cone.at) } : {}),
    })),
    ...(prefer ? { prefer: turned(prefer) } : {}),
    whole: whole.map((p) => applyPoint(frame, p)),
    cuts: cuts.map((c) => ({
      point: applyPoint(frame, c.point),
      normal: turned(c.normal),
      ...(c.direction ? { direction: turned(c.direction) } : {}),
    })),
  };
}

/** Directions this near are the same, cosine. */
const SAME_DIRECTION_COSINE = Math.cos(0.01 * DEG);

/** Build directions that are forbidden to any piece, or to the one at a place. */
export type Cone = Steer['forbid'][number];

export const inCone = ({ direction, within }: Cone, d: Vec3): boolean =>
  dot(direction, d) >= Math.cos(within * DEG) - 1e-12;

/** Whether any piece may have a build direction. `only` always allows the table normal. */
export function allows({ only, forbid }: Steer, d: Vec3): boolean {
  if (forbid.some((cone) => !cone.at && inCone(cone, d))) return false;
  return (
    only.length === 0 ||
    d[2] >= SAME_DIRECTION_COSINE ||
    only.some((o) => dot(o, d) >= SAME_DIRECTION_COSINE)
  );
}

/** The machine's limits together with the user's. */
export const steered = (limits: SearchLimits, steer: Steer): SearchLimits => ({
  ...limits,
  canReach: (d) => allows(steer, d) && limits.canReach(d),
  bars: (d, piece, rest) =>
    steer.forbid.some((cone) => cone.at && inCone(cone, d) && nearer(cone.at, piece, rest)) ||
    limits.bars(d, piece, rest),
});

/** True if the point lies nearer to the skin of the one mesh than to that of the other. */
function nearer(p: Vec3, one: Mesh, other: Mesh): boolean {
  const far = (mesh: Mesh): number => nearestPoint(treeOf(mesh), p)?.distance ?? Infinity;
  return far(one) < far(other);
}

/** Facets that bend by more than this belong to different faces. */
const BEND = Math.cos(12 * DEG);

/** The corners of the face of a mesh that lies nearest to a point, packed xyz. */
export function faceNear(mesh: Mesh, p: Vec3): Float64Array {
  const n = areaNormals(mesh);
  const { triangles, twins, vertices } = mesh;
  const bend = (s: number, t: number): number => dot(unit(pointAt(n, s)), unit(pointAt(n, t)));
  const seen = new Uint8Array(triangles.length / 3);
  const stack = [nearestPoint(treeOf(mesh), p)!.triangle];
  const corners = new Set<number>();
  seen[stack[0]!] = 1;
  for (let t = stack.pop(); t !== undefined; t = stack.pop()) {
    for (let h = 3 * t; h < 3 * t + 3; h++) {
      corners.add(triangles[h]!);
      const s = Math.floor(twins[h]! / 3);
      if (seen[s] || !(bend(s, t) > BEND)) continue;
      seen[s] = 1;
      stack.push(s);
    }
  }
  return Float64Array.from([...corners].sort((a, b) => a - b).flatMap((v) => pointAt(vertices, v)));
}
