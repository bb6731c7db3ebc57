/**
 * How few build directions a plan gets by with: the table normal alone, then the direction that helps
 * a quick plan most is added, up to `most` directions. Where the sets of `sets.ts` say what no plan
 * can beat, these say what a plan with so many directions does reach, cuts and head counted. A
 * direction may serve several regions.
 *
 * Added one at a time and never taken back: where only two new directions together help, it ends
 * early. Every pair would be thousands of searches.
 */
import type { Mesh } from '../base/mesh.js';
import { type Vec3, dot } from '../base/vector.js';
import { type Watch, step } from '../base/watch.js';
import type { SearchLimits } from '../regions/limits.js';
import type { RegionRules } from '../regions/rules.js';
import { directionsFor } from '../regions/ways.js';
import { steerRules } from '../regions/steer.js';
import { DIRECTIONS, NOTHING, type RunUnder, cheap } from './sweeps.js';

export interface PlannedSet {
  /** The table normal first, then in the order in which they were added. */
  readonly directions: readonly Vec3[];
  /** Left by a quick plan that builds along these alone, mm2. */
  readonly unsupportedMm2: number;
}

const UP: Vec3 = [0, 0, 1];
/** Directions nearer than this (cosine) are the same. */
const SAME = 1 - 1e-9;
/** An addition that supports less is none, mm2. */
const GAIN = 0.2;

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
  const leaves = async (set: readonly Vec3[]): Promise<number> => {
    const only = steerRules.parse({ only: set });
    const way = { lean: false, tolerant: false, quick: false, faces: false };
    const setting = { rules: { ...cheap(rules), steer: only }, way };
    return (await run({ mesh: small, faces: [], setting })).cost;
  };
  let set: readonly Vec3[] = [UP];
  const out = [{ directions: set, unsupportedMm2: await leaves(set) }];
  for (let k = 2; k <= most; k++) {
    const before = out.at(-1)!.unsupportedMm2;
    if (before <= NOTHING) break;
    const fresh = candidates.filter((d) => !set.some((e) => dot(d, e) > SAME));
    let done = 0;
    const left = await Promise.all(
      fresh.map(async (d) => {
        const mm2 = await leaves([...set, d]);
        step(watch, `${k} directions`, ++done, fresh.length);
        return mm2;
      }),
    );
    const best = left.reduce((b, mm2, i) => (mm2 < left[b]! ? i : b), 0);
    if (!(left[best]! < before - GAIN)) break;
    set = [...set, fresh[best]!];
    out.push({ directions: set, unsupportedMm2: left[best]! });
  }
  return out;
}
