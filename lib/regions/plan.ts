/**
 * A part and the limits of a machine go in; regions in printing order come out, with what stays
 * unsupported, measured on the full mesh.
 *
 * The search runs on a simplified mesh of at most 12,000 triangles, its cuts are made again on the
 * full one and measured there. Strict search and search with a small tolerance, and square and
 * oblique cuts, each win on some parts, so all are run until one leaves nothing, and the best is kept.
 */
import type { Finding } from '../base/fault.js';
import type { Frame } from '../base/frame.js';
import type { Mesh } from '../base/mesh.js';
import { type Vec3, dot, scale } from '../base/vector.js';
import { type Watch, step } from '../base/watch.js';
import type { SolidKernel } from '../kernel/solid.js';
import { massOf, surfaceArea } from '../mesh/measure.js';
import { hanging, onTable, prepare } from '../overhang/overhang.js';
import type { Tagged } from './cut.js';
import { evenDirections, faceNormals } from './directions.js';
import type { SearchLimits } from './limits.js';
import { type Pose, poses } from './pose.js';
import { whatStays } from './remains.js';
import type { Region } from './region.js';
import type { RegionRules } from './rules.js';
import {
  NOTHING,
  type Piece,
  type Plan,
  type SearchSetting,
  makeCut,
  hangingIn,
  search,
  standsOnTable,
} from './search.js';
import { ON_TABLE, solidFrom } from './solid.js';

export interface RegionPlan {
  /** In printing order. */
  readonly regions: readonly Region[];
  /** Flag a triangle for each region: 1 where it hangs. */
  readonly hanging: readonly Uint8Array[];
  /** The part in its pose on the table. */
  readonly part: Mesh;
  /** Part frame from the mesh that was handed in. */
  readonly partFromGiven: Frame;
  readonly unsupported: {
    /** Of the part as handed in, built along the table normal. */
    readonly asPlacedMm2: number;
    /** The least that any one reachable direction leaves, room for the head left aside. */
    readonly bestSingleDirectionMm2: number;
    readonly plannedMm2: number;
  };
  readonly findings: readonly Finding[];
}

/** Triangles that the search works on at most. */
const SEARCH_SIZE = 12_000;
/** How many poses beside the given one are tried. */
const POSES = 8;
/** Share of the surface that may hang in a piece when the search is not strict. */
const TOLERANCE = 0.003;

/**
 * @param part closed mesh standing on z = 0, mm
 * @throws the signal's reason when cancelled
 */
export function planRegions(
  part: Mesh,
  limits: SearchLimits,
  rules: RegionRules,
  kernel: SolidKernel,
  watch?: Watch,
): RegionPlan {
  const theta = (rules.overhang * Math.PI) / 180;
  const pose = choosePose(part, limits, rules, kernel, watch);
  const full = untagged(pose.mesh);
  const plan = bestPlan(pose.mesh, full, limits, rules, kernel, watch);
  const regions = regionsOf(plan);
  const flags = regions.map((region) => hangingOf(region, theta));
  const planned = regions.reduce((sum, region) => sum + region.unsupportedArea, 0);
  return {
    regions,
    hanging: flags,
    part: pose.mesh,
    partFromGiven: pose.frame,
    unsupported: {
      asPlacedMm2: uprightArea(part, theta),
      bestSingleDirectionMm2: bestSingle(pose.mesh, limits, theta),
      plannedMm2: planned,
    },
    findings: whatStays(regions, flags, limits, theta),
  };
}

const untagged = (mesh: Mesh): Tagged => ({
  mesh,
  cut: new Int32Array(mesh.triangles.length / 3).fill(-1),
});

function uprightArea(mesh: Mesh, theta: number): number {
  return hanging(prepare(mesh), [0, 0, 1], theta, onTable(mesh, ON_TABLE)).area;
}

function bestSingle(mesh: Mesh, limits: SearchLimits, theta: number): number {
  const p = prepare(mesh);
  const carried = onTable(mesh, ON_TABLE);
  const faces = faceNormals(mesh, 0.004, 24);
  const all: Vec3[] = [
    [0, 0, 1],
    ...faces,
    ...faces.map((f) => scale(f, -1)),
    ...evenDirections(220),
  ];
  return all
    .filter((d) => limits.canReach(d))
    .reduce((least, d) => Math.min(least, hanging(p, d, theta, carried).area), Infinity);
}

/** The pose whose quick greedy run leaves least; the given one where it is as good. */
function choosePose(
  part: Mesh,
  limits: SearchLimits,
  rules: RegionRules,
  kernel: SolidKernel,
  watch?: Watch,
): Pose {
  const all = poses(part, kernel, rules.pose === 'free' ? POSES : 0);
  if (all.length === 1) return all[0]!;
  const quick = { ...rules, oblique: false, directions: Math.min(rules.directions, 120) };
  let best = all[0]!;
  let least = Infinity;
  all.forEach((pose, i) => {
    step(watch, 'poses', i, all.length);
    const setting: SearchSetting = { rules: quick, limits, tolerance: 0, beam: 1, children: 3 };
    const plan = search(untagged(simplified(pose.mesh, kernel, SEARCH_SIZE / 3)), setting);
    if (plan.cost < least - NOTHING) [best, least] = [pose, plan.cost];
  });
  return best;
}

