import type { PolygonKernel } from '../../lib/kernel/polygon.js';
import type { Layers } from '../../lib/layers/layers.js';
import {
  type LayerHanging,
  type SupportRules,
  hangingOf,
  joinedHanging,
} from '../../lib/layers/unsupported.js';
import type { Region } from '../../lib/regions/region.js';

/**
 * What the layers of a whole part leave unsupported.
 * @param regions in printing order
 * @param layers of each region, same order
 */
export function unsupportedFromLayers(
  regions: readonly Region[],
  layers: readonly Layers[],
  rules: SupportRules,
  kernel: PolygonKernel,
): LayerHanging {
  return joinedHanging(regions.map((_, r) => hangingOf(regions, r, layers[r]!, rules, kernel)));
}
