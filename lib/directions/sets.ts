/**
 * The smallest sets of build directions: for one direction, two, up to six, the set of candidates that
 * leaves least unsupported. A facet is supported by a set if it does not hang in one of its directions.
 *
 * This is a lower bound of what a plan with so many directions leaves: where to cut, room for the head and
 * the order of regions are ignored. Sets of one and two are the best of all candidates, found by trying
 * every one and every pair; above, the best addition is taken and single directions are exchanged as long
 * as that helps, so these are good sets, not proved best ones. Every triple of 240 candidates would be 2.3
 * million sums over all facets.
 */
import type { Mesh } from '../base/mesh.js';
import type { Vec3 } from '../base/vector.js';
import { type Watch, step } from '../base/watch.js';
import { hanging, onTable, prepare } from '../overhang/overhang.js';

export interface DirectionSet {
  readonly directions: readonly Vec3[];
  /** What hangs in every direction of the set, mm2. */
  readonly unsupportedMm2: number;
  /** True if no other set of as many candidates leaves less. */
  readonly exact: boolean;
}

/** What hangs in each candidate direction. */
export interface Cover {
  /** mm2 per facet. */
  readonly areas: Float64Array;
  /** Facets that hang in candidate i, rising. */
  readonly lists: readonly Uint32Array[];
  /** The same as flags. */
  readonly flags: readonly Uint8Array[];
}

/** Less is no gain, mm2: sums of areas in another order differ by rounding. */
const NO_GAIN = 1e-6;

/** @param part closed, on the table @param theta rad @param foot mm */
export function coverOf(
  part: Mesh,
  candidates: readonly Vec3[],
  theta: number,
  foot: number,
): Cover {
  const prepared = prepare(part);
  const carried = onTable(part, foot);
  const flags = candidates.map((d) => hanging(prepared, d, theta, carried).facets);
  return { areas: prepared.areas, flags, lists: flags.map(listed) };
}

function listed(flags: Uint8Array): Uint32Array {
  const out: number[] = [];
  for (let t = 0; t < flags.length; t++) if (flags[t]) out.push(t);
  return Uint32Array.from(out);
}

/**
 * Sets of 1, 2, ... `most` directions; ends early when nothing is left or nothing more is gained.
 * @param candidates as many as the cover has
 */
export function smallestSets(
  cover: Cover,
  candidates: readonly Vec3[],
  most: number,
  watch?: Watch,
): DirectionSet[] {
  const out: DirectionSet[] = [];
  let members: number[] = [];
  for (let k = 1; k <= Math.min(most, candidates.length); k++) {
    step(watch, 'sets', k - 1, most);
    const before = out.at(-1);
    const found =
      k === 1 ? bestOne(cover) : k === 2 ? bestPair(cover, watch) : grown(cover, members);
    const left = leftBy(cover, found);
    if (before && left > before.unsupportedMm2 - NO_GAIN) break;
    members = found;
    out.push({
      directions: members.map((i) => candidates[i]!),
      unsupportedMm2: left,
      exact: k <= 2,
    });
    if (left <= NO_GAIN) break;
  }
  return out;
}

/** Area of what hangs in all of the members, mm2. */
export function leftBy({ areas, lists, flags }: Cover, members: readonly number[]): number {
  const [first, ...others] = members;
  if (first === undefined) return areas.reduce((sum, a) => sum + a, 0);
  let sum = 0;
  for (const t of lists[first]!) {
    let all = true;
    for (const i of others) {
      if (!flags[i]![t]) {
        all = false;
        break;
      }
    }
    if (all) sum += areas[t]!;
  }
  return sum;
}

function bestOne(cover: Cover): number[] {
  return leastOf(
    cover.lists.map((_, i) => [i]),
    cover,
  );
}

function leastOf(sets: readonly number[][], cover: Cover): number[] {
  let best = sets[0]!;
  let least = Infinity;
  for (const set of sets) {
    const left = leftBy(cover, set);
    if (left < least - NO_GAIN) [best, least] = [set, left];
  }
  return best;
}

function bestPair(cover: Cover, watch: Watch | undefined): number[] {
  const { areas, lists, flags } = cover;
  let best = [0, 1];
  let least = Infinity;
  for (let i = 0; i < lists.length; i++) {
    step(watch, 'pairs', i, lists.length);
    for (let j = i + 1; j < lists.length; j++) {
      const [list, other] =
        lists[i]!.length <= lists[j]!.length ? [lists[i]!, flags[j]!] : [lists[j]!, flags[i]!];
      let left = 0;
      for (let k = 0; k < list.length && left < least; k++) {
        if (other[list[k]!]) left += areas[list[k]!]!;
      }
      if (left < least - NO_GAIN) [best, least] = [[i, j], left];
    }
  }
  return best;
}

/** The best addition to the members; then exchanges of one member at a time, until none helps. */
function grown(cover: Cover, members: readonly number[]): number[] {
  let set = withBest(cover, members);
  let left = leftBy(cover, set);
  for (let better = true; better;) {
    better = false;
    for (let i = 0; i < set.length; i++) {
      const other = withBest(
        cover,
        set.filter((_, k) => k !== i),
      );
      const leaves = leftBy(cover, other);
      if (leaves < left - NO_GAIN) [set, left, better] = [other, leaves, true];
    }
  }
  return set;
}

/** The members and the candidate that supports most of what they leave. */
function withBest({ areas, lists, flags }: Cover, members: readonly number[]): number[] {
  const rest = [...lists[members[0]!]!].filter((t) => members.every((i) => flags[i]![t]));
  let best = 0;
  let most = -1;
  for (let j = 0; j < flags.length; j++) {
    let gain = 0;
    for (const t of rest) if (!flags[j]![t]) gain += areas[t]!;
    if (gain > most + NO_GAIN) [best, most] = [j, gain];
  }
  return [...members, best];
}
