/**
 * How few build directions suffice for a plan: the table normal alone, then the direction that helps a
 * quick plan most is added, up to `most` directions. Where the sets of `sets.ts` say what no plan can beat,
 * these say what a plan with so many directions does reach, cuts and head included. A direction may serve
 * several regions.
 *
 * Greedy: directions are added one at a time and never taken back, so where only two new directions
 * together help, it ends early. Every pair would be thousands of searches, every candidate four times the
 * searches of those that could help most.
 */
import type { Mesh } from '../base/mesh.js';
import { DEG, type Vec3 } from '../base/vector.js';
import { type Watch, step } from '../base/watch.js';
import type { SearchLimits } from '../regions/search/machine-limits.js';
import type { RegionRules } from '../regions/rules.js';
import { steerRules } from '../regions/requests/steer.js';
import { directionsFor } from '../regions/search/search-variants.js';
import { type Cover, coverOf, leftBy } from './sets.js';
import { DIRECTIONS, NOTHING_LEFT, type RunUnder, cheap, leftUnder } from './sweeps.js';

export interface PlannedSet {
  /** The table normal first, then in the order in which they were added. */
  readonly directions: readonly Vec3[];
  /** Left by a quick plan that builds along these alone, mm2. */
  readonly unsupportedMm2: number;
}

/** Least gain of an addition, mm2. */
const GAIN = 0.2;

/**
 * Number of candidates tried, the most promising ones: by what hangs in none of the set and the candidate.
 */
const CANDIDATES_TRIED = 32;

/** @param small the part on the table, simplified @param limits of the machine */
export async function plannedSets(
  small: Mesh,
  limits: SearchLimits,
  rules: RegionRules,
  most: number,
  run: RunUnder,
  watch?: Watch,
): Promise<PlannedSet[]> {
  const candidates = directionsFor(small, limits, DIRECTIONS);
  const cover = coverOf(small, candidates, rules.overhang * DEG, rules.foot);
  const leaves = (set: readonly number[]): Promise<number> => {
    const steer = steerRules.parse({ only: set.map((i) => candidates[i]!) });
    return leftUnder(small, { ...cheap(rules), steer }, run);
  };
  const of = (set: readonly number[], unsupportedMm2: number): PlannedSet => ({
    directions: set.map((i) => candidates[i]!),
    unsupportedMm2,
  });
  // The table normal.
  let set: readonly number[] = [0];
  const out = [of(set, await leaves(set))];
  for (let k = 2; k <= most; k++) {
    const before = out.at(-1)!.unsupportedMm2;
    if (before <= NOTHING_LEFT) break;
    const fresh = promising(cover, set);
    let done = 0;
    const left = await Promise.all(
      fresh.map(async (i) => {
        const mm2 = await leaves([...set, i]);
        step(watch, `${k} directions`, ++done, fresh.length);
        return mm2;
      }),
    );
    const best = left.reduce((b, mm2, i) => (mm2 < left[b]! ? i : b), 0);
    if (!(left[best]! < before - GAIN)) break;
    set = [...set, fresh[best]!];
    out.push(of(set, left[best]!));
  }
  return out;
}

function promising(cover: Cover, set: readonly number[]): number[] {
  return cover.lists
    .map((_, i) => ({ i, left: leftBy(cover, [...set, i]) }))
    .filter(({ i }) => !set.includes(i))
    .sort((a, b) => a.left - b.left || a.i - b.i)
    .slice(0, CANDIDATES_TRIED)
    .map(({ i }) => i);
}
