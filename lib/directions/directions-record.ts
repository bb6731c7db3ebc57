/**
 * What parts need as the JSON that people and scripts read: degrees, mm2, an endless joint as text, the
 * rule behind each sentence stated beside it.
 */
import { DEG, type Vec3 } from '../base/vector.js';
import type { Demand, PartNeeds } from './needs.js';
import type { CurvedTilts } from './curved-tilts.js';
import { type LimitPoint, type LimitSweep, cheap } from './sweeps.js';
import { ENOUGH, type Need } from './sweep-words.js';
import type { Machine } from '../machine/machine.js';
import { reachOf } from '../machine/reachable-directions.js';
import type { RegionRules } from '../regions/rules.js';

export interface DirectionsRun {
  readonly version: string;
  readonly seconds: number;
}

/** @returns a plain record, ready for JSON */
export function directionsRecord(
  parts: readonly PartNeeds[],
  demands: readonly Demand[],
  machine: Machine,
  rules: RegionRules,
  { version, seconds }: DirectionsRun,
): object {
  const reach = reachOf(machine);
  const { effort, children, directions, lean, tolerance } = cheap(rules);
  return {
    version,
    machine: machine.name,
    reach: {
      everyTiltDeg: rounded(reach.everyTilt / DEG),
      greatestTiltDeg: rounded(reach.greatestTilt / DEG),
    },
    settings: rules,
    sweepSearch: {
      note: 'quick searches that compare limits; what is found under a stricter limit counts under every laxer one',
      effort,
      children,
      directions,
      lean,
      tolerance,
    },
    enough: {
      rule: 'the strictest value that leaves no more than the least of the sweep and the larger of',
      ...ENOUGH,
    },
    parts: parts.map(partRecord),
    ...(parts.length > 1 ? { together: demands.map((d) => demandRecord(d, parts)) } : {}),
    seconds: rounded(seconds),
  };
}

function partRecord(part: PartNeeds): object {
  const { plan, map, sets, planned } = part;
  return {
    name: part.name,
    triangles: plan.part.triangles.length / 3,
    footprintMm: rounded(part.footprintMm),
    unsupported: plan.unsupported,
    partFromGiven: [...plan.partFromGiven],
    regions: plan.regions.map((r) => ({
      ...directionRecord(r.direction),
      unsupportedMm2: rounded(r.unsupportedArea),
    })),
    sets: {
      note: 'a facet is supported if one direction of the set supports it: a lower bound, cuts, head and order left aside',
      candidates: part.candidates,
      triangles: part.setTriangles,
      of: sets.map((s) => ({
        count: s.directions.length,
        unsupportedMm2: rounded(s.unsupportedMm2),
        bestOfAllCandidates: s.exact,
        directions: s.directions.map(directionRecord),
      })),
    },
    plannedSets: {
      note: 'left by a quick plan that builds along these directions alone, added one at a time',
      of: planned.map((s) => ({
        count: s.directions.length,
        unsupportedMm2: rounded(s.unsupportedMm2),
        directions: s.directions.map(directionRecord),
      })),
    },
    sweepTriangles: part.sweepTriangles,
    sweeps: part.sweeps.map((s, i) => ({
      ...sweepRecord(s),
      ...(s.limit === 'tilt' ? { curvedLayers: curvedRecord(part.curved) } : {}),
      words: part.words[i],
    })),
    needs: part.needs.map(needRecord),
    map: {
      weightSr: map.weight,
      directions: map.directions.map((d) => d.map(rounded)),
      areasMm2: [...map.areas].map(rounded),
      reachable: [...map.reachable],
    },
  };
}

function demandRecord({ sweep, curved, most, words }: Demand, parts: readonly PartNeeds[]): object {
  return {
    ...sweepRecord(sweep),
    ...(curved ? { curvedLayers: curvedRecord(curved) } : {}),
    words,
    ...(most ? { asksMost: { part: parts[most.part]!.name, ...needRecord(most.need) } } : {}),
  };
}

const sweepRecord = ({ limit, unit, points }: LimitSweep): object => ({
  limit,
  unit,
  points: pointsRecord(points),
});

const curvedRecord = ({ points, refused }: CurvedTilts): object => ({
  note: 'the part as one piece of layers that are the level sets of a field, counted by facets as the others are',
  points: pointsRecord(points),
  ...(refused ? { refused } : {}),
});

const pointsRecord = (points: readonly LimitPoint[]): object[] =>
  points.map(({ value, unsupportedMm2 }) => ({
    value: finite(value),
    unsupportedMm2: unsupportedMm2 === undefined ? null : rounded(unsupportedMm2),
  }));

const needRecord = (need: Need): object => ({
  limit: need.limit,
  value: finite(need.value),
  unsupportedMm2: rounded(need.unsupportedMm2),
  onlyTheLaxestTried: need.last,
});

function directionRecord(direction: Vec3): object {
  const [x, y, z] = direction;
  return {
    direction: direction.map(rounded),
    tiltDeg: rounded(Math.acos(Math.max(-1, Math.min(1, z))) / DEG),
    azimuthDeg: rounded(Math.atan2(y, x) / DEG),
  };
}

const finite = (value: number): number | 'endless' => (value === Infinity ? 'endless' : value);
/** Six digits after the point: far finer than any of it is known. */
const rounded = (x: number): number => Number(x.toFixed(6)) + 0;