/** Fewer triangles, by a tolerance that doubles from 0.05 mm until they are few enough. */
function simplified(mesh: Mesh, kernel: SolidKernel, most: number): Mesh {
  let out = mesh;
  for (let mm = 0.05; out.triangles.length / 3 > most && mm < 2; mm *= 2)
    out = kernel.simplify(mesh, mm);
  return out;
}

function bestPlan(
  mesh: Mesh,
  full: Tagged,
  limits: SearchLimits,
  rules: RegionRules,
  kernel: SolidKernel,
  watch?: Watch,
): Plan {
  const theta = (rules.overhang * Math.PI) / 180;
  const small = untagged(simplified(mesh, kernel, SEARCH_SIZE));
  const slack = TOLERANCE * surfaceArea(mesh);
  const tries = [
    { oblique: false, tolerance: 0 },
    { oblique: false, tolerance: slack },
    ...(rules.oblique
      ? [
          { oblique: true, tolerance: 0 },
          { oblique: true, tolerance: slack },
        ]
      : []),
  ];
  let best: Plan | undefined;
  for (const [i, { oblique, tolerance }] of tries.entries()) {
    const { beam, children } = rules;
    const setting: SearchSetting = {
      rules: { ...rules, oblique },
      limits,
      tolerance,
      beam,
      children,
    };
    const found = search(small, setting, watch, `regions ${i + 1}/${tries.length}`);
    const plan = small.mesh === mesh ? found : replay(found, full, theta);
    if (!best || plan.cost < best.cost - NOTHING) best = plan;
    if (best.cost <= NOTHING) break;
  }
  return best!;
}

/** Makes the cuts of a plan again on the full mesh; a cut that does not work there is left out. */
function replay(found: Plan, full: Tagged, theta: number): Plan {
  let solid = solidFrom(full, theta);
  const pieces: Piece[] = [];
  for (const { move } of found.pieces) {
    const id = pieces.length;
    const seed = nearestAbove(solid.mesh, move.seed, move.normal, move.offset);
    const made = seed < 0 ? undefined : makeCut(solid, seed, move, id);
    if (!made || !standsOnTable(made.rest)) continue;
    const hangs = hangingIn(made.piece, id, move.direction, theta);
    pieces.push({ tagged: made.piece, move, contactArea: made.contactArea, hangs });
    solid = solidFrom(made.rest, theta);
  }
  const cost = solid.upright.area + pieces.reduce((sum, p) => sum + p.hangs, 0);
  return { solid, pieces, cost };
}

/** The vertex above the plane that is nearest to a point, or -1. */
function nearestAbove(mesh: Mesh, to: Vec3, normal: Vec3, offset: number): number {
  const v = mesh.vertices;
  let best = -1;
  let least = Infinity;
  for (let i = 0; i < v.length / 3; i++) {
    const p: Vec3 = [v[3 * i]!, v[3 * i + 1]!, v[3 * i + 2]!];
    if (dot(p, normal) <= offset + 1e-6) continue;
    const far = (p[0] - to[0]) ** 2 + (p[1] - to[1]) ** 2 + (p[2] - to[2]) ** 2;
    if (far < least) [best, least] = [i, far];
  }
  return best;
}

/** Printing order: what was cut off last comes first, after the rest on the table. */
function regionsOf(plan: Plan): Region[] {
  const { mesh, tagged, upright } = plan.solid;
  const bottom: Region = {
    mesh,
    cut: tagged.cut,
    baseCut: -1,
    direction: [0, 0, 1],
    base: { point: [0, 0, 0], normal: [0, 0, 1] },
    standsOn: [],
    volume: massOf(mesh).volume,
    contactArea: tableContact(mesh),
    unsupportedArea: upright.area,
  };
  const regions = [bottom];
  for (let id = plan.pieces.length - 1; id >= 0; id--) {
    const { tagged: piece, move, contactArea, hangs } = plan.pieces[id]!;
    const under = regions.flatMap((region, i) => (region.cut.includes(id) ? [i] : []));
    regions.push({
      mesh: piece.mesh,
      cut: piece.cut,
      baseCut: id,
      direction: move.direction,
      base: { point: scale(move.normal, move.offset), normal: move.normal },
      standsOn: under,
      volume: massOf(piece.mesh).volume,
      contactArea,
      unsupportedArea: hangs,
    });
  }
  return regions;
}

function tableContact(mesh: Mesh): number {
  const { areas } = prepare(mesh);
  return onTable(mesh, ON_TABLE).reduce((sum, flag, t) => sum + flag * areas[t]!, 0);
}

/** Flags of what hangs in a region along its own direction. */
function hangingOf(region: Region, theta: number): Uint8Array {
  const carried =
    region.baseCut < 0
      ? onTable(region.mesh, ON_TABLE)
      : Uint8Array.from(region.cut, (c) => (c === region.baseCut ? 1 : 0));
  return hanging(prepare(region.mesh), region.direction, theta, carried).facets;
}
