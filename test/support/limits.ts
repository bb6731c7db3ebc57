import { DEG } from '../../lib/base/vector.js';
import type { SearchLimits } from '../../lib/regions/search/machine-limits.js';

/**
 * Limits without a head: every direction up to a tilt, nothing to run into. What a part would need
 * of a machine with a head like a needle.
 * @param tilt deg
 */
export function openLimits(tilt: number): SearchLimits {
  const most = Math.cos(Math.min(180, tilt + 1e-6) * DEG);
  return {
    canReach: (d) => d[2] >= most,
    bars: () => false,
    leastTipHeight: () => 0,
    beside: [],
    under: [],
  };
}
