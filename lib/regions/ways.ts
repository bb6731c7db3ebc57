/**
 * The ways in which a part is searched, each a piece of work of its own that may run on another thread:
 * a small mesh and rules go in, moves and their cost come out.
 */
import type { Mesh } from '../base/mesh.js';
import { DEG, type Vec3, dot, scale } from '../base/vector.js';
import type { Watch } from '../base/watch.js';
import { bounds, surfaceArea } from '../mesh/measure.js';
import { uncut } from './cut.js';
import { evenDirections, faceNormals } from './directions.js';
import type { SearchLimits } from './limits.js';
import type { Move } from './move.js';
import type { RegionRules } from './rules.js';
import { type SearchSetting, search } from './search.js';

export interface Way {
  /** Planes may lean against the direction. */
  readonly lean: boolean;
  /** A little may hang in a region. */
  readonly tolerant: boolean;
  /** Greedy, with few directions: to compare poses. */
  readonly quick: boolean;
  /** Only along the normals of the part's large faces: few and natural cuts where they are enough. */
  readonly faces: boolean;
}

export interface SearchSpec {
  /** Small, on the table. */
  readonly mesh: Mesh;
  readonly setting: { readonly rules: RegionRules; readonly way: Way };
}

export interface Found {
  readonly moves: readonly Move[];
  /** What hangs on the small mesh, as the search counts, mm2. */
  readonly cost: number;
}

/** Runs one search. A pure function of the spec and the limits. */
export function foundBy(spec: SearchSpec, limits: SearchLimits, watch?: Watch): Found {
  const { rules, way } = spec.setting;
  const plan = search(uncut(spec.mesh), settingFor(spec.mesh, limits, rules, way), watch);
  return { moves: plan.pieces.map((p) => p.move), cost: plan.cost };
}

export const facesOnly: Way = { lean: false, tolerant: false, quick: false, faces: true };
export const toCompare: Way = { lean: false, tolerant: false, quick: true, faces: false };

/** Strict search with square planes first; each way wins on some parts. */
export function waysOf(rules: RegionRules): Way[] {
  const all: Way[] = [false, true].flatMap((tolerant) =>
    [tolerant, !tolerant].map((lean) => ({ lean, tolerant, quick: false, faces: false })),
  );
  return all.filter((w) => (!w.lean || rules.lean > 0) && (!w.tolerant || rules.tolerance > 0));
}

/** Share of the surface that a face must hold for its normal to be tried, and how many at most. */
const FACE_SHARE = 0.004;
const FACES = 24;

/** The table normal first, then normals of large faces, then even ones: those within reach. */
export function directionsFor(mesh: Mesh, limits: SearchLimits, count: number): Vec3[] {
  const all: Vec3[] = [[0, 0, 1], ...bothWays(mesh), ...evenDirections(count)];
  return all.filter(
    (d, i) => limits.canReach(d) && !all.slice(0, i).some((e) => dot(d, e) > 1 - 1e-7),
  );
}

function bothWays(mesh: Mesh): Vec3[] {
  const faces = faceNormals(mesh, FACE_SHARE, FACES);
  return [...faces, ...faces.map((f) => scale(f, -1))];
}

/** Tilts below this are the table normal, for which nothing is cut off. */
const UPRIGHT = Math.cos(3 * DEG);
/** Even directions of a quick search at most. */
const QUICK = 120;

function settingFor(
  mesh: Mesh,
  limits: SearchLimits,
  rules: RegionRules,
  { lean, tolerant, quick, faces }: Way,
): SearchSetting {
  const even = quick ? Math.min(QUICK, rules.directions) : rules.directions;
  const count = faces ? 0 : even;
  return {
    theta: rules.overhang * DEG,
    // Simplifying may take the lowest vertices away.
    foot: rules.foot + bounds(mesh).least[2],
    limits,
    directions: directionsFor(mesh, limits, count).filter((d) => d[2] < UPRIGHT),
    normals: lean ? [...bothWays(mesh), ...evenDirections(count)] : [],
    lean: lean ? rules.lean * DEG : 0,
    tolerance: tolerant ? rules.tolerance * surfaceArea(mesh) : 0,
    contact: rules.contact,
    worth: rules.worth,
    most: rules.most,
    beam: quick ? 1 : rules.beam,
    children: quick ? 3 : rules.children,
  };
}
