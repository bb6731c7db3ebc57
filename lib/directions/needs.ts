/**
 * What a part needs, and what several parts need of one machine: for each placed part the map over the
 * sphere, the smallest sets, a plan and the sweeps, and for all of them one table per limit.
 */
import type { Mesh } from '../base/mesh.js';
import { DEG } from '../base/vector.js';
import type { Watch } from '../base/watch.js';
import type { SolidKernel } from '../kernel/solid.js';
import type { Machine } from '../machine/machine.js';
import { searchLimits } from '../regions/search/machine-limits.js';
import {
  type RegionPlan,
  type SearchRunner,
  searchedPlan,
  planRegions,
  replayed,
  simplified,
} from '../regions/plan-regions.js';
import { forSearch } from '../regions/search/search-mesh.js';
import { directionsFor } from '../regions/search/search-variants.js';
import { planField } from '../field/plan-field.js';
import { type Limit, limitsFor } from './changed-limits.js';
import { type CurvedTilts, type GrowField, type NeedsRules, curvedTilts } from './curved-tilts.js';
import { type DirectionMap, mapDirections } from './direction-map.js';
import { type PlannedSet, plannedSets } from './planned.js';
import { type DirectionSet, coverOf, smallestSets } from './sets.js';
import { type RunUnder, type LimitPoint, type LimitSweep, radiiOf, sweepLimits } from './sweeps.js';
import { type Need, curvedSentence, needOf, sentence } from './sweep-words.js';

/** The build directions that one part needs, and what they ask of a machine. */
export interface PartNeeds {
  readonly name: string;
  /** With all the settings of the job; its `part` is the part in its pose, on which all else stands. */
  readonly plan: RegionPlan;
  readonly map: DirectionMap;
  readonly sets: readonly DirectionSet[];
  /** The same with cuts and head counted: what a quick plan along so many directions leaves. */
  readonly planned: readonly PlannedSet[];
  /** Candidates among which the sets were chosen. */
  readonly candidates: number;
  /** Triangles of the mesh on which the sets were found. */
  readonly setTriangles: number;
  /** Triangles of the mesh on which the sweeps were searched. */
  readonly sweepTriangles: number;
  readonly sweeps: readonly LimitSweep[];
  /** What curved layers would leave at the values of the sweep of the tilt. */
  readonly curved: CurvedTilts;
  readonly needs: readonly Need[];
  /** One sentence per sweep; of the tilt more where curved layers have something to say. */
  readonly words: readonly string[];
  /** Least table radius on which the part stands, mm. */
  readonly footprintMm: number;
}

/** One limit over all parts. */
export interface Demand {
  readonly limit: Limit;
  /** Sum over the parts, undefined where one of them does not stand. */
  readonly sweep: LimitSweep;
  /** Of the tilt: the same in curved layers. */
  readonly curved?: CurvedTilts;
  /** Index of the part that asks most, and what it asks; undefined where none asks anything. */
  readonly most?: { readonly part: number; readonly need: Need };
  readonly words: string;
}

/** The searches of a plan, those of a sweep under a changed limit of the machine, and fields of the part. */
export interface SearchingUnder extends SearchRunner {
  readonly search: RunUnder;
  readonly grow: GrowField;
}

/** Tools of the study of a part. */
export interface NeedsTools {
  readonly kernel: SolidKernel;
  /** Does the searches, of the plan and under changed limits; left out: this thread. */
  readonly work?: SearchingUnder;
  readonly watch?: Watch;
  /** Awaited between searches, so that the caller's thread can hear a wish to stop. */
  readonly pause?: () => Promise<void>;
}

/** Directions of the map. */
export const MAP_COUNT = 1500;
/** Largest set. */
export const LARGEST_SET = 6;
/** Triangles above which the part is simplified for the sets, whose pairs cost candidates squared. */
const SET_DETAIL = 20_000;

