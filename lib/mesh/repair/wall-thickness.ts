/**
 * Where walls are thin, by sampling: from points spread evenly over the surface a ray goes straight in,
 * and the distance to where it comes out is the thickness there, if it comes out through a nearly
 * parallel face (the ray through a wedge near its sharp edge is short although there is no wall). An
 * estimate: a thin place between samples is missed.
 */
import { type Vec3, dot, length, pointAt, scale } from '../../base/vector.js';
import type { BoxTree } from '../bvh.js';
import { areaNormals } from '../measure.js';
import { firstHit } from '../query.js';

export interface ThinWalls {
  /** The thickness looked for, mm. */
  readonly below: number;
  /** Rays sent. */
  readonly samples: number;
  /** Rays that came out before `below`. */
  readonly hits: number;
  /** Least thickness met, mm, and where on the surface; undefined when no ray met anything. */
  readonly least: number | undefined;
  readonly at: Vec3 | undefined;
}

/** Greatest angle between the two faces of a wall: 30 degrees, as the cosine. */
const PARALLEL_COSINE = Math.cos(Math.PI / 6);

/** Sends `samples` rays; the same mesh gives the same rays. */
export function thinPlaces(tree: BoxTree, below: number, samples: number): ThinWalls {
  const { mesh } = tree;
  const normals = areaNormals(mesh);
  let total = 0;
  for (let i = 0; i < normals.length; i += 3) {
    total += Math.hypot(normals[i]!, normals[i + 1]!, normals[i + 2]!);
  }
  let sent = 0;
  let hits = 0;
  let least: number | undefined;
  let at: Vec3 | undefined;
  let passed = 0;
  for (let t = 0; t < normals.length / 3 && total > 0; t++) {
    const n: Vec3 = [normals[3 * t]!, normals[3 * t + 1]!, normals[3 * t + 2]!];
    const area = Math.hypot(n[0], n[1], n[2]);
    // One sample each time another share of the whole area has been passed.
    for (; sent < samples && passed + area > ((sent + 0.5) / samples) * total; sent++) {
      const origin = spread(tree, t, sent);
      const inwards = scale(n, -1 / area);
      const hit = firstHit(tree, origin, inwards, 1e-9 * Math.sqrt(total));
      if (!hit || !parallel(normals, hit.triangle, inwards)) continue;
      if (hit.distance < below) hits++;
      if (least !== undefined && hit.distance >= least) continue;
      least = hit.distance;
      at = origin;
    }
    passed += area;
  }
  return { below, samples: sent, hits, least, at };
}

function parallel(normals: Float64Array, t: number, direction: Vec3): boolean {
  const n: Vec3 = [normals[3 * t]!, normals[3 * t + 1]!, normals[3 * t + 2]!];
  return dot(n, direction) >= PARALLEL_COSINE * length(n);
}

/**
 * A point of a facet by number: the R2 sequence (Roberts 2018, powers of the inverse plastic number)
 * folded into the triangle, so that large facets are covered evenly.
 */
function spread({ mesh }: BoxTree, facet: number, number: number): Vec3 {
  let r = (0.5 + number * 0.7548776662466927) % 1;
  let s = (0.5 + number * 0.5698402909980532) % 1;
  if (r + s > 1) [r, s] = [1 - r, 1 - s];
  const [a, b, c] = [0, 1, 2].map((i) => pointAt(mesh.vertices, mesh.triangles[3 * facet + i]!));
  const at = (k: 0 | 1 | 2): number => a![k] + r * (b![k] - a![k]) + s * (c![k] - a![k]);
  return [at(0), at(1), at(2)];
}
