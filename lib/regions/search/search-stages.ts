/**
 * The searches of one plan. Plain ones come first: if one leaves nothing, that is the plan. Otherwise
 * searches with leaning planes follow, strict and not, each of which wins on some parts; where the pose
 * is free, in the poses in which a quick search leaves least. (The pose with least hanging to begin
 * with is not the best, nor the one in which a search with square planes leaves least.) They run on a
 * simplified mesh; their cuts are made again on the full one, their directions refined and the result
 * measured there.
 */
import type { Mesh } from '../../base/mesh.js';
import { DEG } from '../../base/vector.js';
import { type Watch, step } from '../../base/watch.js';
import { requestedCuts } from '../requests/requested-cuts.js';
import type { SearchLimits } from './machine-limits.js';
import type { CutMove } from './cut-move.js';
import { type SimplifySpec, simplified } from './search-mesh.js';
import { type ReplaySpec, replayed } from './replay.js';
import { headTable } from './head-clearance.js';
import type { RegionRules } from '../rules.js';
import type { TaggedMesh } from '../../mesh/cut/section.js';
import { LEAST_COST, type Plan, better } from './plan-state.js';
import type { PartPose } from './part-poses.js';
import { steered } from '../requests/steer.js';
import {
  type FoundPlan,
  PLAIN,
  QUICK_VARIANT,
  type SearchSpec,
  type SearchVariant,
  searchedPlan,
  fullVariants,
} from './search-variants.js';

/** Does the large pieces of work, here or on other threads, for one machine and its rules. */
export interface SearchRunner {
  /** `searchedPlan`. */
  search(spec: SearchSpec): Promise<FoundPlan>;
  /** `replayed`. */
  replay(spec: ReplaySpec): Promise<Plan>;
  /** `simplified`. */
  simplify(spec: SimplifySpec): Promise<Mesh>;
}

export const onThisThread = (limits: SearchLimits, watch?: Watch): SearchRunner => ({
  search: (spec) => Promise.resolve(searchedPlan(spec, limits, watch)),
  replay: (spec) => Promise.resolve(replayed(spec, limits)),
  simplify: (spec) => Promise.resolve(simplified(spec)),
});

/** In how many poses the full searches run. */
const POSES_KEPT = 3;
/** What a quick search leaves where plain ones have no chance, mm2. */
const HARD = 1;
/** Plans of more pieces than this are not searched again for fewer. */
const FEWER_FROM = 4;

const lesser = (best: Plan, p: Plan): Plan => (better(p, best) < 0 ? p : best);

/** A pose with its meshes made. */
interface PlacedPart {
  readonly pose: PartPose;
  readonly full: TaggedMesh;
  readonly small: TaggedMesh;
  /** The cuts that are asked for, as they come out on the full mesh. */
  readonly asked: readonly CutMove[];
}

interface BestPlan extends PlacedPart {
  readonly plan: Plan;
}

/** The searches of one plan, counted as they end. */
export class Searches {
  readonly #work: SearchRunner;
  readonly #rules: RegionRules;
  readonly #limits: SearchLimits;
  readonly #watch: Watch | undefined;
  #done = 0;
  #begun = 0;
  /** So many searches are likely, for progress. */
  #likelyTotal = 0;

  constructor(
    work: SearchRunner,
    limits: SearchLimits,
    rules: RegionRules,
    watch: Watch | undefined,
  ) {
    this.#work = work;
    this.#rules = rules;
    this.#watch = watch;
    this.#limits = limits;
  }

