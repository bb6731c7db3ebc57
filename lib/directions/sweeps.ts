/**
 * What a part needs of a machine: one limit at a time is swept, all others are those of the given
 * machine, and what a plan leaves unsupported is found for each value.
 *
 * The search is a cheap one (`cheap` below, stated in the result) on the simplified part, the same
 * for every value, so the curves compare limits and are no forecast of the full search. It is greedy
 * and may do worse under a laxer limit; but whatever is found under a stricter limit is a plan under
 * every laxer one, so each value takes the least of its own and all stricter ones. For the same reason
 * the other limits are searched once with all tilts and once with no more than the least tilt that was
 * best: fewer directions lead a greedy search less astray. Once nothing is left, laxer values are not
 * searched.
 */
import type { Mesh } from '../base/mesh.js';
import { DEG } from '../base/vector.js';
import { type Watch, step } from '../base/watch.js';
import type { Machine } from '../machine/machine.js';
import { bounds } from '../mesh/measure.js';
import { evenDirections } from '../regions/directions.js';
import { type SearchLimits, searchLimits } from '../regions/limits.js';
import { foundBy } from '../regions/plan.js';
import type { RegionRules } from '../regions/rules.js';
import { steerRules } from '../regions/steer.js';
import { coneHead, headOf, tableOf, tiltTo, turningBy, turningJoint } from './limits.js';

export type Limit = 'tilt' | 'rotary' | 'table' | 'cone' | 'head';

export interface SweepPoint {
  /** In the unit of the sweep; Infinity for an endless joint. */
  readonly value: number;
  /** Left by the plan, mm2; undefined where the part does not stand on the table. */
  readonly unsupportedMm2: number | undefined;
}

export interface Sweep {
  readonly limit: Limit;
  readonly unit: 'deg' | 'mm';
  /** From the strictest value to the laxest. */
  readonly points: readonly SweepPoint[];
}

interface Trial {
  readonly value: number;
  readonly limits: SearchLimits;
  readonly directions: number;
  readonly stands: boolean;
}

const TILTS = [0, 15, 30, 45, 60, 75, 90, 105, 120];
const RANGES = [0, 180, 360, Infinity];
const TABLES = [150, 120, 100, 80, 60, 50, 40, 30];
const CONES = [75, 60, 50, 40, 30, 20, 10];
const HEADS = [60, 40, 30, 20, 15, 10, 5];

/** Triangles of the simplified part. */
export const SWEEP_DETAIL = 2500;
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
  tolerance: 0,
  detail: SWEEP_DETAIL,
  steer: steerRules.parse({}),
});

/**
 * @param small the part on the table, simplified
 * @param pause awaited between searches, so that the caller's thread can hear a wish to stop
 */
export async function sweepLimits(
  small: Mesh,
  machine: Machine,
  rules: RegionRules,
  watch?: Watch,
  pause?: () => Promise<void>,
): Promise<Sweep[]> {
  const all = trialsOf(small, machine, rules);
  const total = all.reduce((sum, [, , trials]) => sum + trials.length, 0);
  const out: Sweep[] = [];
  let done = 0;
  let enough: number | undefined;
  for (const [limit, unit, trials] of all) {
    const points: SweepPoint[] = [];
    let least: number | undefined;
    let before: string | undefined;
    for (const trial of trials) {
      step(watch, 'sweeps', done++, total);
      await pause?.();
      const print = printOf(trial.limits);
      const same = least !== undefined && print === before;
      before = print;
      if (trial.stands && !same && !(least !== undefined && least <= NOTHING)) {
        const tried = enough === undefined ? [trial] : [trial, tilted(trial, enough)];
        for (const t of tried) {
          if (least === undefined || least > NOTHING) {
            least = Math.min(least ?? Infinity, leftUnder(small, t, rules, watch));
          }
        }
      }
      points.push({ value: trial.value, unsupportedMm2: trial.stands ? least : undefined });
    }
    out.push({ limit, unit, points });
    if (limit === 'tilt') enough = points.find((p) => p.unsupportedMm2! <= least! + NOTHING)!.value;
  }
  step(watch, 'sweeps', total, total);
  return out;
}

/** What is left counts as nothing, mm2. */
export const NOTHING = 0.005;

/** What the quick search leaves under some limits, mm2. */
export function leftUnder(
  mesh: Mesh,
  { limits, directions }: Pick<Trial, 'limits' | 'directions'>,
  rules: RegionRules,
  watch: Watch | undefined,
): number {
  const way = { lean: false, tolerant: false, quick: false, faces: false };
  const setting = { rules: { ...cheap(rules), directions }, way };
  // Progress inside one search would count something else than the sweep does.
  const quiet = watch?.signal ? { signal: watch.signal } : undefined;
  return [true, false].reduce((least, faces) => {
    if (least <= NOTHING) return least;
    const spec = { mesh, faces: [], setting: { ...setting, way: { ...way, faces } } };
    return Math.min(least, foundBy(spec, limits, quiet).cost);
  }, Infinity);
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
    even(Math.ceil(2 * limits.headTop) + 1, 0.5).map((s) => limits.keepAway(s).toFixed(6)),
  ].join(' ');
}

/** The trial with no more than a tilt, deg. */
function tilted(trial: Trial, tilt: number): Trial {
  const most = Math.cos((tilt + 1e-6) * DEG);
  const { limits } = trial;
  return {
    ...trial,
    limits: { ...limits, canReach: (d) => d[2] >= most && limits.canReach(d) },
  };
}

type Trials = readonly [Limit, 'deg' | 'mm', readonly Trial[]];

/** Every value with its limits, from strict to lax. */
function trialsOf(part: Mesh, machine: Machine, rules: RegionRules): Trials[] {
  const { tilt, foot } = rules;
  const trial = (value: number, limits: SearchLimits, stands = true): Trial => ({
    value,
    limits,
    directions: value === 0 ? FIXED_DIRECTIONS : DIRECTIONS,
    stands,
  });
  const of = (changed: Machine): SearchLimits => searchLimits(changed, tilt);
  const joint = turningJoint(machine);
  const { footprint, extent } = radiiOf(part, foot);
  const turning = joint === undefined ? [] : RANGES;
  return [
    [
      'tilt',
      'deg',
      TILTS.map((t) => ({ ...trial(t, tiltTo(machine, t)), directions: DIRECTIONS })),
    ],
    ['rotary', 'deg', turning.map((r) => trial(r, of(turningBy(machine, joint!, r))))],
    ['table', 'mm', TABLES.map((r) => trial(r, tableOf(machine, r, extent, tilt), r >= footprint))],
    ['cone', 'deg', CONES.map((g) => trial(g, of(coneHead(machine, g))))],
    ['head', 'mm', HEADS.map((r) => trial(r, of(headOf(machine, r))))],
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
