/**
 * An area goes in; beads of the chosen pattern come out whose volume is the density times the area
 * times the height. Patterns are laid out from the origin of layer space, so those of neighbouring
 * layers meet.
 */
import { type Polygons } from '../base/polygons.js';
import { DEG } from '../base/vector.js';
import type { Bead } from './layer-bead.js';
import { isEmpty } from './loops.js';
import { PathKind } from './paths.js';
import { scan, segments } from './scan.js';
import { type Section, pieceAt } from './section.js';
import { solidBeads } from './solid.js';

export const lineAngle = (section: Section): number =>
  section.rules.fill.angle * DEG + (section.layer % 2) * (Math.PI / 2);

export function fillBeads(section: Section, p: Polygons, rank: number): Bead[] {
  const { rules, sizes, kernel } = section;
  const { density, pattern } = rules.fill;
  if (density === 0 || isEmpty(p)) return [];
  if (density === 1) return solidBeads(section, p, PathKind.fill, lineAngle(section), rank);
  const back = (0.5 - rules.overlap) * sizes.width;
  const clip = back > 0 ? kernel.offset(p, -back, { corners: 'round' }) : p;
  const lines = pattern === 'triangles' ? triangles(section, clip) : crossedLines(section, clip);
  return lines.map((xy) => ({
    kind: PathKind.fill,
    xy,
    closed: false,
    width: sizes.width,
    flow: 1,
    piece: pieceAt(section, xy[0]!, xy[1]!),
    rank,
  }));
}

function crossedLines(section: Section, clip: Polygons): Float64Array[] {
  const pitch = section.sizes.spacing / section.rules.fill.density;
  return segments(scan(clip, lineAngle(section), pitch, pitch / 2), section.sizes.width);
}

/** Three families of lines; the third is half a pitch off, so that no three meet in one point. */
function triangles(section: Section, clip: Polygons): Float64Array[] {
  const pitch = (3 * section.sizes.spacing) / section.rules.fill.density;
  return [0, 1, 2].flatMap((i) => {
    const angle = section.rules.fill.angle * DEG + (i * Math.PI) / 3;
    return segments(scan(clip, angle, pitch, i === 2 ? pitch / 2 : 0), section.sizes.width);
  });
}
