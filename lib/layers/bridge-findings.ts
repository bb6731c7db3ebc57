/**
 * Findings about bridges: which of the plan's findings still hold once the layers are known, and what
 * is bridged.
 */
import type { Finding } from '../base/fault.js';
import type { LayerHanging } from './unsupported.js';

/** Less than this counts as nothing, mm2. */
export const LEAST_HANGING = 0.01;

/**
 * Where all that hangs in a region's layers is bridged, the warning from its facets is dropped and the
 * bridge reported instead.
 */
export function bridgeFindings(
  findings: readonly Finding[],
  { byRegion, bridges }: LayerHanging,
): Finding[] {
  const notes = [...byRegion.keys()].flatMap((region): Finding[] => {
    const own = bridges.filter((b) => b.region === region);
    if (own.length === 0) return [];
    const mm2 = own.reduce((sum, b) => sum + b.mm2, 0);
    const longest = own.reduce((a, b) => (b.spanMm > a.spanMm ? b : a));
    return [
      {
        code: 'layers/bridged',
        severity: 'note',
        message: `${mm2.toFixed(1)} mm2 of region ${region + 1} is bridged, at most ${longest.spanMm.toFixed(1)} mm from end to end`,
        at: { region, layer: longest.layer, point: longest.point, frame: 'part' },
      },
    ];
  });
  const carried = (region: number): boolean =>
    byRegion[region]! < LEAST_HANGING && bridges.some((b) => b.region === region);
  const stays = findings.filter(
    ({ code, at }) => !(code.startsWith('regions/unsupported-') && carried(at?.region ?? -1)),
  );
  return [...stays, ...notes];
}
