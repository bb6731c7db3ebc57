/** What parts need, in a few lines on the output stream. */
import type { Demand, PartNeeds } from '../lib/index.js';
import type { LimitSweep } from '../lib/directions/sweeps.js';
import { valueText } from '../lib/directions/sweep-words.js';

export function directionsLines(parts: readonly PartNeeds[], demands: readonly Demand[]): string[] {
  const each = parts.flatMap((part) => [...partLines(part), '']);
  if (parts.length === 1) return each.slice(0, -1);
  return [...each, 'a machine for all of them:', ...demands.flatMap((d) => demandLines(d, parts))];
}

function partLines({ name, plan, sets, planned, sweeps, curved, words }: PartNeeds): string[] {
  const u = plan.unsupported;
  return [
    `${name}: unsupported as placed ${u.asPlacedMm2.toFixed(1)} mm2, best single direction ${u.bestSingleDirectionMm2.toFixed(1)} mm2, planned in ${plan.regions.length} regions ${u.plannedMm2.toFixed(1)} mm2`,
    'smallest sets, at least so much stays (cuts, head and order left aside):',
    setLine(sets),
    'directions of a quick plan, so much stays:',
    setLine(planned),
    ...sweeps.flatMap((sweep, i) => [
      ...(sweep.points.length ? [row(sweep)] : []),
      ...(sweep.limit === 'tilt' ? [curvedRow(curved)] : []),
      `  ${words[i]}`,
    ]),
  ];
}

const setLine = (sets: PartNeeds['planned']): string =>
  `  ${sets.map((s) => `${s.directions.length}: ${s.unsupportedMm2.toFixed(1)} mm2`).join(' | ')}`;

function demandLines(
  { sweep, curved, most, words }: Demand,
  parts: readonly PartNeeds[],
): string[] {
  const asks = most
    ? ` ${parts[most.part]!.name} asks most: ${valueText(sweep.limit, most.need.value)}.`
    : '';
  return [
    ...(sweep.points.length ? [row(sweep)] : []),
    ...(curved ? [curvedRow(curved)] : []),
    `  ${words}${asks}`,
  ];
}

function row({ limit, points }: LimitSweep): string {
  const cells = points.map(
    ({ value, unsupportedMm2 }) =>
      `${valueText(limit, value)} ${unsupportedMm2 === undefined ? 'does not stand' : unsupportedMm2.toFixed(1)}`,
  );
  return `${limit}: ${cells.join(' | ')}`;
}

const curvedRow = ({ points }: PartNeeds['curved']): string =>
  `in curved layers: ${points.map(({ value, unsupportedMm2 }) => `${valueText('tilt', value)} ${unsupportedMm2!.toFixed(1)}`).join(' | ')}`;