/** @param part closed, on the table @throws the signal's reason when cancelled */
export async function studyPart(
  name: string,
  part: Mesh,
  machine: Machine,
  wanted: NeedsRules,
  { kernel, work = here(machine), watch, pause }: NeedsTools,
): Promise<PartNeeds> {
  const rules = wanted.regions;
  const limits = searchLimits(machine, rules.tilt);
  const plan = await planRegions(part, limits, rules, { kernel, watch, work });
  await pause?.();
  const posed = plan.part;
  const theta = rules.overhang * DEG;
  const map = mapDirections(posed, limits, { theta, foot: rules.foot, count: MAP_COUNT }, watch);
  await pause?.();
  const simplify = (mesh: Mesh, triangles: number): Promise<Mesh> =>
    work.simplify({ mesh, triangles });
  const coarse = await simplify(posed, SET_DETAIL);
  const candidates = directionsFor(posed, limits, rules.directions);
  const cover = coverOf(coarse, candidates, theta, rules.foot);
  const sets = smallestSets(cover, candidates, LARGEST_SET, watch);
  await pause?.();
  const small = forSearch(await simplify(coarse, rules.detail), rules.detail);
  const { footprint: footprintMm } = radiiOf(posed, rules.foot);
  const planned = await plannedSets(small, limits, rules, LARGEST_SET, work.search, watch);
  const sweeps = await sweepLimits(small, machine, rules, work.search, watch);
  await pause?.();
  const curved = await curvedTilts(small, machine, wanted, sweeps[0]!, work.grow, watch);
  return {
    name,
    plan,
    map,
    sets,
    planned,
    candidates: candidates.length,
    setTriangles: coarse.triangles.length / 3,
    sweepTriangles: small.triangles.length / 3,
    sweeps,
    curved,
    needs: sweeps.flatMap((s) => needOf(s) ?? []),
    words: sweeps.map((s) => wordsOf(s, 'this part', footprintMm, curved)),
    footprintMm,
  };
}

/** Searches on the calling thread. */
const here = (machine: Machine): SearchingUnder => ({
  search: (spec, under) =>
    Promise.resolve(searchedPlan(spec, limitsFor(machine, spec.setting.rules.tilt, under))),
  replay: (spec) => Promise.resolve(replayed(spec, limitsFor(machine, spec.setting.rules.tilt))),
  simplify: (spec) => Promise.resolve(simplified(spec)),
  // A refusal is a rejection here too.
  grow: (mesh, rules) => Promise.resolve().then(() => planField(mesh, machine, rules)),
});

/** What one machine must offer for all parts, limit by limit. */
export function demandOf(parts: readonly PartNeeds[]): Demand[] {
  return parts[0]!.sweeps.map((first, s): Demand => {
    const { limit } = first;
    const sweep: LimitSweep = { ...first, points: sumOf(parts.map((p) => p.sweeps[s]!.points)) };
    const footprint = Math.max(...parts.map((p) => p.footprintMm));
    const who = parts.length > 1 ? 'all parts' : 'this part';
    const curved = curvedOf(parts);
    const words = wordsOf(sweep, who, footprint, curved);
    const most = mostOf(parts, first);
    return { limit, sweep, words, ...(most && { most }), ...(limit === 'tilt' && { curved }) };
  });
}

/** Of several parts at the same values; undefined where one of them has no figure. */
function sumOf(each: readonly (readonly LimitPoint[])[]): LimitPoint[] {
  return each[0]!.map(({ value }, i) => {
    const areas = each.map((points) => points[i]!.unsupportedMm2);
    const known = areas.filter((x) => x !== undefined);
    const whole = known.length === areas.length;
    return { value, unsupportedMm2: whole ? known.reduce((a, b) => a + b, 0) : undefined };
  });
}

function curvedOf(parts: readonly PartNeeds[]): CurvedTilts {
  const refused = parts.flatMap(({ name, curved }) =>
    curved.refused ? [parts.length > 1 ? `${name}: ${curved.refused}` : curved.refused] : [],
  );
  return {
    points: sumOf(parts.map((p) => p.curved.points)),
    ...(refused.length > 0 && { refused: refused.join('; ') }),
  };
}

function wordsOf(sweep: LimitSweep, who: string, footprint: number, curved: CurvedTilts): string {
  const words = sentence(sweep, who);
  if (sweep.limit === 'table')
    return `${words} To stand on, ${footprint.toFixed(1)} mm are enough.`;
  return sweep.limit === 'tilt' ? words + curvedSentence(curved, sweep, who) : words;
}

/** The part whose need lies farthest towards the lax end; of equals the one that gains more by it. */
function mostOf(
  parts: readonly PartNeeds[],
  { limit, points }: LimitSweep,
): { part: number; need: Need } | undefined {
  const place = (need: Need): number => points.findIndex((p) => p.value === need.value);
  const gain = (need: Need): number => need.strictestMm2 - need.unsupportedMm2;
  let best: { part: number; need: Need } | undefined;
  parts.forEach((p, part) => {
    const need = p.needs.find((n) => n.limit === limit);
    if (!need || need.first) return;
    const more = best ? place(need) - place(best.need) || gain(need) - gain(best.need) : Infinity;
    if (more > 0) best = { part, need };
  });
  return best;
}
