/**
 * The variants of the search, each a separate piece of work on a small mesh that may run on another
 * thread.
 */
import { applyDirection, applyPoints, inverse } from '../../base/frame.js';
import type { Mesh } from '../../base/mesh.js';
import { DEG, type Vec3, dot, scale, unit } from '../../base/vector.js';
import type { Watch } from '../../base/watch.js';
import { bounds, surfaceArea } from '../../mesh/measure.js';
import { requestedCuts } from '../requests/requested-cuts.js';
import { evenDirections } from '../../base/even-directions.js';
import { faceNormals } from './candidate-directions.js';
import { frameAlong, headingOf, turnedLimits, turnedMesh, turnedMove } from './heading.js';
import type { SearchLimits } from './machine-limits.js';
import type { CutMove } from './cut-move.js';
import { holdOf } from './base-strength.js';
import { headTable } from './head-clearance.js';
import type { RegionRules } from '../rules.js';
import { search } from './search.js';
import { steerIn, steered } from '../requests/steer.js';
import type { SearchSetting } from './plan-state.js';
import type { TaggedMesh } from '../../mesh/cut/section.js';
import { withoutNeedlessCuts } from './drop-cuts.js';

export interface SearchVariant {
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
  /** Small, on the table, what the user asks to be cut not cut yet. */
  readonly part: TaggedMesh;
  /** Corners of faces that no cut may go through, packed xyz. */
  readonly faces: readonly Float64Array[];
  readonly setting: { readonly rules: RegionRules; readonly way: SearchVariant };
}

export interface FoundPlan {
  readonly moves: readonly CutMove[];
  /** What hangs on the small mesh, as the search counts, mm2. */
  readonly cost: number;
}

/** Runs one search. A pure function of the spec and the limits. */
export function searchedPlan(
  { part, faces, setting }: SearchSpec,
  limits: SearchLimits,
  watch?: Watch,
): FoundPlan {
  const frame = frameAlong(headingOf(part.mesh));
  const rules = { ...setting.rules, steer: steerIn(frame, setting.rules.steer) };
  const turned: SearchSpec = {
    part: { ...part, mesh: turnedMesh(part.mesh, frame) },
    faces: faces.map((face) => applyPoints(frame, face)),
    setting: { ...setting, rules },
  };
  const { moves, cost } = foundIn(turned, turnedLimits(limits, frame), watch);
  const back = inverse(frame);
  return { moves: moves.map((move) => turnedMove(move, back)), cost };
}

function foundIn(spec: SearchSpec, limits: SearchLimits, watch?: Watch): FoundPlan {
  const { part } = spec;
  const { rules, way } = spec.setting;
  const setting = settingFor(spec, steered(limits, rules.steer), rules, way);
  const head = headTable(limits);
  const { start } = requestedCuts(part, rules.steer.cuts, setting, head);
  const plan = withoutNeedlessCuts(part, search(start, setting, watch), setting, head);
  return { moves: plan.pieces.map((p) => p.move), cost: plan.cost };
}

/** Plain variants that are enough for many parts: along faces, and with planes square to the direction. */
export const PLAIN: readonly SearchVariant[] = [true, false].map((faces) => ({
  lean: false,
  tolerant: false,
  quick: false,
  faces,
}));

/** To compare poses: greedy, but with leaning planes, for what these reach is what counts. */
export const QUICK_VARIANT: SearchVariant = {
  lean: true,
  tolerant: true,
  quick: true,
  faces: false,
};

/** Variants for parts that the plain ones leave hanging, those that take longest first. */
export function fullVariants(rules: RegionRules): SearchVariant[] {
  const lean = rules.lean > 0;
  const way = { lean, quick: false, faces: false };
  const kinds = rules.tolerance === 0 ? [false] : lean ? [false, true] : [true];
  return kinds.map((tolerant) => ({ ...way, tolerant }));
}

