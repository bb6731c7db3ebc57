/**
 * A part and the limits of a machine go in; regions in printing order come out, with what stays
 * unsupported, measured on the full mesh.
 *
 * The search runs on a simplified mesh, its cuts are made again on the full one and measured there.
 * Strict search and search with a small tolerance, and square and leaning cuts, each win on some
 * parts: if the first way leaves something, all are run and the best is kept.
 */
import type { Finding } from '../base/fault.js';
import type { Frame } from '../base/frame.js';
import type { Mesh } from '../base/mesh.js';
import { DEG } from '../base/vector.js';
import { type Watch, step } from '../base/watch.js';
import type { SolidKernel } from '../kernel/solid.js';
import { hanging, onTable, prepare } from '../overhang/overhang.js';
import type { TableRules } from './body.js';
import { uncut } from './cut.js';
import type { SearchLimits } from './limits.js';
import { type Pose, poses } from './pose.js';
import { forSearch } from './refine.js';
import { whatStays } from './remains.js';
import type { Region } from './region.js';
import { regionsOf, replay } from './replay.js';
import type { RegionRules } from './rules.js';
import { NOTHING, type Plan, better } from './search.js';
import {
  type Found,
  type SearchSpec,
  type Way,
  directionsFor,
  facesOnly,
  foundBy,
  toCompare,
  waysOf,
} from './ways.js';

export { type Found, type SearchSpec, foundBy } from './ways.js';

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

/** Runs one search somewhere: `foundBy` with the limits of the same machine and rules. */
export type RunSearch = (spec: SearchSpec) => Promise<Found>;

/**
 * @param part closed mesh standing on z = 0, mm
 * @param run left out: all searches run on this thread. The plan is the same wherever they run.
 * @throws the signal's reason when cancelled
 */
export async function planRegions(
  part: Mesh,
  limits: SearchLimits,
  rules: RegionRules,
  kernel: SolidKernel,
  watch?: Watch,
  run: RunSearch = (spec) => Promise.resolve(foundBy(spec, limits, watch)),
): Promise<RegionPlan> {
  const table: TableRules = { theta: rules.overhang * DEG, foot: rules.foot };
  const work = new Searches(run, limits, rules, kernel, watch);
  const pose = await work.choosePose(poses(part, kernel, rules.pose === 'free' ? rules.poses : 0));
  const plan = await work.bestPlan(pose.mesh, table);
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

/** Even directions over the sphere for the best single one. */
const SINGLES = 220;

function bestSingle(mesh: Mesh, limits: SearchLimits, { theta, foot }: TableRules): number {
  const p = prepare(mesh);
  const carried = onTable(mesh, foot);
  return directionsFor(mesh, limits, SINGLES).reduce(
    (least, d) => Math.min(least, hanging(p, d, theta, carried).area),
    Infinity,
  );
}

/** Plans of more pieces than this are not searched again for fewer. */
const FEWER_FROM = 4;

const lesser = (best: Plan, p: Plan): Plan => (better(p, best) < 0 ? p : best);

/** The searches of one plan, counted as they end. */
class Searches {
  readonly #run: RunSearch;
  readonly #limits: SearchLimits;
  readonly #rules: RegionRules;
  readonly #kernel: SolidKernel;
  readonly #watch: Watch | undefined;
  #done = 0;
  #total = 1;

  constructor(
    run: RunSearch,
    limits: SearchLimits,
    rules: RegionRules,
    kernel: SolidKernel,
    watch: Watch | undefined,
  ) {
    this.#run = run;
    this.#limits = limits;
    this.#rules = rules;
    this.#kernel = kernel;
    this.#watch = watch;
  }

  async #search(spec: SearchSpec): Promise<Found> {
    step(this.#watch, 'regions', this.#done, this.#total);
    const found = await this.#run(spec);
    this.#done++;
    step(this.#watch, 'regions', this.#done, this.#total);
    return found;
  }

  /** The pose whose quick greedy run leaves least; the given one where it is as good. */
  async choosePose(all: readonly Pose[]): Promise<Pose> {
    if (all.length === 1) return all[0]!;
    this.#total += all.length;
    const costs = await Promise.all(
      all.map(async ({ mesh }) => {
        const small = forSearch(mesh, this.#kernel, this.#rules.detail / 2);
        return (
          await this.#search({ mesh: small, setting: { rules: this.#rules, way: toCompare } })
        ).cost;
      }),
    );
    let best = 0;
    costs.forEach((cost, i) => {
      if (cost < costs[best]! - NOTHING) best = i;
    });
    return all[best]!;
  }

  async bestPlan(mesh: Mesh, table: TableRules): Promise<Plan> {
    const full = uncut(mesh);
    const small = forSearch(mesh, this.#kernel, this.#rules.detail);
    const again = ({ moves }: Found): Plan => replay(full, moves, table, this.#limits);
    const search = async (way: Way): Promise<Plan> =>
      again(await this.#search({ mesh: small, setting: { rules: this.#rules, way } }));
    const [square, ...others] = waysOf(this.#rules);
    this.#total += 1;
    const first = (await Promise.all([facesOnly, square!].map(search))).reduce(lesser);
    if (first.cost <= NOTHING) return this.#fewer(first, small, again);
    this.#total += others.length;
    return (await Promise.all(others.map(search))).reduce(lesser, first);
  }

  /**
   * A plan that leaves nothing came first by its cost alone; wider beams, no deeper than would pay,
   * look for one of fewer regions. Plans of many regions are left as they are: the search would cost
   * more than the region is worth.
   */
  async #fewer(plan: Plan, small: Mesh, again: (found: Found) => Plan): Promise<Plan> {
    const pieces = plan.pieces.length;
    if (pieces < 2 || pieces > FEWER_FROM) return plan;
    const { beam, children } = this.#rules;
    const rules = { ...this.#rules, most: pieces, beam: 3 * beam, children: 2 * children };
    const ways = waysOf(rules).filter((way) => !way.tolerant);
    this.#total += ways.length;
    const found = await Promise.all(
      ways.map((way) => this.#search({ mesh: small, setting: { rules, way } })),
    );
    return found.map(again).reduce(lesser, plan);
  }
}
