/**
 * What a part needs of a machine: one limit at a time is swept, all others are those of the given machine,
 * and what a plan leaves unsupported is found for each value.
 *
 * The search is a cheap one (`cheap` below, stated in the result) on the simplified part, the same for
 * every value, so the curves compare limits and are no forecast of the full search. It is greedy and may do
 * worse under a laxer limit; but whatever is found under a stricter limit is a plan under every laxer one,
 * so each value takes the least of its own and all stricter ones. For the same reason the other limits are
 * searched once with all tilts and once with no more than the least tilt that was best: fewer directions
 * lead a greedy search less astray. Once nothing is left, laxer values are not searched.
 */
import type { Mesh } from '../base/mesh.js';
import { DEG } from '../base/vector.js';
import { type Watch, step } from '../base/watch.js';
import type { Machine } from '../machine/machine.js';
import { bounds } from '../mesh/measure.js';
import { evenDirections } from '../base/even-directions.js';
import type { SearchLimits } from '../regions/search/machine-limits.js';
import { uncut } from '../mesh/cut/cut.js';
import type { FoundPlan, SearchSpec } from '../regions/plan-regions.js';
import type { RegionRules } from '../regions/rules.js';
import { steerRules } from '../regions/requests/steer.js';
import type { SearchVariant } from '../regions/search/search-variants.js';
import { type Limit, type Under, limitsUnder, turningJoint } from './changed-limits.js';

export interface LimitPoint {
  /** In the unit of the sweep; Infinity for an endless joint. */
  readonly value: number;
  /** Left by the plan, mm2; undefined where the part does not stand on the table. */
  readonly unsupportedMm2: number | undefined;
}

export interface LimitSweep {
  readonly limit: Limit;
  readonly unit: 'deg' | 'mm';
  /** From the strictest value to the laxest. */
  readonly points: readonly LimitPoint[];
}

interface LimitTrial extends Under {
  readonly limits: SearchLimits;
  readonly directions: number;
  readonly stands: boolean;
}

/** Runs one search somewhere, under a changed limit of the machine if one is given. */
export type RunUnder = (spec: SearchSpec, under?: Under) => Promise<FoundPlan>;

const SWEPT_TILTS = [0, 15, 30, 45, 60, 75, 90, 105, 120];
const SWEPT_RANGES = [0, 180, 360, Infinity];
const SWEPT_TABLES = [150, 120, 100, 80, 60, 50, 40, 30];
const SWEPT_CONES = [75, 60, 50, 40, 30, 20, 10];
const SWEPT_HEADS = [60, 40, 30, 20, 15, 10, 5];

/** Even directions of a search; for a fixed joint more, of which only those near one plane are left. */
export const DIRECTIONS = 120;
const FIXED_DIRECTIONS = 2000;

/**
 * The rules of every search of a sweep: what the job says about the part, a cheap search otherwise, and
 * nothing of what the user asks of the plan.
 */
export const cheap = (rules: RegionRules): RegionRules => ({
  ...rules,
  pose: 'given',
  effort: 12,
  children: 3,
  directions: DIRECTIONS,
  lean: 0,
  steer: steerRules.parse({}),
});

/**
 * The sweep of the tilt comes first; those of the other limits, each from strict to lax, run side by
 * side.
 * @param small the part on the table, simplified
 */
export async function sweepLimits(
  small: Mesh,
  machine: Machine,
  rules: RegionRules,
  run: RunUnder,
  watch?: Watch,
): Promise<LimitSweep[]> {
  const all = trialsOf(small, machine, rules);
  const total = all.reduce((sum, { trials }) => sum + trials.length, 0);
  let done = 0;
  step(watch, 'sweeps', 0, total);
  const sweep = async ({ limit, unit, trials }: Trials, enough?: number): Promise<LimitSweep> => {
    const points: LimitPoint[] = [];
    let least: number | undefined;
    let before: string | undefined;
    for (const trial of trials) {
      const print = printOf(trial.limits);
      const same = least !== undefined && print === before;
      before = print;
      const tilts =
        enough === undefined ? [rules.tilt] : [rules.tilt, Math.min(rules.tilt, enough)];
      for (const tilt of trial.stands && !same ? tilts : []) {
        if (least !== undefined && least <= NOTHING_LEFT) break;
        const { directions, value, extent } = trial;
        const searched = { ...cheap(rules), tilt, directions };
        const left = await leftUnder(small, searched, run, { limit, value, extent });
        least = Math.min(least ?? Infinity, left);
      }
      points.push({ value: trial.value, unsupportedMm2: trial.stands ? least : undefined });
      step(watch, 'sweeps', ++done, total);
    }
    return { limit, unit, points };
  };
  const [first, ...others] = all;
  const tilt = await sweep(first!);
  const least = Math.min(...tilt.points.map((p) => p.unsupportedMm2!));
  const enough = tilt.points.find((p) => p.unsupportedMm2! <= least + NOTHING_LEFT)!.value;
  return [tilt, ...(await Promise.all(others.map((trials) => sweep(trials, enough))))];
}