  /** Requested cuts are made on the full mesh, whatever a search on its small mesh could make of them. */
  #placeOf(pose: PartPose): PlacedPart {
    const full = pose.full();
    const { steer } = pose;
    const { overhang, foot, most } = this.#rules;
    const limits = steered(this.#limits, steer);
    const rules = { theta: overhang * DEG, foot, most, limits, prefer: steer.prefer };
    const { start } = requestedCuts(full, steer.cuts, rules, headTable(this.#limits));
    const asked = start.pieces.map((p) => p.move);
    return { pose, full, small: pose.small(this.#rules.detail), asked };
  }

  async best(poses: readonly PartPose[]): Promise<BestPlan> {
    const quick = poses.length === 1 ? 0 : poses.length;
    const ways = fullVariants(this.#rules);
    this.#likelyTotal = quick + PLAIN.length + ways.length * Math.min(POSES_KEPT, poses.length);
    const likely = await this.#likely(poses);
    const kept = likely.map(({ pose }) => this.#placeOf(pose));
    // Where a quick search left much, plain ones will not leave nothing: all run at once.
    const hard = likely[0]!.cost > HARD;
    const plain = (): Promise<BestPlan> => this.#searches(kept[0]!, PLAIN);
    const first = hard ? undefined : await plain();
    if (first && first.plan.cost <= LEAST_COST) return this.#fewer(first);
    // Those that take longest begin first, so that no thread is left with one at the end.
    const full = ways.map((way) => kept.map((place) => this.#searches(place, [way])));
    const plans = await Promise.all([first ?? plain(), ...full.flat()]);
    return plans.reduce((best, p) => (better(p.plan, best.plan) < 0 ? p : best));
  }

  async #search(
    { steer, faces }: PartPose,
    part: TaggedMesh,
    way: SearchVariant,
    general = this.#rules,
  ): Promise<FoundPlan> {
    const rules = { ...general, steer };
    this.#begun++;
    const found = await this.#work.search({ part, faces, setting: { rules, way } });
    this.#done++;
    step(this.#watch, 'regions', this.#done, Math.max(this.#likelyTotal, this.#begun));
    return found;
  }

  /** The best plan of several ways, made on the full mesh. */
  async #searches(
    place: PlacedPart,
    ways: readonly SearchVariant[],
    rules = this.#rules,
  ): Promise<BestPlan> {
    const { pose, full, small, asked } = place;
    const { steer, faces } = pose;
    const setting = { rules: { ...rules, steer } };
    const plans = await Promise.all(
      ways.map(async (way) => {
        const { moves } = await this.#search(pose, small, way, rules);
        const all = [...asked, ...moves.filter((m) => !m.asked)];
        return this.#work.replay({ full, moves: all, faces, setting });
      }),
    );
    return { ...place, plan: plans.reduce(lesser) };
  }

  /** The poses in which a quick search leaves least, the earlier of equals. */
  async #likely(poses: readonly PartPose[]): Promise<{ pose: PartPose; cost: number }[]> {
    if (poses.length === 1) return [{ pose: poses[0]!, cost: 0 }];
    const costs = await Promise.all(
      poses.map(
        async (pose) =>
          (await this.#search(pose, pose.small(this.#rules.detail / 2), QUICK_VARIANT)).cost,
      ),
    );
    return poses
      .map((pose, i) => ({ pose, cost: costs[i]!, i }))
      .sort((a, b) => (Math.abs(a.cost - b.cost) > LEAST_COST ? a.cost - b.cost : a.i - b.i))
      .slice(0, POSES_KEPT);
  }

  /**
   * A plan that leaves nothing came first by its cost alone; leaning planes, no more cuts than would
   * pay, look for one of fewer regions. Plans of many regions are left as they are: the search would
   * cost more than the region is worth.
   */
  async #fewer(best: BestPlan): Promise<BestPlan> {
    const pieces = best.plan.pieces.length;
    if (pieces < 3 || pieces > FEWER_FROM) return best;
    const rules = { ...this.#rules, most: pieces };
    const ways = [...PLAIN, ...fullVariants(rules)].filter((way) => !way.tolerant);
    const { plan } = await this.#searches(best, ways, rules);
    return { ...best, plan: lesser(best.plan, plan) };
  }
}
