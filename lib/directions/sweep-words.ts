/**
 * What a sweep shows, as a sentence made from its points and the stated rule: a value is enough if what it
 * leaves is within ENOUGH of the least that any value leaves.
 */
import type { Limit } from './changed-limits.js';
import type { CurvedTilts } from './curved-tilts.js';
import { type LimitSweep, type LimitPoint, NOTHING_LEFT } from './sweeps.js';

/** Within this of the least counts as the least: the larger of mm2 and share of it. */
export const ENOUGH = { mm2: 1, share: 0.01 } as const;

export interface Need {
  readonly limit: Limit;
  /** The strictest value that is enough, in the unit of the sweep. */
  readonly value: number;
  readonly unsupportedMm2: number;
  /** Left at the strictest value on which the part stands, mm2. */
  readonly strictestMm2: number;
  /** True if the strictest value that was tried is already enough. */
  readonly first: boolean;
  /** True if only the laxest value that was tried is enough: more might gain still. */
  readonly last: boolean;
}

interface Known {
  readonly value: number;
  readonly unsupportedMm2: number;
}

/** The strictest value that is enough; undefined if the part stands on none, or nothing was swept. */
export function needOf({ limit, points }: LimitSweep): Need | undefined {
  const known = points.filter((p): p is Known & LimitPoint => p.unsupportedMm2 !== undefined);
  const strictest = known[0];
  if (!strictest) return undefined;
  const least = Math.min(...known.map((p) => p.unsupportedMm2));
  const enough = least + Math.max(ENOUGH.mm2, ENOUGH.share * least);
  const at = known.findIndex((p) => p.unsupportedMm2 <= enough);
  return {
    limit,
    value: known[at]!.value,
    unsupportedMm2: known[at]!.unsupportedMm2,
    strictestMm2: strictest.unsupportedMm2,
    first: at === 0,
    last: at > 0 && at === known.length - 1,
  };
}

const area = (mm2: number): string => `${mm2.toFixed(1)} mm2`;

/** The value of a sweep as people read it. */
export function valueText(limit: Limit, value: number): string {
  switch (limit) {
    case 'rotary':
      return value === 0 ? 'fixed' : value === Infinity ? 'endless' : `${value} deg`;
    case 'tilt':
    case 'cone':
      return `${value} deg`;
    case 'table':
    case 'head':
      return `${value} mm`;
  }
}

/** @param who such as 'this part' or 'all parts' */
export function sentence(sweep: LimitSweep, who: string): string {
  const need = needOf(sweep);
  if (!need) {
    return sweep.points.length === 0
      ? 'The machine has no joint that turns about the table normal, so its range was not swept.'
      : `No table that was tried holds ${who}; the largest has a radius of ${sweep.points[0]!.value} mm.`;
  }
  const value = valueText(sweep.limit, need.value);
  const left = area(need.unsupportedMm2);
  const gain = `${area(need.strictestMm2)} at ${valueText(sweep.limit, strictestOf(sweep))}`;
  switch (sweep.limit) {
    case 'tilt':
      if (need.first) return `Tilting gains nothing for ${who}: ${left} hang with and without.`;
      return need.last
        ? `The largest tilt that was tried, ${value}, leaves least for ${who} (${left}, against ${gain}): more might gain still.`
        : `A tilt of ${value} is enough for ${who}: it leaves ${left}, against ${gain}, and beyond it nothing is gained.`;
    case 'rotary':
      if (need.first) {
        return `A table that does not turn is enough for ${who}: ${left} hang, and turning gains nothing.`;
      }
      return need.value === Infinity
        ? `${cap(who)} gains from a table that turns without end: it leaves ${left}, against ${gain}.`
        : `A turning range of ${value} is enough for ${who}: it leaves ${left}, against ${gain}, and beyond it nothing is gained. Past one turn no new direction is reached; a turn limit costs only the way back.`;
    case 'table':
      return need.first
        ? `The table is not in the way of ${who}: with a radius of ${value} ${left} hang, and a smaller one gains nothing.`
        : `A table no larger than ${value} in radius lets the head low enough for ${who}: it leaves ${left}, against ${gain}.`;
    case 'cone':
    case 'head': {
      const what = sweep.limit === 'cone' ? 'A cone of half-angle' : 'A head of radius';
      if (need.first) {
        return `${what} ${value} is slim enough for ${who}: ${left} hang, and slimmer gains nothing.`;
      }
      return need.last
        ? `The slimmest head that was tried, ${value}, leaves least for ${who} (${left}, against ${gain}): slimmer might gain still.`
        : `${what} ${value} is slim enough for ${who}: it leaves ${left}, against ${gain}, and slimmer gains nothing.`;
    }
  }
}

/**
 * What curved layers gain beside flat regions, to follow the sentence of the tilt; empty where flat layers leave nothing.
 * @param flat the sweep of the tilt
 */
export function curvedSentence(
  { points, refused }: CurvedTilts,
  flat: LimitSweep,
  who: string,
): string {
  const upright = flat.points[0]?.unsupportedMm2 ?? 0;
  if (upright <= NOTHING_LEFT) return '';
  const need = needOf({ ...flat, points });
  const not = refused ? ` Not grown at every limit: ${refused}.` : '';
  if (!need || need.first) return ` Curved layers gain nothing for ${who}.${not}`;
  const beside = flat.points.find(({ value }) => value === need.value)!.unsupportedMm2!;
  return ` Curved layers, by facets too, leave ${area(need.unsupportedMm2)} at ${valueText('tilt', need.value)}, where flat regions leave ${area(beside)}.${not}`;
}

const strictestOf = ({ points }: LimitSweep): number =>
  points.find((p) => p.unsupportedMm2 !== undefined)!.value;

const cap = (text: string): string => text[0]!.toUpperCase() + text.slice(1);
