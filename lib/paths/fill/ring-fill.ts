/**
 * Fill in rings that follow the outline, for layers that are curved. The growth of a sheet is tilted alike along its
 * edge and otherwise from edge to edge: beads along the edge let the head keep its tilt and turn evenly, straight
 * ones make it nod at every stroke (a lying ring: straight caps at 7 mm/s where contours go at 17).
 *
 * Rings are laid from the edge inwards, a spacing apart; where what is left is too narrow for another ring, its width is
 * shared among beads along it, as walls do.
 *
 * Rejected: rings for sparse fill too. A cap's rings then run along the gaps between the fill's, not across: of a ring
 * of R 12 r 3 124 mm2 of caps hung for 9 over straight fill, which takes 1257 s for 1032 (flat layers: 549). Straight
 * lines in the few layers under caps alone, 1055 s, leave 57: where they run along the rings below they hang themselves.
 */
import { type Polygons, area, noPolygons } from '../../polygon/polygons.js';
import { concat, isEmpty, perimeter } from '../../polygon/loops.js';
import { NO_GROUP, type Bead, type BeadLine, closedBeads } from '../layer-bead.js';
import { type LayerSection, LOOP_TOLERANCE, finished } from '../layer-section.js';
import type { PathKind } from '../paths.js';
import { piecesIn } from '../piece-numbers.js';
import { NOISE, narrowPlaces, sharedBeads } from '../walls/narrow.js';

/** Smaller pieces get no bead, in squares of the spacing. */
const LEAST_RING_PIECE = 0.5;
/** Places narrower than two rings share their width. */
const SHARED = { contours: 1, step: 0.6 };

/** Without gaps. @param p the cells' area: its edge is the edge of the neighbouring beads' cells */
export function solidRings(
  section: LayerSection,
  p: Polygons,
  kind: PathKind,
  rank: number,
): Bead[] {
  const { sizes, kernel } = section;
  const least = LEAST_RING_PIECE * sizes.spacing ** 2;
  const lines: BeadLine[] = [];
  let cells = p;
  while (!isEmpty(cells)) {
    const narrow = narrowPlaces(cells, sizes, SHARED, kernel);
    const strips = isEmpty(narrow)
      ? []
      : piecesIn(kernel.offset(narrow, NOISE, { corners: 'miter' })).filter((s) => area(s) > least);
    for (const strip of strips) {
      const { levels, middle } = sharedBeads(strip, undefined, sizes, SHARED, kernel);
      lines.push(...levels.flat(), ...middle);
    }
    const taken = strips.length > 0 ? concat(strips) : noPolygons;
    const wide = isEmpty(taken) ? cells : kernel.combine(cells, taken, 'difference');
    lines.push(...ringsAt(section, wide, sizes.spacing / 2));
    cells = inset(section, wide, sizes.spacing);
  }
  return beadsOf(section, lines, kind, rank);
}

/** Closed beads so far inside an outline, but for those that are shorter than a bead is wide. */
function ringsAt(section: LayerSection, p: Polygons, depth: number): BeadLine[] {
  const { sizes } = section;
  return piecesIn(inset(section, p, depth))
    .filter((piece) => perimeter(piece) > 2 * sizes.width)
    .flatMap((piece) => closedBeads(piece, sizes.width));
}

/** An outline so far inside, without the points that its round corners gather from ring to ring. */
const inset = ({ kernel }: LayerSection, p: Polygons, depth: number): Polygons =>
  kernel.simplify(kernel.offset(p, -depth, { corners: 'round' }), LOOP_TOLERANCE / 2);

const beadsOf = (
  section: LayerSection,
  lines: readonly BeadLine[],
  kind: PathKind,
  rank: number,
): Bead[] => lines.map((line) => finished(section, { ...line, kind, rank, group: NO_GROUP }));
