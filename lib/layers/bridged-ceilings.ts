/**
 * The ceilings that the search of regions need not free, since the layers of the undivided part bridge
 * them.
 */
import type { Ceiling } from '../regions/search/ceilings.js';
import { type Layers, middles } from './layers.js';
import { toPart } from './layer-map.js';
import { HALF_SLIVER, SECTION_TOLERANCE } from './slivers.js';
import type { Bridge } from './unsupported.js';

/** Sections and what is opened away of them are off by less, mm. */
const SECTION_SLACK = 2 * (SECTION_TOLERANCE + HALF_SLIVER);

/**
 * @param layers of what is built along the table normal from the table
 * @param bridges of any region
 * @param theta steepest self-supporting angle from the build direction, rad
 */
export function ceilingsOf(layers: Layers, bridges: readonly Bridge[], theta: number): Ceiling[] {
  const { map, thickness } = layers;
  const middle = middles(layers);
  return bridges
    .filter(({ region }) => region === 0)
    .map(({ layer, area }): Ceiling => {
      const z = middle[layer]!;
      const step = layer > 0 ? z - middle[layer - 1]! : thickness[0]!;
      const points = new Float64Array(area.points.length);
      for (let i = 0; i < points.length; i += 2) {
        points.set(toPart(map, [area.points[i]!, area.points[i + 1]!, z]).slice(0, 2), i);
      }
      const reach = step * Math.tan(theta) + SECTION_SLACK;
      return {
        from: z - step - SECTION_SLACK,
        to: z + SECTION_SLACK,
        area: { ...area, points },
        reach,
      };
    });
}
