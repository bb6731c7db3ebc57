/**
 * Solid fill: lines to and fro, joined by turns along the edge. They are spread evenly between the ends
 * of each piece, and the flow of each piece is set so that what is laid is the piece's area times the
 * height.
 */
import { type Polygons, area, noPolygons } from '../../polygon/polygons.js';
import { NO_GROUP, type Bead, type BeadLine } from '../layer-bead.js';
import { concat, isEmpty, lineLength, perimeter } from '../../polygon/loops.js';
import { type PathKind } from '../paths.js';
import { piecesIn } from '../piece-numbers.js';
import { scan } from './scan-lines.js';
import { type LayerSection, finished } from '../layer-section.js';
import { NOISE, narrowPlaces, sharedBeads } from '../walls/narrow.js';
import { joinedLines } from './turns.js';

/** Lines keep this far from the ends of their piece, where an edge may lie along them, mm. */
const END_GAP = 1e-3;
/** Flow that evens out rounding of the line count and small corners; more would be a wrong path. */
const SOLID_FLOW = { least: 0.7, most: 1.3 };

/** Places narrower than the lines' turns are wide are filled along their sides instead. */
const FILL_ALONG = { contours: 1, step: 0.6 };

/** @param p the cells' area: its edge is the edge of the neighbouring beads' cells */
export function solidBeads(
  section: LayerSection,
  p: Polygons,
  kind: PathKind,
  angle: number,
  rank: number,
): Bead[] {
  if (isEmpty(p)) return [];
  const { sizes, kernel } = section;
  const shrunk = narrowPlaces(p, sizes, FILL_ALONG, kernel);
  const grown = isEmpty(shrunk) ? shrunk : kernel.offset(shrunk, NOISE, { corners: 'miter' });
  const strips = piecesIn(grown).filter((piece) => area(piece) > TIP * sizes.spacing ** 2);
  const narrow = strips.length ? concat(strips) : noPolygons;
  const wide = isEmpty(narrow) ? p : kernel.combine(p, narrow, 'difference');
  const courses: BeadLine[] = [];
  for (const piece of piecesIn(wide)) {
    if (area(piece) > LEAST_PIECE * sizes.spacing ** 2)
      courses.push(...lineBeads(section, piece, angle));
  }
  for (const piece of strips) {
    const { levels, middle } = sharedBeads(piece, undefined, sizes, FILL_ALONG, kernel);
    courses.push(...levels.flat(), ...middle);
  }
  return courses.map(({ xy, closed, width, flow }) =>
    finished(section, { kind, xy, closed, width, flow, rank, group: NO_GROUP }),
  );
}

/** Smaller narrow places are tips of wide ones, where lines end on the beads beside; squares of spacing. */
const TIP = 3;
/** Smaller pieces get no bead, in squares of the spacing. */
const LEAST_PIECE = 0.5;

/** Lines to and fro over one piece. */
function lineBeads(
  { sizes, rules, kernel }: LayerSection,
  piece: Polygons,
  angle: number,
): BeadLine[] {
  const inset = Math.max(0, sizes.spacing / 2 - rules.overlap * sizes.width);
  const centre = inset > 0 ? kernel.offset(piece, -inset, { corners: 'round' }) : piece;
  return piecesIn(centre).flatMap((part) => {
    const { lines, pitch } = linesOf(part, angle, sizes.spacing);
    const laid = lines.reduce((sum, xy) => sum + lineLength(xy), 0) * pitch;
    const wanted = area(part) + perimeter(part) * inset + Math.PI * inset * inset;
    const flow = Math.min(SOLID_FLOW.most, Math.max(SOLID_FLOW.least, wanted / laid));
    return lines.map((xy) => ({ xy, closed: false, width: pitch + sizes.edge, flow }));
  });
}

function linesOf(
  piece: Polygons,
  angle: number,
  spacing: number,
): { lines: Float64Array[]; pitch: number } {
  const cos = Math.cos(angle);
  const sin = Math.sin(angle);
  let low = Infinity;
  let high = -Infinity;
  for (let i = 0; i < piece.points.length; i += 2) {
    const v = piece.points[i + 1]! * cos - piece.points[i]! * sin;
    if (v < low) low = v;
    if (v > high) high = v;
  }
  const gaps = Math.round((high - low) / spacing);
  const pitch = gaps > 0 ? (high - low - 2 * END_GAP) / gaps : spacing;
  const base = gaps > 0 ? low + END_GAP : (low + high) / 2;
  const lines = joinedLines(piece, scan(piece, angle, pitch, base));
  return { lines: lines.filter((xy) => lineLength(xy) > spacing / 4), pitch };
}
