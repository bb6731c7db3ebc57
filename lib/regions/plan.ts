/**
 * A part and the limits of a machine go in; regions in printing order come out, with what stays
 * unsupported, measured on the full mesh.
 *
 * The search runs on a simplified mesh, its cuts are made again on the full one and measured there.
 * Strict search and search with a small tolerance, and square and leaning cuts, each win on some
 * parts, so all are run until one leaves nothing, and the best is kept.
 */
import type { Finding } from '../base/fault.js';
import type { Frame } from '../base/frame.js';
import type { Mesh } from '../base/mesh.js';
import { DEG, type Vec3, dot, scale } from '../base/vector.js';
import { type Watch, step } from '../base/watch.js';
import type { SolidKernel } from '../kernel/solid.js';
import { bounds, surfaceArea } from '../mesh/measure.js';
import { hanging, onTable, prepare } from '../overhang/overhang.js';
import type { TableRules } from './body.js';
import { uncut } from './cut.js';
import { evenDirections, faceNormals } from './directions.js';
import type { SearchLimits } from './limits.js';
import { type Pose, poses } from './pose.js';
import { whatStays } from './remains.js';
import type { Region } from './region.js';
import { refinedUpTo } from './refine.js';
import { regionsOf, replay } from './replay.js';
import type { RegionRules } from './rules.js';
import { NOTHING, type Plan, type SearchSetting, better, search } from './search.js';

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
  const table: TableRules = { theta: rules.overhang * DEG, foot: rules.foot };
  const pose = choosePose(part, limits, rules, kernel, watch);
  const plan = bestPlan(pose.mesh, limits, rules, kernel, watch);
  const built = regionsOf(plan, table);
  return {
    ...built,
    part: pose.mesh,
    partFromGiven: pose.frame,
    unsupported: {
      asPlacedMm2: uprightArea(part, table),
      bestSingleDirectionMm2: bestSingle(pose.mesh, limits, table),
      plannedMm2: built.regions.reduce((sum, region) => sum + region.unsupportedArea, 0),
    },
    findings: whatStays(built.regions, built.hanging, limits, table.theta),
  };
}

function uprightArea(mesh: Mesh, { theta, foot }: TableRules): number {
  return hanging(prepare(mesh), [0, 0, 1], theta, onTable(mesh, foot)).area;
}

function bestSingle(mesh: Mesh, limits: SearchLimits, { theta, foot }: TableRules): number {
  const p = prepare(mesh);
  const carried = onTable(mesh, foot);
  return directionsFor(mesh, limits, 220).reduce(
    (least, d) => Math.min(least, hanging(p, d, theta, carried).area),
    Infinity,
  );
}

/** The table normal first, then normals of large faces, then even ones: those within reach. */
function directionsFor(mesh: Mesh, limits: SearchLimits, count: number): Vec3[] {
  const faces = faceNormals(mesh, 0.004, 24);
  const all: Vec3[] = [
    [0, 0, 1],
    ...faces,
    ...faces.map((f) => scale(f, -1)),
    ...evenDirections(count),
  ];
  return all.filter(
    (d, i) => limits.canReach(d) && !all.slice(0, i).some((e) => dot(d, e) > 1 - 1e-7),
  );
}

/** Tilts below this are the table normal, for which nothing is cut off. */
const UPRIGHT = Math.cos(3 * DEG);

function settingFor(
  mesh: Mesh,
  limits: SearchLimits,
  rules: RegionRules,
  how: { lean: boolean; tolerant: boolean; quick?: boolean },
): SearchSetting {
  const count = how.quick ? Math.min(120, rules.directions) : rules.directions;
  const faces = faceNormals(mesh, 0.004, 24);
  return {
    theta: rules.overhang * DEG,
    // Simplifying may take the lowest vertices away.
    foot: rules.foot + bounds(mesh).least[2],
    limits,
    directions: directionsFor(mesh, limits, count).filter((d) => d[2] < UPRIGHT),
    normals: how.lean
      ? [...faces, ...faces.map((f) => scale(f, -1)), ...evenDirections(count)]
      : [],
    lean: how.lean ? rules.lean * DEG : 0,
    tolerance: how.tolerant ? rules.tolerance * surfaceArea(mesh) : 0,
    contact: rules.contact,
    worth: rules.worth,
    most: rules.most,
    beam: how.quick ? 1 : rules.beam,
    children: how.quick ? 3 : rules.children,
  };
}

/** The pose whose quick greedy run leaves least; the given one where it is as good. */
function choosePose(
  part: Mesh,
  limits: SearchLimits,
  rules: RegionRules,
  kernel: SolidKernel,
  watch?: Watch,
): Pose {
  const all = poses(part, kernel, rules.pose === 'free' ? rules.poses : 0);
  if (all.length === 1) return all[0]!;
  let best = all[0]!;
  let least = Infinity;
  all.forEach((pose, i) => {
    step(watch, 'poses', i, all.length);
    const small = simplified(pose.mesh, kernel, rules.detail / 2);
    const how = { lean: false, tolerant: false, quick: true };
    const plan = search(uncut(small), settingFor(small, limits, rules, how));
    if (plan.cost < least - NOTHING) [best, least] = [pose, plan.cost];
  });
  return best;
}

/**
 * Fewer triangles, by a tolerance that doubles from 0.05 mm until they are few enough; then long edges
 * halved as far as the number allows.
 */
function simplified(mesh: Mesh, kernel: SolidKernel, most: number): Mesh {
  let out = mesh;
  for (let mm = 0.05; out.triangles.length / 3 > most && mm < 2; mm *= 2)
    out = kernel.simplify(mesh, mm);
  return refinedUpTo(out, most);
}

function bestPlan(
  mesh: Mesh,
  limits: SearchLimits,
  rules: RegionRules,
  kernel: SolidKernel,
  watch?: Watch,
): Plan {
  const table: TableRules = { theta: rules.overhang * DEG, foot: rules.foot };
  const full = uncut(mesh);
  const small = simplified(mesh, kernel, rules.detail);
  const ways = [
    { lean: false, tolerant: false },
    { lean: false, tolerant: true },
    { lean: true, tolerant: false },
    { lean: true, tolerant: true },
  ].filter((w) => (!w.lean || rules.lean > 0) && (!w.tolerant || rules.tolerance > 0));
  let best: Plan | undefined;
  for (const [i, how] of ways.entries()) {
    const setting = settingFor(small, limits, rules, how);
    const found = search(uncut(small), setting, watch, `regions ${i + 1}/${ways.length}`);
    const plan = replay(
      full,
      found.pieces.map((p) => p.move),
      table,
    );
    if (!best || better(plan, best) < 0) best = plan;
    if (best.cost <= NOTHING) break;
  }
  return best!;
}