/** Share of the surface that a face must hold for its normal to be tried, and how many at most. */
const FACE_SHARE = 0.004;
const FACES = 24;

/**
 * Directions worth trying within reach: the table normal first, then normals of large faces, then even
 * ones. They turn with the part.
 */
export function directionsFor(mesh: Mesh, limits: SearchLimits, count: number): Vec3[] {
  const frame = frameAlong(headingOf(mesh));
  const back = inverse(frame);
  return directionsIn(turnedMesh(mesh, frame), turnedLimits(limits, frame), count).map((d) =>
    unit(applyDirection(back, d)),
  );
}

/** The same in the frame of a search. */
function directionsIn(mesh: Mesh, limits: SearchLimits, count: number): Vec3[] {
  const faces = bothWays(mesh);
  const all: Vec3[] = [[0, 0, 1], ...faces, ...towards(faces), ...evenDirections(count)];
  return all.filter(
    (d, i) => limits.canReach(d) && !all.slice(0, i).some((e) => dot(d, e) > 1 - 1e-7),
  );
}

/** Tilts towards the azimuth of a face that are tried beside its own, rad. */
const FACE_TILTS = [45, 46, 55, 65, 75].map((t) => t * DEG);
/** Azimuths of faces that are used for this. */
const AZIMUTHS = 12;

/** Directions tilted towards the largest faces. */
function towards(faces: readonly Vec3[]): Vec3[] {
  const flat = faces.map(([x, y]): Vec3 => [x, y, 0]).filter((f) => Math.hypot(...f) > 0.1);
  const azimuths = flat
    .map(unit)
    .filter((f, i, all) => !all.slice(0, i).some((e) => dot(e, f) > 1 - 1e-4))
    .slice(0, AZIMUTHS);
  return azimuths.flatMap((f) =>
    FACE_TILTS.map((t): Vec3 => [f[0] * Math.sin(t), f[1] * Math.sin(t), Math.cos(t)]),
  );
}

function bothWays(mesh: Mesh): Vec3[] {
  const faces = faceNormals(mesh, FACE_SHARE, FACES);
  return [...faces, ...faces.map((f) => scale(f, -1))];
}

/** Tilts below this are the table normal, for which nothing is cut off. */
const UPRIGHT_COSINE = Math.cos(3 * DEG);
/** Even directions, and children, of a quick search at most. */
const QUICK_DIRECTIONS = 120;
const QUICK_CHILDREN = 4;

function settingFor(
  { part: { mesh }, faces: kept }: SearchSpec,
  limits: SearchLimits,
  rules: RegionRules,
  { lean, tolerant, quick, faces }: SearchVariant,
): SearchSetting {
  const even = quick ? Math.min(QUICK_DIRECTIONS, rules.directions) : rules.directions;
  const count = faces ? 0 : even;
  const { only, prefer } = rules.steer;
  const asked = [...(prefer ? [prefer] : []), ...only].filter((d) => limits.canReach(d));
  return {
    theta: rules.overhang * DEG,
    // Simplifying may take the lowest vertices away.
    foot: rules.foot + bounds(mesh).least[2],
    limits,
    directions: [...asked, ...(only.length > 0 ? [] : directionsIn(mesh, limits, count))].filter(
      (d, i, all) => d[2] < UPRIGHT_COSINE && !all.slice(0, i).some((e) => dot(d, e) > 1 - 1e-7),
    ),
    normals: lean ? [...bothWays(mesh), ...evenDirections(count)] : [],
    lean: lean ? rules.lean * DEG : 0,
    tolerance: tolerant ? rules.tolerance * surfaceArea(mesh) : 0,
    contact: rules.contact,
    worth: rules.worth,
    most: rules.most,
    effort: quick ? rules.most : lean ? rules.effort : Math.ceil(rules.effort / 2),
    prefer,
    faces: kept,
    hold: holdOf(rules.hold),
    children: quick ? Math.min(QUICK_CHILDREN, rules.children) : rules.children,
  };
}
