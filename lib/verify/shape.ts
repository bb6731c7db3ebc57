/**
 * Holds what is laid against the surface of the part: samples over the surface, at each the signed distance
 * from the surface to where the material ends (positive: too much), and how much of the first bead's depth
 * under the surface is filled. Fill inside the part may be sparse; the skin may not.
 *
 * The end of the material is looked for in the grid, along the facet's normal: on a plain face that is the
 * distance, to a few hundredths of a millimetre. Beside sharp edges and over steps a normal may run along
 * just outside the material, or into the beads of the next face. So where it finds the shape off, no more
 * is claimed than the true distance: for missing material that to the nearest bead's real section on this
 * side of the face, for material that stands out that to the nearest free place outwards, in any direction.
 * (Along the normal alone, up to 0.70 mm were claimed missing beside sharp edges where a bead lay 0.09 mm
 * away.)
 */
import { BOUNDS } from '../base/bounds.js';
import { Fault } from '../base/fault.js';
import type { Mesh } from '../base/mesh.js';
import { type Watch, step } from '../base/watch.js';
import {
  type Vec3,
  along,
  cross,
  dot,
  length,
  pointAt,
  scale,
  square,
  sub,
  unit,
} from '../base/vector.js';
import type { BoxTree } from '../mesh/bvh.js';
import { firstHit } from '../mesh/query.js';
import type { BeadIndex } from './bead-index.js';
import type { LaidMaterial } from './grids.js';

/** Farthest that the end of the material is looked for, mm. */
export const FARTHEST_ERROR = 1.5;
/** Spacing of the samples on a facet, about, mm. */
const SURFACE_SAMPLE_SPACING = 0.5;
/** One over the plastic number, the real root of x^3 = x + 1. */
const PLASTIC = 1 / 1.324717957244746;
/** Beyond this another face of the part is looked for, mm. */
const SURE = 0.4;
/** Errors from this share of a bead's width on are measured in any direction. */
const LARGE_ERROR = 0.25;
/** The skin is open where less of its depth than this is filled. */
export const OPEN_SKIN = 1 / 3;

/** One entry per sample. */
export interface Surface {
  /** Part frame, mm; 3 numbers per sample. */
  readonly points: Float32Array;
  /** Outward normal of the facet. */
  readonly normals: Float32Array;
  readonly triangle: Uint32Array;
  /** Area that the sample stands for, mm2. */
  readonly area: Float32Array;
  /** Signed distance, mm; FARTHEST_ERROR stands for more, either way. */
  readonly error: Float32Array;
  /** Share of the first bead's depth under the surface that is filled. */
  readonly skin: Float32Array;
}

/**
 * @param beads of what is laid
 * @param depth of the skin that is to be filled: the width of a bead, mm
 * @param brim below this height a brim may stand beside the part: too much counts as none there, mm
 */
export function surfaceOf(
  tree: BoxTree,
  grid: LaidMaterial,
  beads: BeadIndex,
  depth: number,
  brim: number,
  watch?: Watch,
): Surface {
  const count = countSamples(tree);
  if (count > BOUNDS.surfaceSamples) {
    throw new Fault(
      'verify/part-too-large',
      `the part's surface takes ${count} samples ${SURFACE_SAMPLE_SPACING} mm apart; the limit is ${BOUNDS.surfaceSamples}`,
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
    const first = errorAt(tree, grid, p, n, room);
    const large = Math.abs(first) > LARGE_ERROR * depth;
    const error = !large
      ? first
      : first > 0
        ? outwards(grid, p, n, first)
        : -lacking(beads, p, n, grid);
    out.error[i] = p[2] < brim ? Math.min(0, error) : error;
    const skin = skinAt(grid, p, n, Math.min(depth, room));
    const up = skin < OPEN_SKIN ? beads.directionNear(p, FARTHEST_ERROR) : undefined;
    out.skin[i] = up ? skinAlong(tree, beads, p, inwards(n, up), depth) : skin;
    i++;
  });
  step(watch, 'shape', count, count);
  return out;
}

/** Half of the part's thickness under a point of its surface, up to FARTHEST_ERROR, mm. */
export function roomInside(tree: BoxTree, p: Vec3, n: Vec3): number {
  const inward: Vec3 = [-n[0], -n[1], -n[2]];
  const hit = firstHit(tree, p, inward, 1e-3, 2 * FARTHEST_ERROR);
  return hit ? hit.distance / 2 : FARTHEST_ERROR;
}

