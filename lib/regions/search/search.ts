/**
 * The search, backwards from the finished part: take off pieces that are clean along a direction of
 * their own, until the rest is clean along the table normal.
 */
import type { Watch } from '../../base/watch.js';
import { massOf } from '../../mesh/measure.js';
import type { SearchTools } from './attempt.js';
import { expand } from './expand.js';
import { type PlaneDirections, planeDirections } from './plane-directions.js';
import { freeingDirections } from './remaining-cost.js';
import { headTable } from './head-clearance.js';
import {
  LEAST_COST,
  type Plan,
  type SearchSetting,
  type SearchState,
  better,
  floorOf,
} from './plan-state.js';

/** An unfinished plan and the plans that one more cut makes of it, best first, once they are known. */
interface SearchNode {
  readonly plan: SearchState;
  readonly mark: string;
  children?: readonly SearchNode[];
}

/**
 * @param start the whole part, or what the requested cuts leave of it
 *
 * Goes down greedily first. Then, as long as the effort lasts, takes another child at one place of the
 * best path, early places first, and goes on greedily from there; what is better becomes the best
 * path (limited discrepancy search: Harvey and Ginsberg, IJCAI 1995). A beam of 4 with 10 children
 * each was tried: its plans soon descend from one, and it found the greedy plan for five times the work.
 */
export function search(start: SearchState, setting: SearchSetting, watch?: Watch): Plan {
  const work = new Descent(setting, watch);
  let best = work.down([nodeOf(start)]);
  let patience = work.left - setting.effort / 2;
  const tried = new Set<string>(best.map((node) => node.mark));
  for (;;) {
    const detour = firstDetour(best, tried, setting);
    if (!detour || work.left <= 0 || work.left < patience) return bestOf(best).plan;
    const found = work.down(detour);
    for (const node of found) tried.add(node.mark);
    if (better(bestOf(found).plan, bestOf(best).plan) >= 0) continue;
    best = found;
    patience = work.left - setting.effort / 2;
  }
}

/** The same cuts in another order leave the same rest: such nodes bear the same mark. */
const nodeOf = (plan: SearchState): SearchNode => ({
  plan,
  mark: `${plan.cost.toFixed(3)} ${massOf(plan.rest.mesh).volume.toFixed(3)}`,
});

const bestOf = (path: readonly SearchNode[]): SearchNode =>
  path.reduce((a, b) => (better(b.plan, a.plan) < 0 ? b : a));

/** The way down to the first child not yet tried: second children first, from the top. */
function firstDetour(
  path: readonly SearchNode[],
  tried: ReadonlySet<string>,
  { children }: SearchSetting,
): SearchNode[] | undefined {
  for (let rank = 0; rank < children; rank++) {
    for (let i = 0; i < path.length; i++) {
      const child = path[i]!.children?.[rank];
      if (child && !tried.has(child.mark)) return [...path.slice(0, i + 1), child];
    }
  }
  return undefined;
}

/** Goes down from the end of a path, best child first, and counts the work. */
class Descent {
  left: number;
  readonly #setting: SearchSetting;
  readonly #planes: readonly PlaneDirections[];
  readonly #tools: SearchTools;
  readonly #watch: Watch | undefined;
  /** Fewest pieces with which nothing was left; longer plans are not of use. */
  #most: number;

  constructor(setting: SearchSetting, watch: Watch | undefined) {
    this.#setting = setting;
    const head = headTable(setting.limits);
    this.#planes = planeDirections(setting, head);
    this.#tools = {
      setting,
      head,
      freeing: freeingDirections(setting.directions, (d) => floorOf(d, setting), setting.theta),
    };
    this.#watch = watch;
    this.left = setting.effort;
    this.#most = setting.most - 1;
  }

  down(path: readonly SearchNode[]): SearchNode[] {
    const out = [...path];
    for (let node = out.at(-1)!; this.left > 0 || node.children;) {
      if (node.plan.cost <= LEAST_COST) {
        this.#most = Math.min(this.#most, node.plan.pieces.length - 1);
        // Fewer pieces are worth some more work, but not all that is left.
        this.left = Math.min(this.left, this.#setting.effort / 4);
        break;
      }
      if (node.plan.pieces.length >= this.#most) break;
      const next = this.#childrenOf(node)[0];
      if (!next) break;
      out.push(next);
      node = next;
    }
    return out;
  }

  #childrenOf(node: SearchNode): readonly SearchNode[] {
    if (node.children) return node.children;
    this.#watch?.signal?.throwIfAborted();
    this.left--;
    const plans = expand(node.plan, this.#planes, this.#tools);
    plans.sort((a, b) => a.remainingCost - b.remainingCost || better(a, b));
    node.children = unlike(plans).map(nodeOf);
    return node.children;
  }
}

/** Drops plans that leave nearly the same behind as a better one. */
function unlike(sorted: readonly SearchState[]): SearchState[] {
  const seen = new Set<string>();
  return sorted.filter((plan) => {
    const key = `${plan.cost.toPrecision(3)} ${massOf(plan.rest.mesh).volume.toPrecision(3)}`;
    if (seen.has(key)) return false;
    seen.add(key);
    return true;
  });
}