/** What is left below this counts as nothing, mm2. */
export const NOTHING_LEFT = 0.005;

/**
 * The cheap variants of a search, none with leaning planes. A strict one alone failed a part whose facets
 * all hang by just the limit, some a little beyond it once simplified: a gutter elbow kept 828 mm2 that
 * way, with a little allowed to hang 4 mm2, and 0 mm2 on a finer mesh.
 */
const SEARCH_WAYS: readonly SearchVariant[] = [
  { lean: false, tolerant: false, quick: false, faces: true },
  { lean: false, tolerant: false, quick: false, faces: false },
  { lean: false, tolerant: true, quick: false, faces: false },
];

/** The least that the cheap searches leave, mm2. @param under a changed limit of the machine, if any */
export async function leftUnder(
  mesh: Mesh,
  rules: RegionRules,
  run: RunUnder,
  under?: Under,
): Promise<number> {
  // Along directions that are given there are no others, of faces or not.
  const ways = SEARCH_WAYS.filter(({ faces }) => !faces || rules.steer.only.length === 0);
  const found = await Promise.all(
    ways.map((way) => run({ part: uncut(mesh), faces: [], setting: { rules, way } }, under)),
  );
  return Math.min(...found.map(({ cost }) => cost));
}

/**
 * What limits say at many directions, tilts and heights, as text. Where the next value of a sweep says
 * the same (a table wider than the head reaches, a second half turn), its search would be the same.
 */
function printOf(limits: SearchLimits): string {
  const even = (count: number, step: number): number[] =>
    Array.from({ length: count }, (_, i) => i * step);
  return [
    evenDirections(FIXED_DIRECTIONS)
      .map((d) => (limits.canReach(d) ? 1 : 0))
      .join(''),
    even(181, DEG).map((t) => limits.leastTipHeight(t).toFixed(6)),
    JSON.stringify([limits.beside, limits.under]),
  ].join(' ');
}

interface Trials {
  readonly limit: Limit;
  readonly unit: 'deg' | 'mm';
  /** From strict to lax. */
  readonly trials: readonly LimitTrial[];
}

function trialsOf(part: Mesh, machine: Machine, rules: RegionRules): Trials[] {
  const { footprint, extent } = radiiOf(part, rules.foot);
  const of = (limit: Limit, unit: 'deg' | 'mm', values: readonly number[]): Trials => ({
    limit,
    unit,
    trials: values.map((value) => {
      const under = { limit, value, extent };
      return {
        ...under,
        limits: limitsUnder(machine, under, rules.tilt),
        directions: limit === 'rotary' && value === 0 ? FIXED_DIRECTIONS : DIRECTIONS,
        stands: limit !== 'table' || value >= footprint,
      };
    }),
  });
  return [
    of('tilt', 'deg', SWEPT_TILTS),
    of('rotary', 'deg', turningJoint(machine) === undefined ? [] : SWEPT_RANGES),
    of('table', 'mm', SWEPT_TABLES),
    of('cone', 'deg', SWEPT_CONES),
    of('head', 'mm', SWEPT_HEADS),
  ];
}

/** Greatest distance from the rotary axis of what rests on the table, and of the whole part, mm. */
export function radiiOf(part: Mesh, foot: number): { footprint: number; extent: number } {
  const v = part.vertices;
  const floor = bounds(part).least[2] + foot;
  let [footprint, extent] = [0, 0];
  for (let i = 0; i < v.length; i += 3) {
    const r = Math.hypot(v[i]!, v[i + 1]!);
    extent = Math.max(extent, r);
    if (v[i + 2]! <= floor) footprint = Math.max(footprint, r);
  }
  return { footprint, extent };
}