function errorAt(tree: BoxTree, grid: LaidMaterial, p: Vec3, n: Vec3, room: number): number {
  const shareAt = (s: number): number =>
    grid.share(p[0] + s * n[0], p[1] + s * n[1], p[2] + s * n[2]);
  const pace = grid.edge / 2;
  let before = shareAt(0);
  const sense = before >= 0.5 ? 1 : -1;
  let limit = sense > 0 ? FARTHEST_ERROR : room;
  let asked = sense < 0;
  for (let s = pace; s <= limit; s += pace) {
    if (!asked && s > SURE) {
      // Another wall of the part may stand there: what fills the gap to it counts half for each.
      asked = true;
      const hit = firstHit(tree, p, n, 1e-3, 2 * FARTHEST_ERROR);
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
  return sense > 0 ? limit : -FARTHEST_ERROR;
}

/** Distance from a place of the surface to the nearest bead that does not lie before the face, mm. */
function lacking(beads: BeadIndex, p: Vec3, n: Vec3, { edge }: LaidMaterial): number {
  return Math.max(0, beads.nearest(p, FARTHEST_ERROR, n, edge)?.distance ?? FARTHEST_ERROR);
}

/**
 * Distance from a place in material to where it ends outwards, in any of 10 to 14 directions; up to `limit`,
 * mm.
 */
function outwards(grid: LaidMaterial, p: Vec3, n: Vec3, limit: number): number {
  const pace = grid.edge / 2;
  const ways = NEIGHBOURS.filter((way) => dot(way, n) > OUTWARD);
  for (let s = pace; s < limit; s += pace) {
    for (const [x, y, z] of ways) {
      if (grid.share(p[0] + s * x, p[1] + s * y, p[2] + s * z) < 0.5) return s;
    }
  }
  return limit;
}

/** Cosine from a facet's normal up to which a direction leads out of the part. */
const OUTWARD = 0.3;

/** Unit vectors to the neighbours of a cube. */
const NEIGHBOURS: readonly Vec3[] = Array.from({ length: 27 }, (_, i): Vec3 => [
  (i % 3) - 1,
  (Math.floor(i / 3) % 3) - 1,
  Math.floor(i / 9) - 1,
])
  .filter((v) => length(v) > 0)
  .map(unit);

function skinAt(grid: LaidMaterial, p: Vec3, n: Vec3, depth: number): number {
  const steps = Math.max(1, Math.round(depth / grid.edge));
  let filled = 0;
  for (let k = 0; k < steps; k++) {
    const s = (-depth * (k + 0.5)) / steps;
    if (grid.at(p[0] + s * n[0], p[1] + s * n[1], p[2] + s * n[2])) filled++;
  }
  return filled / steps;
}

/**
 * Greatest share that is filled of a bead's depth under a place of the surface, in any of the directions
 * `ways` as far as it stays in the part: beside an edge some run along just outside the material.
 */
function skinAlong(
  tree: BoxTree,
  beads: BeadIndex,
  p: Vec3,
  ways: readonly Vec3[],
  depth: number,
): number {
  let most = 0;
  for (const way of ways) {
    let [filled, all] = [0, 0];
    const end = firstHit(tree, p, way, 1e-3, depth)?.distance ?? depth;
    for (let k = 0.5; k < SKIN_STEPS; k++) {
      const s = (depth * k) / SKIN_STEPS;
      if (s > end) break;
      all++;
      if (beads.nearest(along(p, way, s), CREVICE)) filled++;
    }
    if (all > 0) most = Math.max(most, filled / all);
  }
  return most;
}

/**
 * Directions into the part: against the normal, and 35 deg to both sides of it in the layer's plane (to
 * four sides under a face that lies in a layer). Not across layers: a gap in one of them is a gap.
 */
function inwards(n: Vec3, up: Vec3): Vec3[] {
  const inward = scale(n, -1);
  const flat = Math.abs(dot(n, up)) > LEVEL_FACE;
  const side = flat ? square(n) : unit(cross(up, n));
  const sides = flat ? [side, cross(n, side)] : [side];
  return [
    inward,
    ...sides.flatMap((s) => [
      unit(along(inward, s, TANGENT_ASIDE)),
      unit(along(inward, s, -TANGENT_ASIDE)),
    ]),
  ];
}

/** Places along each direction into the skin, and how near a bead counts as there (flanks are round), mm. */
const SKIN_STEPS = 5;
const CREVICE = 0.01;
/** Tangent of 35 deg; and a face lies in a layer if its normal is within 25 deg of the head: cosine. */
const TANGENT_ASIDE = 0.7;
const LEVEL_FACE = 0.9;

type VisitSample = (p: Vec3, n: Vec3, triangle: number, area: number) => void;

/** Samples on a facet of an area, mm2. */
const samplesOn = (area: number): number => Math.ceil(area / SURFACE_SAMPLE_SPACING ** 2);

/**
 * Samples of each facet in number by its area, spread by the additive recurrence of the plastic number
 * (Roberts, "The unreasonable effectiveness of quasirandom sequences", 2018) folded into the triangle:
 * evenly spread even on slivers, and the same in every run.
 */
function eachSample({ mesh }: BoxTree, visit: VisitSample): void {
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

function countSamples({ mesh }: BoxTree): number {
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
