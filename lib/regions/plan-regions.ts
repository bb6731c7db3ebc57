/**
 * Divides a part into regions in printing order within the limits of a machine, and measures on the
 * full mesh what stays unsupported.
 */
import type { Finding } from '../base/fault.js';
import type { Frame } from '../base/frame.js';
import type { Mesh } from '../base/mesh.js';
import { DEG, type Vec3 } from '../base/vector.js';
import type { Watch } from '../base/watch.js';
import type { SolidKernel } from '../kernel/solid.js';
import { massOf } from '../mesh/measure.js';
import { hanging, onTable, prepare } from '../overhang/overhang.js';
import { unmetRequests } from './requests/unmet-requests.js';
import { requestedCuts } from './requests/requested-cuts.js';
import type { TableRules } from './search/remaining-body.js';
import type { Ceilings } from './search/ceilings.js';
import type { SearchLimits } from './search/machine-limits.js';
import type { Region } from './region.js';
import { unsupportedFindings } from './unsupported-findings.js';
import { type BuiltRegions, regionsOf } from './search/replay.js';
import { headTable } from './search/head-clearance.js';
import type { RegionRules } from './rules.js';
import { type SearchRunner, Searches, onThisThread } from './search/search-stages.js';
import type { TaggedMesh } from '../mesh/cut/section.js';
import { LEAST_COST, type Plan, tiltOf } from './search/plan-state.js';
import { plainGrip, partPoses } from './search/part-poses.js';
import { type Steer, steered } from './requests/steer.js';
import { directionsFor } from './search/search-variants.js';

export { type FoundPlan, type SearchSpec, searchedPlan } from './search/search-variants.js';
export { type ReplaySpec, replayed } from './search/replay.js';
export { type SimplifySpec, simplified } from './search/search-mesh.js';
export type { SearchRunner } from './search/search-stages.js';

/** The regions of a part in printing order, with what hangs in each. */
export interface RegionPlan {
  /** In printing order. */
  readonly regions: readonly Region[];
  /** For each region a flag per triangle: 1 where it hangs. */
  readonly hanging: readonly Uint8Array[];
  /** The part in its pose on the table, its pedestal with it. */
  readonly part: Mesh;
  /** Part frame from the mesh that was handed in. */
  readonly partFromGiven: Frame;
  readonly unsupported: {
    /** Of the part as handed in, built along the table normal. */
    readonly asPlacedMm2: number;
    /** The least that any one direction leaves in which the whole part can be built off the table. */
    readonly bestSingleDirectionMm2: number;
    readonly plannedMm2: number;
  };
  readonly findings: readonly Finding[];
}

/** What a plan needs beside the part, the machine and the rules. */
export interface RegionTools {
  readonly kernel: SolidKernel;
  /** Left out: all is done on this thread. The plan is the same wherever it is done. */
  readonly work?: SearchRunner;
  /** Does not hang in what is built along the table normal, in the pose that it is known for. */
  readonly bridged?: Ceilings | undefined;
  readonly watch?: Watch | undefined;
}

/**
 * @param part closed mesh standing on z = 0, mm
 * @throws the signal's reason when cancelled
 */
export async function planRegions(
  part: Mesh,
  limits: SearchLimits,
  rules: RegionRules,
  { kernel, watch, work = onThisThread(limits, watch), bridged }: RegionTools,
): Promise<RegionPlan> {
  const table: TableRules = { theta: rules.overhang * DEG, foot: rules.foot };
  // Simplification does not depend on the pose, so it is done once.
  const little = await work.simplify({ mesh: part, triangles: rules.detail });
  const poses = partPoses({ part, little }, rules, kernel, bridged);
  const { pose, full, plan: found } = await new Searches(work, limits, rules, watch).best(poses);
  const { mesh } = full;
  const { steer } = pose;
  const along = (d: Vec3): BuiltRegions =>
    regionsOf(planAlong(full, d, limits, rules, steer), table);
  const single = along(bestDirection(mesh, limits, rules));
  // The search weighs whole facets; by the area that really hangs one direction may leave less.
  const others = [single, along([0, 0, 1])].filter(({ regions: r }) => r.length <= rules.most);
  const built = others.reduce(
    (a, b) => (areaOf(b) < areaOf(a) - LEAST_COST ? b : a),
    regionsOf(found, table),
  );
  const { regions, hanging: flags } = built;
  return {
    regions,
    hanging: flags,
    part: mesh,
    partFromGiven: pose.frame,
    unsupported: {
      asPlacedMm2: uprightArea(part, table),
      bestSingleDirectionMm2: Math.min(areaOf(single), uprightArea(mesh, table)),
      plannedMm2: areaOf(built),
    },
    findings: [
      ...pedestalFinding(part, mesh, rules, pose.grip),
      ...unmetRequests({ part: mesh, regions: built.regions, steer, limits, rules }),
      ...unsupportedFindings(built, limits, table.theta),
    ],
  };
}

const areaOf = ({ regions }: BuiltRegions): number =>
  regions.reduce((sum, region) => sum + region.unsupportedArea, 0);

function uprightArea(mesh: Mesh, { theta, foot }: TableRules): number {
  return hanging(prepare(mesh), [0, 0, 1], theta, onTable(mesh, foot)).area;
}

/** Even directions over the sphere for the best single one. */
const SINGLES = 220;

/**
 * The one direction that leaves least when the whole part is built along it: one that the machine reaches,
 * with the head over the table, and whose layers lean against the table no more than planes may.
 */
function bestDirection(
  mesh: Mesh,
  limits: SearchLimits,
  { overhang, foot, lean }: RegionRules,
): Vec3 {
  const theta = overhang * DEG;
  const p = prepare(mesh);
  const carried = onTable(mesh, foot);
  return directionsFor(mesh, limits, SINGLES)
    .filter((d) => tiltOf(d) <= lean * DEG && limits.leastTipHeight(tiltOf(d)) <= foot)
    .map((d) => ({ d, area: hanging(p, d, theta, carried).area }))
    .reduce((best, one) => (one.area < best.area ? one : best)).d;
}

/** The plan of one direction: what rests on the table, and all the rest along the direction. */
function planAlong(
  full: TaggedMesh,
  direction: Vec3,
  limits: SearchLimits,
  { overhang, foot, most }: RegionRules,
  steer: Steer,
): Plan {
  const theta = overhang * DEG;
  const rules = { theta, foot, limits: steered(limits, steer), most, prefer: direction };
  // Clear of the foot by more than rounding.
  const cut = { point: [0, 0, foot + 1e-5] as const, normal: [0, 0, 1] as const, direction };
  const cuts = tiltOf(direction) > 0 ? [...steer.cuts, cut] : steer.cuts;
  return requestedCuts(full, cuts, rules, headTable(limits)).start;
}

function pedestalFinding(part: Mesh, mesh: Mesh, rules: RegionRules, grip: number): Finding[] {
  const { pedestal } = rules;
  if (pedestal === 0) return [];
  const volume = massOf(mesh).volume - massOf(part).volume;
  const way =
    grip > plainGrip(rules)
      ? `whose columns enclose the lowest ${grip.toFixed(2)} mm of the part, which would not carry it: they are to be cut away around it`
      : `to be sawn off ${(pedestal + grip).toFixed(2)} mm over the table`;
  return [
    {
      code: 'regions/pedestal',
      severity: 'note',
      message: `the part stands on a pedestal of ${pedestal} mm and ${volume.toFixed(0)} mm3, ${way}`,
    },
  ];
}
