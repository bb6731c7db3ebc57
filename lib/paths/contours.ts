/**
 * A layer goes in; the beads along its edges come out, and the area that they leave inside. Where a
 * piece is too narrow for all its beads its width is shared among fewer.
 */
import { type Polygons, area, loopArea } from '../base/polygons.js';
import { gridOf } from './grid.js';
import { type Bead, closedBead } from './layer-bead.js';
import { concat, isEmpty } from './loops.js';
import { narrowPlaces, sharedBeads } from './narrow.js';
import { PathKind } from './paths.js';
import { splitPieces } from './pieces.js';
import { type Section, finished, pieceAt } from './section.js';

export interface Contours {
  readonly beads: Bead[];
  /** Where the innermost cells end: fill and caps lie in here. */
  readonly inside: Polygons;
  /** Area where not even the narrowest bead finds room, mm2. */
  readonly dropped: number;
}

export function contoursOf(section: Section): Contours {
  if (!section.rules.thin.split) return wideOnly(section);
  const { sizes, rules, kernel, loops } = section;
  const use = { contours: rules.contours, rim: sizes.edge / 2 };
  const narrow = narrowPlaces(loops, sizes, use, kernel);
  if (isEmpty(narrow)) return standard(section, loops);
  const grid = gridOf(narrow, sizes.width);
  const touched = touchedPieces(section, narrow);
  const pieces = splitPieces(loops, section.piece);
  const parts = pieces
    .filter((_, i) => touched.has(i))
    .map((piece) => {
      const shared = sharedBeads(piece, grid, sizes, use, kernel);
      return {
        ...shared,
        beads: shared.beads.map(({ level, ...bead }) =>
          finished(section, {
            ...bead,
            kind: level < 0 ? PathKind.thin : kindOf(level),
            rank: level < 0 ? 0 : rankOf(section, level),
          }),
        ),
      };
    });
  const rest = pieces.filter((_, i) => !touched.has(i));
  if (rest.length) parts.push(standard(section, concat(rest)));
  return {
    beads: parts.flatMap((p) => p.beads),
    inside: concat(parts.map((p) => p.inside).filter((p) => !isEmpty(p))),
    dropped: parts.reduce((sum, p) => sum + p.dropped, 0),
  };
}

const kindOf = (level: number): PathKind =>
  level === 0 ? PathKind.contour : PathKind.innerContour;

/** From the inside out: the outermost bead leans on one that is already there. */
const rankOf = ({ rules }: Section, level: number): number => rules.contours - 1 - level;

/** Full beads all around: every piece is wide enough for them. */
function standard(section: Section, loops: Polygons): Contours {
  const { sizes, rules, kernel } = section;
  const beads: Bead[] = [];
  for (let level = 0; level < rules.contours; level++) {
    const mm = -(sizes.width / 2 + level * sizes.spacing);
    const centre = kernel.offset(loops, mm, { corners: 'round' });
    for (let i = 0; i + 1 < centre.start.length; i++) {
      beads.push(contour(section, centre, i, level));
    }
  }
  const depth = sizes.edge / 2 + rules.contours * sizes.spacing;
  return { beads, inside: kernel.offset(loops, -depth, { corners: 'round' }), dropped: 0 };
}

/** Full beads where they fit, nothing elsewhere. */
function wideOnly(section: Section): Contours {
  const { sizes, rules, kernel, loops } = section;
  const { spacing } = sizes;
  const beads: Bead[] = [];
  let dropped = 0;
  let cells = kernel.offset(loops, -sizes.edge / 2, { corners: 'round' });
  for (let level = 0; level < rules.contours && !isEmpty(cells); level++) {
    const next = kernel.offset(cells, -spacing, { corners: 'round' });
    const centre = kernel.offset(next, spacing / 2, { corners: 'round' });
    for (let i = 0; i + 1 < centre.start.length; i++) {
      beads.push(contour(section, centre, i, level));
    }
    dropped += area(cells) - area(kernel.offset(next, spacing, { corners: 'miter' }));
    cells = next;
  }
  return { beads, inside: cells, dropped: Math.max(0, dropped) };
}

/** Pieces of the layer that have narrow places. */
function touchedPieces(section: Section, narrow: Polygons): Set<number> {
  const out = new Set<number>();
  for (let l = 0; l + 1 < narrow.start.length; l++) {
    const at = 2 * narrow.start[l]!;
    if (loopArea(narrow, l) > 0) {
      out.add(pieceAt(section, narrow.points[at]!, narrow.points[at + 1]!));
    }
  }
  return out;
}

function contour(section: Section, p: Polygons, loop: number, level: number): Bead {
  const bead = closedBead(p, loop, section.sizes.width);
  return finished(section, { ...bead, kind: kindOf(level), rank: rankOf(section, level) });
}
