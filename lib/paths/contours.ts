/**
 * A layer goes in; the beads along its edges come out, and the area that they leave inside.
 */
import type { Polygons } from '../base/polygons.js';
import { type Bead, startingAt } from './layer-bead.js';
import { PathKind } from './paths.js';
import { type Section, pieceAt } from './section.js';
import { startPoint } from './starts.js';

export interface Contours {
  readonly beads: Bead[];
  /** Where the innermost cells end: fill and caps lie in here. */
  readonly inside: Polygons;
}

export function contoursOf(section: Section): Contours {
  const { loops, sizes, rules, kernel } = section;
  const beads: Bead[] = [];
  for (let level = 0; level < rules.contours; level++) {
    const mm = -(sizes.width / 2 + level * sizes.spacing);
    const centre = kernel.offset(loops, mm, { corners: 'round' });
    for (let i = 0; i + 1 < centre.start.length; i++) {
      beads.push(closedBead(section, centre, i, level, sizes.width));
    }
  }
  const inside = kernel.offset(loops, -(sizes.edge / 2 + rules.contours * sizes.spacing), {
    corners: 'round',
  });
  return { beads, inside };
}

export function closedBead(
  section: Section,
  p: Polygons,
  loop: number,
  level: number,
  width: number | Float64Array,
): Bead {
  const xy = p.points.slice(2 * p.start[loop]!, 2 * p.start[loop + 1]!);
  const bead: Bead = {
    kind: level === 0 ? PathKind.contour : PathKind.innerContour,
    xy,
    closed: true,
    width,
    flow: 1,
    piece: pieceAt(section, xy[0]!, xy[1]!),
    // From the inside out: the outermost bead leans on one that is already there.
    rank: section.rules.contours - 1 - level,
  };
  return startingAt(bead, startPoint(xy, section.start, section.layer, section.sizes.width));
}
