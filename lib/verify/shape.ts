/**
 * Holds what is laid against the surface of the part: samples over the surface, at each the signed
 * distance along the facet's normal from the surface to where the material ends (positive: too much),
 * and how much of the first bead's depth under the surface is filled. Fill inside the part may be
 * sparse; the skin may not.
 */
import { BOUNDS } from '../base/bounds.js';
import { Fault } from '../base/fault.js';
import type { Mesh } from '../base/mesh.js';
import { type Watch, step } from '../base/watch.js';
import { type Vec3, cross, length, pointAt, scale, sub, unit } from '../base/vector.js';
import type { Tree } from '../mesh/bvh.js';
import { firstHit } from '../mesh/query.js';
import type { Grid } from './grid.js';

/** Farthest that the end of the material is looked for, mm. */
export const FARTHEST = 1.5;
/** Samples on a facet are about this far apart, mm. */
const SPACING = 0.5;
/** One over the plastic number, the real root of x^3 = x + 1. */
const PLASTIC = 1 / 1.324717957244746;
/** Beyond this it is asked whether another face of the part lies there, mm. */
const SURE = 0.4;

/** One entry a sample. */
export interface Surface {
  /** Part frame, mm; 3 a sample. */
  readonly points: Float32Array;
  /** Outward normal of the facet. */
  readonly normals: Float32Array;
  readonly triangle: Uint32Array;
  /** Area that the sample stands for, mm2. */
  readonly area: Float32Array;
  /** Signed distance, mm; FARTHEST either way stands for more. */
  readonly error: Float32Array;
  /** Share of the first bead's depth under the surface that is filled. */
  readonly skin: Float32Array;
}

/**
 * @param depth of the skin that is to be filled: the width of a bead, mm
 * @param brim below this height a brim may stand beside the part: too much counts as none there, mm
 */
export function surfaceOf(
  tree: Tree,
  grid: Grid,
  depth: number,
  brim: number,
  watch?: Watch,
): Surface {
  const count = countSamples(tree);
  if (count > BOUNDS.surfaceSamples) {
    throw new Fault(
      'verify/part-too-large',
      `the part's surface takes ${count} samples ${SPACING} mm apart; the limit is ${BOUNDS.surfaceSamples}`,
    );
  }
  const out = {
    points: new Float32Array(3 * count),
    normals: new Float32Array(3 * count),
    triangle: new Uint32Array(count),
    area: new Float32Array(count),
    error: new Float32Array(count),
    skin: new Float32Array(count),
  };
  let i = 0;
  eachSample(tree, (p, n, triangle, area) => {
    if (i % 20_000 === 0) step(watch, 'shape', i, count);
    out.points.set(p, 3 * i);
    out.normals.set(n, 3 * i);
    out.triangle[i] = triangle;
    out.area[i] = area;
    const room = roomInside(tree, p, n);
    const error = errorAt(tree, grid, p, n, room);
    out.error[i] = p[2] < brim ? Math.min(0, error) : error;
    out.skin[i] = skinAt(grid, p, n, Math.min(depth, room));
    i++;
  });
  step(watch, 'shape', count, count);
  return out;
}

/** Half of the part's thickness under a point of its surface, up to FARTHEST, mm. */
function roomInside(tree: Tree, p: Vec3, n: Vec3): number {
  const inward: Vec3 = [-n[0], -n[1], -n[2]];
  const hit = firstHit(tree, p, inward, 1e-3, 2 * FARTHEST);
  return hit ? hit.distance / 2 : FARTHEST;
}

