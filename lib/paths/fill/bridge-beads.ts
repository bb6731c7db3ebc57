/**
 * Beads over the bridged part of a layer's inside: along the spans, without gaps, reaching over both
 * supported ends by a bead's width; and the inside that remains.
 */
import { type Polygons, area } from '../../polygon/polygons.js';
import type { Bridge } from '../../layers/unsupported.js';
import type { Bead } from '../layer-bead.js';
import { isEmpty } from '../../polygon/loops.js';
import { PathKind } from '../paths.js';
import type { LayerSection } from '../layer-section.js';
import { solidBeads } from './solid-fill.js';

export function bridgedBeads(
  section: LayerSection,
  inside: Polygons,
  bridges: readonly Bridge[],
): { beads: Bead[]; rest: Polygons; mm2: number } {
  const { kernel, sizes } = section;
  const beads: Bead[] = [];
  let rest = inside;
  let mm2 = 0;
  for (const bridge of bridges) {
    if (isEmpty(rest)) break;
    const grown = kernel.offset(bridge.area, sizes.width, { corners: 'miter' });
    const over = kernel.combine(rest, grown, 'intersection');
    if (isEmpty(over)) continue;
    const along = solidBeads(section, over, PathKind.cap, bridge.angle, 2);
    if (along.length === 0) continue;
    beads.push(...along);
    mm2 += area(over);
    rest = kernel.combine(rest, over, 'difference');
  }
  return { beads, rest, mm2 };
}
