/**
 * The small map of build directions for the page: what hangs of the part in its pose, as a PNG with its
 * scale.
 */
import { encode } from 'fast-png';
import type { Mesh } from '../../base/mesh.js';
import { DEG } from '../../base/vector.js';
import type { Watch } from '../../base/watch.js';
import { mapDirections } from '../../directions/direction-map.js';
import type { Machine } from '../../machine/machine.js';
import { searchLimits } from '../../regions/search/machine-limits.js';
import type { RegionRules } from '../../regions/rules.js';
import { drawDisc } from '../../directions/disc.js';
import type { PageMap } from './page-head.js';

/** Directions of the map: at its size on the page a cell of more would be a few pixels wide. */
const COUNT = 500;
/** Side, pixels. */
const MAP_PIXELS = 480;

export function pageMap(part: Mesh, machine: Machine, rules: RegionRules, watch?: Watch): PageMap {
  const limits = searchLimits(machine, rules.tilt);
  const theta = rules.overhang * DEG;
  const map = mapDirections(part, limits, { theta, foot: rules.foot, count: COUNT }, watch);
  const mostMm2 = map.areas.reduce((a, b) => Math.max(a, b), 1e-9);
  const data = drawDisc(map, limits.canReach, { size: MAP_PIXELS, most: mostMm2 });
  const png = encode({ width: MAP_PIXELS, height: MAP_PIXELS, data, channels: 4, depth: 8 });
  return { image: `data:image/png;base64,${Buffer.from(png).toString('base64')}`, mostMm2 };
}