function errorAt(tree: Tree, grid: Grid, p: Vec3, n: Vec3, room: number): number {
  const shareAt = (s: number): number =>
    grid.share(p[0] + s * n[0], p[1] + s * n[1], p[2] + s * n[2]);
  const pace = grid.edge / 2;
  let before = shareAt(0);
  const sense = before >= 0.5 ? 1 : -1;
  let limit = sense > 0 ? FARTHEST : room;
  let asked = sense < 0;
  for (let s = pace; s <= limit; s += pace) {
    if (!asked && s > SURE) {
      // Another wall of the part may stand there: what fills the gap to it counts half for each.
      asked = true;
      const hit = firstHit(tree, p, n, 1e-3, 2 * FARTHEST);
      if (hit) limit = Math.min(limit, hit.distance / 2);
      if (s > limit) return limit;
    }
    const now = shareAt(sense * s);
    if (sense > 0 ? now < 0.5 : now >= 0.5) {
      const t = (0.5 - before) / (now - before);
      return sense * (s - pace + t * pace);
    }
    before = now;
  }
  // Beside a sharp edge the normal may run along just outside the material.
  return sense > 0 ? limit : -Math.min(limit, nearestMaterial(grid, p, limit));
}

/** Distance from a point to material in any of 26 directions, to half a cube; `limit` if there is none. */
function nearestMaterial(grid: Grid, p: Vec3, limit: number): number {
  const pace = grid.edge / 2;
  for (let s = pace; s < limit; s += pace) {
    for (const [x, y, z] of AROUND) {
      if (grid.at(p[0] + s * x, p[1] + s * y, p[2] + s * z)) return s;
    }
  }
  return limit;
}

/** Unit vectors to the neighbours of a cube. */
const AROUND: readonly Vec3[] = Array.from({ length: 27 }, (_, i): Vec3 => [
  (i % 3) - 1,
  (Math.floor(i / 3) % 3) - 1,
  Math.floor(i / 9) - 1,
])
  .filter((v) => length(v) > 0)
  .map(unit);

function skinAt(grid: Grid, p: Vec3, n: Vec3, depth: number): number {
  const steps = Math.max(1, Math.round(depth / grid.edge));
  let filled = 0;
  for (let k = 0; k < steps; k++) {
    const s = (-depth * (k + 0.5)) / steps;
    if (grid.at(p[0] + s * n[0], p[1] + s * n[1], p[2] + s * n[2])) filled++;
  }
  return filled / steps;
}

type Visit = (p: Vec3, n: Vec3, triangle: number, area: number) => void;

/** Samples on a facet of an area, mm2. */
const samplesOn = (area: number): number => Math.ceil(area / SPACING ** 2);

/**
 * Samples of each facet in number by its area, spread by the additive recurrence of the plastic number
 * (Roberts, "The unreasonable effectiveness of quasirandom sequences", 2018) folded into the triangle:
 * even on slivers, and the same in every run.
 */
function eachSample({ mesh }: Tree, visit: Visit): void {
  let number = 0;
  eachFacet(mesh, (at, u, w, normal, area, triangle) => {
    const n = samplesOn(area);
    for (let i = 0; i < n; i++) {
      number++;
      let x = (number * PLASTIC) % 1;
      let y = (number * PLASTIC * PLASTIC) % 1;
      if (x + y > 1) [x, y] = [1 - x, 1 - y];
      const p: Vec3 = [
        at[0] + x * u[0] + y * w[0],
        at[1] + x * u[1] + y * w[1],
        at[2] + x * u[2] + y * w[2],
      ];
      visit(p, normal, triangle, area / n);
    }
  });
}

function countSamples({ mesh }: Tree): number {
  let count = 0;
  eachFacet(mesh, (_at, _u, _w, _normal, area) => (count += samplesOn(area)));
  return count;
}

/** Visits facets that have an area, mm2: a corner, the edges from it, the unit normal. */
function eachFacet(
  { vertices: v, triangles }: Mesh,
  visit: (at: Vec3, u: Vec3, w: Vec3, normal: Vec3, area: number, triangle: number) => void,
): void {
  for (let t = 0; t < triangles.length; t += 3) {
    const [a, b, c] = [t, t + 1, t + 2].map((i) => pointAt(v, triangles[i]!)) as [Vec3, Vec3, Vec3];
    const [u, w] = [sub(b, a), sub(c, a)];
    const n = cross(u, w);
    const size = length(n);
    if (size > 1e-9) visit(a, u, w, scale(n, 1 / size), size / 2, t / 3);
  }
}
