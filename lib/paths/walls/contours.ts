/**
 * The beads along the edges of a layer, and the area that they leave inside. Where a piece is too narrow
 * for all its beads, its width is shared among fewer.
 *
 * A bead's flank is round (the stadium of bead.ts), so a wall of many layers is no plane: its mean lies
 * h (1 - pi / 4) / 2 inside the outermost points. The cells of the outermost beads begin on the edge of
 * the section, around holes alike. The mean flank then lies on the part's surface, and a solid part has
 * its volume; the outermost points stand out by that much, 0.021 mm at a layer of 0.2 mm.
 *
 * Rejected: outermost points on the edge, as if flanks were flat. The mean surface of a printed part then
 * lay 0.022 mm inside, and an elbow with a wall of 1.2 mm lacked 3.2 % of its volume (0.4 % of a ball of
 * 24 mm). Also rejected: the outermost beads widened by as much where they were. Volume and surface are
 * the same to 1e-4, but contours are 0.471 mm wide where 0.45 is wanted, without a benefit.
 */
import { type Polygons, area } from '../../polygon/polygons.js';
import { gridOf } from '../../polygon/edge-grid.js';
import { NO_GROUP, type Bead, type BeadLine, closedBeads } from '../layer-bead.js';
import { concat, isEmpty } from '../../polygon/loops.js';
import { narrowPlaces, sharedBeads } from './narrow.js';
import { grouped } from '../sequence/nests.js';
import { PathKind } from '../paths.js';
import { splitPieces } from '../piece-numbers.js';
import { type LayerSection, LOOP_TOLERANCE, finished, pieceAt } from '../layer-section.js';

export interface Contours {
  readonly beads: Bead[];
  /** Where the innermost cells end: fill and caps lie in here. */
  readonly inside: Polygons;
  /** Area where not even the narrowest bead finds room, mm2, and the middle of its widest place. */
  readonly dropped: number;
  readonly droppedAt: readonly [number, number];
}

/** Bead lines by level from the edge inwards, and those in the middle of walls. */
interface ContoursPart extends Omit<Contours, 'beads'> {
  readonly levels: BeadLine[][];
  readonly middle: BeadLine[];
}

const nowhere = [NaN, NaN] as const;

export function contoursOf(section: LayerSection): Contours {
  const parts = section.rules.thin.split ? evenly(section) : [wideOnly(section)];
  const worst = parts.reduce((a, b) => (b.dropped > a.dropped ? b : a));
  return {
    beads: parts.flatMap(({ levels, middle }) => beadsOf(section, levels, middle)),
    inside: concat(parts.map((p) => p.inside).filter((p) => !isEmpty(p))),
    dropped: parts.reduce((sum, p) => sum + p.dropped, 0),
    droppedAt: worst.droppedAt,
  };
}

/**
 * Laid from the inside out, so that the outermost bead leans on one that is already there. The bead in
 * the middle of a wall comes after those beside it, which then hold its ends: over sparse fill it
 * would begin and end in the air.
 */
function beadsOf(
  section: LayerSection,
  levels: readonly BeadLine[][],
  middle: readonly BeadLine[],
): Bead[] {
  const beads = levels.map((list, level) =>
    list.map((course) => {
      const kind = level === 0 ? PathKind.contour : PathKind.innerContour;
      return finished(section, { ...course, kind, rank: 0, group: NO_GROUP });
    }),
  );
  return [
    ...grouped(beads),
    ...middle.map((course) =>
      finished(section, { ...course, kind: PathKind.thin, rank: 1, group: NO_GROUP }),
    ),
  ];
}

/** Pieces with narrow places share their width there, the others take full beads. */
function evenly(section: LayerSection): ContoursPart[] {
  const { sizes, rules, kernel, loops } = section;
  const use = { contours: rules.contours, step: 1 / 3 };
  const narrow = narrowPlaces(loops, sizes, use, kernel);
  if (isEmpty(narrow)) return [standard(section, loops)];
  const grid = gridOf(narrow, sizes.width);
  const touched = touchedPieces(section, narrow);
  const pieces = splitPieces(loops, section.piece);
  const parts = pieces
    .filter((_, i) => touched.has(i))
    .map((piece) => sharedBeads(piece, grid, sizes, use, kernel));
  const rest = pieces.filter((_, i) => !touched.has(i));
  return rest.length ? [...parts, standard(section, concat(rest))] : parts;
}

/** Full beads all around: every piece is wide enough for them. */
function standard({ sizes, rules, kernel }: LayerSection, loops: Polygons): ContoursPart {
  const levels = Array.from({ length: rules.contours }, (_, level) => {
    const mm = -(level + 0.5) * sizes.spacing;
    return closedBeads(kernel.offset(loops, mm, { corners: 'round' }), sizes.width);
  });
  const depth = rules.contours * sizes.spacing;
  const inside = kernel.offset(loops, -depth, { corners: 'round' });
  return { levels, middle: [], inside, dropped: 0, droppedAt: nowhere };
}

/** Full beads where they fit, nothing elsewhere. */
function wideOnly({ sizes, rules, kernel, loops }: LayerSection): ContoursPart {
  const { spacing } = sizes;
  const levels: BeadLine[][] = [];
  let dropped = 0;
  let droppedAt: readonly [number, number] = nowhere;
  let cells = loops;
  for (let level = 0; level < rules.contours && !isEmpty(cells); level++) {
    const next = kernel.offset(cells, -spacing, { corners: 'round' });
    const centre = kernel.offset(next, spacing / 2, { corners: 'round' });
    levels.push(closedBeads(kernel.simplify(centre, LOOP_TOLERANCE / 2), sizes.width));
    const back = kernel.offset(next, spacing, { corners: 'miter' });
    const lost = Math.max(0, area(cells) - area(back));
    if (lost > dropped) droppedAt = [cells.points[0]!, cells.points[1]!];
    dropped += lost;
    cells = kernel.simplify(next, LOOP_TOLERANCE / 2);
  }
  return { levels, middle: [], inside: cells, dropped, droppedAt };
}

/** Pieces of the layer that have narrow places. */
function touchedPieces(section: LayerSection, narrow: Polygons): Set<number> {
  const out = new Set<number>();
  for (let l = 0; l + 1 < narrow.start.length; l++) {
    const at = 2 * narrow.start[l]!;
    out.add(pieceAt(section, narrow.points[at]!, narrow.points[at + 1]!));
  }
  return out;
}
