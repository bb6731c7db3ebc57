/**
 * Caps of curved layers: rings along the outline (ring-fill.ts), but straight beads across the fill where a cap begins
 * over it. A ring of which a fifth of the width lies on the cap's own layer below is held by that, so a cap that grows
 * by little from layer to layer may stay in rings; where it begins over more of the fill, the rings that run along its
 * beads lie on nothing.
 *
 * Of a ring of R 12 r 3, 8.3 mm2 of caps hung over the fill while all were rings (1297 s), none with straight ones
 * there (1410 s); whole pieces of caps laid straight, 1450 s.
 */
import type { Exposure } from './exposed-caps.js';
import { lineAngle } from './fill.js';
import { solidRings } from './ring-fill.js';
import { solidBeads } from './solid-fill.js';
import type { Bead } from '../layer-bead.js';
import type { LayerSection } from '../layer-section.js';
import { PathKind } from '../paths.js';
import { piecesIn } from '../piece-numbers.js';
import { type Polygons, noPolygons } from '../../polygon/polygons.js';
import { concat, isEmpty } from '../../polygon/loops.js';

/** A ring this share of whose width is over the fill is still held by what the rest lies on. */
const HELD_SHARE = 0.8;

/** Straight beads reach beyond the fill by so many spacings, onto what is closed below. */
const ONTO_CLOSED = 0.5;

/**
 * @param cap area that must be closed
 * @param below section of the layer below, nothing where there is none
 * @param reach how far in its contours reach, mm
 */
export function curvedCaps(
  section: LayerSection,
  cap: Polygons,
  below: Polygons,
  exposed: Exposure,
  reach: number,
): Bead[] {
  const { kernel, sizes } = section;
  const open = fillBelow(section, below, exposed, reach);
  const half = (HELD_SHARE * sizes.width) / 2;
  const [straight, rings]: [Polygons[], Polygons[]] = [[], []];
  for (const piece of piecesIn(cap)) {
    const over = isEmpty(open) ? open : kernel.combine(piece, open, 'intersection');
    const wide = isEmpty(over) ? over : kernel.offset(over, -half, { corners: 'miter' });
    if (isEmpty(wide)) {
      rings.push(piece);
      continue;
    }
    const reaching = kernel.offset(wide, half + ONTO_CLOSED * sizes.spacing, { corners: 'miter' });
    straight.push(kernel.combine(piece, reaching, 'intersection'));
    rings.push(kernel.combine(piece, reaching, 'difference'));
  }
  const joined = (list: Polygons[]): Polygons => (list.length > 0 ? concat(list) : noPolygons);
  return [
    ...solidRings(section, joined(rings), PathKind.cap, 2),
    ...solidBeads(section, joined(straight), PathKind.cap, lineAngle(section), 2),
  ];
}

/** Where the layer below has gaps between beads of fill: within its contours, where it is not closed. */
function fillBelow(
  { kernel, layer, rules }: LayerSection,
  below: Polygons,
  exposed: Exposure,
  reach: number,
): Polygons {
  if (rules.fill.density === 1) return noPolygons;
  const inside = isEmpty(below) ? below : kernel.offset(below, -reach, { corners: 'miter' });
  const closed = isEmpty(inside) ? inside : exposed.of(layer - 1);
  return isEmpty(closed) ? inside : kernel.combine(inside, closed, 'difference');
}
