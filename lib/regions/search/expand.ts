/**
 * The plans that one more cut makes of a plan. Every plane normal is swept for every direction near it
 * by facet arithmetic; only the best cuts are made: most of them those that relieve most, the others
 * those that relieve much for the size of their piece.
 */
import { angle } from '../../base/vector.js';
import { type SearchTools, attemptCut } from './attempt.js';
import { type RemainingBody, bodyFrom } from './remaining-body.js';
import type { PlaneDirections } from './plane-directions.js';
import { blockingRegions, cutAfterBlocking } from './blocking-regions.js';
import { weightedAreas } from './remaining-cost.js';
import { type Plan, type SearchState, floorOf } from './plan-state.js';
import { AREA_WORTH, Arcs, type CandidatePlane, marksOf, sweep } from './plane-sweep.js';
import { MergeTree } from './merge-tree.js';

/** Cuts made at most for each child wanted. */
const CUTS_PER_CHILD = 5;
/** Directions tried at most on one plane. */
const DIRECTIONS_A_PLANE = 3;
/** Share of the children that are chosen for their small pieces. */
const COMPACT = 1 / 3;
/** How often a blocking region is taken off first for each child wanted. */
const BLOCKING_PER_CHILD = 1;

/** Share of its gain that a cut loses in the ranking, for each rad from the preferred direction. */
const PREFERS = 0.05;

export function expand(
  plan: Plan,
  planes: readonly PlaneDirections[],
  tools: SearchTools,
): SearchState[] {
  const body = bodyFrom(plan.rest, tools.setting);
  const found = grouped(candidatesOf(body, planes, tools));
  const work = new Expansion(plan, body, found, tools);
  const { children } = tools.setting;
  const compact = Math.floor(children * COMPACT);
  const { prefer } = tools.setting;
  const liked = (c: CandidatePlane): number =>
    prefer ? 1 - PREFERS * angle(c.direction, prefer) : 1;
  if (prefer) for (const group of found) group.sort((a, b) => liked(b) - liked(a));
  work.take((c) => liked(c) * (c.gain + AREA_WORTH * c.area), children - compact);
  work.take((c) => (liked(c) * c.gain ** 1.5) / c.area, compact);
  return work.out;
}

function candidatesOf(
  body: RemainingBody,
  planes: readonly PlaneDirections[],
  { setting, freeing }: SearchTools,
): CandidatePlane[] {
  const { theta, tolerance, worth } = setting;
  const marks = setting.directions.map((d) => marksOf(body, d, theta, floorOf(d, setting)));
  const arcs = new Arcs(body.start.length - 1);
  const tree = new MergeTree(body, weightedAreas(body, body.upright.facets, freeing));
  const out: CandidatePlane[] = [];
  for (const { normal, directions } of planes) {
    tree.sink(normal);
    for (const i of directions) sweep(body, tree, marks[i]!, tolerance, worth, arcs, out);
  }
  return out;
}

/** Candidates of one plane and piece stand together, nearest direction first. */
function grouped(found: readonly CandidatePlane[]): CandidatePlane[][] {
  const groups = new Map<string, CandidatePlane[]>();
  for (const c of found) {
    const key = `${c.normal.join(' ')} ${c.whole ? 'all' : c.seed} ${c.offset}`;
    const group = groups.get(key);
    if (group) group.push(c);
    else groups.set(key, [c]);
  }
  return [...groups.values()];
}

/**
 * Many planes free the same limb: of groups that gain nearly the same from the same seed only the two
 * of greatest and least value are kept, so that few exact cuts cover many planes.
 */
function withoutAlike(
  ranked: readonly { group: CandidatePlane[]; value: number }[],
): CandidatePlane[][] {
  const alike = new Map<string, CandidatePlane[][]>();
  for (const { group } of ranked) {
    const c = group[0]!;
    const key = `${c.seed} ${c.whole} ${c.gain.toPrecision(2)}`;
    const same = alike.get(key);
    if (same) same.push(group);
    else alike.set(key, [group]);
  }
  const kept = new Set([...alike.values()].flatMap((same) => [same[0]!, same.at(-1)!]));
  return ranked.filter(({ group }) => kept.has(group)).map(({ group }) => group);
}

class Expansion {
  readonly out: SearchState[] = [];
  readonly #plan: Plan;
  readonly #body: RemainingBody;
  readonly #groups: readonly CandidatePlane[][];
  readonly #tools: SearchTools;
  readonly #tried = new Set<CandidatePlane[]>();
  #blocking: readonly CandidatePlane[] | undefined;

  constructor(
    plan: Plan,
    body: RemainingBody,
    groups: readonly CandidatePlane[][],
    tools: SearchTools,
  ) {
    this.#plan = plan;
    this.#body = body;
    this.#groups = groups;
    this.#tools = tools;
  }

  /** Makes cuts in an order until so many have come out, or too many have failed. */
  take(value: (c: CandidatePlane) => number, wanted: number): void {
    const ranked = this.#groups
      .map((group) => ({ group, value: Math.max(...group.map(value)) }))
      .sort((a, b) => b.value - a.value);
    const most = this.out.length + wanted;
    let tries = 0;
    let blocked = 0;
    for (const group of withoutAlike(ranked)) {
      if (this.out.length >= most || tries >= CUTS_PER_CHILD * wanted) return;
      if (this.#tried.has(group)) continue;
      this.#tried.add(group);
      for (const candidate of group.slice(0, DIRECTIONS_A_PLANE)) {
        tries++;
        const made = attemptCut(this.#plan, this.#body, candidate, this.#tools);
        if (!made) continue;
        const child =
          'met' in made && blocked++ < BLOCKING_PER_CHILD * wanted
            ? this.#withoutBlocking(candidate, made.met)
            : made;
        if (!child || 'met' in child) continue;
        this.out.push(child);
        break;
      }
    }
  }

  #withoutBlocking(
    candidate: CandidatePlane,
    met: readonly [number, number, number],
  ): SearchState | undefined {
    this.#blocking ??= blockingRegions(this.#body, this.#tools);
    return cutAfterBlocking(this.#plan, this.#body, this.#blocking, candidate, met, this.#tools);
  }
}
