/**
 * Beads that share the width of narrow places evenly: loops along both sides, and a line in the middle
 * where the number across is odd. wall-widths.ts measures, bead-counts.ts decides.
 */
import { type Polygons, loopArea } from '../../polygon/polygons.js';
import { float64List } from '../../base/ragged.js';
import type { PolygonKernel } from '../../kernel/polygon.js';
import { type EdgeGrid, nearestEdge } from '../../polygon/edge-grid.js';
import { type BeadLine, closedBead } from '../layer-bead.js';
import { isEmpty, pick } from '../../polygon/loops.js';
import { type CentreLine, centre, middles } from './centre-beads.js';
import type { BeadSizes } from '../layer-section.js';
import { shareOut } from './bead-counts.js';
import { simplifiedLine } from './simplify-line.js';
import { insetBy } from './variable-inset.js';
import { MITRE_REACH, type WidthUse, type Walls, wallsOf, wideFrom } from './wall-widths.js';

export interface SharedBeads {
  /** Loops along the sides, from the outermost level inwards. */
  readonly levels: BeadLine[][];
  /** Lines in the middle. */
  readonly middle: BeadLine[];
  readonly inside: Polygons;
  /** Area where not even the narrowest bead finds room, mm2, and the middle of its widest place. */
  readonly dropped: number;
  readonly droppedAt: readonly [number, number];
}

/** What is left after an inset and back that is narrower than twice this is noise, mm. */
export const NOISE = 0.02;

/**
 * Places too narrow for the full number of beads, corners over 50 deg not counted. Their edges keep
 * `NOISE` away from the edges of the area, so that their points lie inside it.
 */
export function narrowPlaces(
  p: Polygons,
  sizes: BeadSizes,
  use: WidthUse,
  kernel: PolygonKernel,
): Polygons {
  const depth = wideFrom(sizes, use) / 2;
  const core = kernel.offset(p, -depth, { corners: 'round' });
  const back = kernel.offset(core, depth + NOISE, { corners: 'miter', miterLimit: MITRE_REACH });
  const rest = isEmpty(back) ? p : kernel.combine(p, back, 'difference');
  return isEmpty(rest) ? rest : kernel.offset(rest, -NOISE, { corners: 'miter' });
}

/**
 * @param piece one connected piece
 * @param narrow edges of its narrow places; undefined if it is narrow all over
 */
export function sharedBeads(
  piece: Polygons,
  narrow: EdgeGrid | undefined,
  sizes: BeadSizes,
  use: WidthUse,
  kernel: PolygonKernel,
): SharedBeads {
  const walls = wallsOf(piece, narrow, sizes, use);
  shareOut(walls, sizes, use);
  const loopsAfter = (cells: number, least: number): Polygons =>
    clean(insetBy(walls, depths(walls, cells, least, sizes.spacing), kernel), sizes.width);
  const levels = Array.from({ length: use.contours }, (_, level) => {
    const centres = evenSteps(
      kernel.simplify(loopsAfter(level + 0.5, 2 * (level + 1)), WIDTH_TOLERANCE),
      use.step * sizes.width,
    );
    return Array.from({ length: centres.start.length - 1 }, (_, i) =>
      sideBead(walls, centres, i, level, sizes.edge),
    ).filter((course) => course !== undefined);
  });
  const middle = middles(walls, sizes).map((line) => middleBead(line, sizes.edge));
  const inside = loopsAfter(use.contours, 2 * use.contours + 2);
  return { levels, middle, inside, ...droppedArea(walls) };
}

/** Loops are simplified by this much, mm, before the width at each of their points is looked up. */
const WIDTH_TOLERANCE = 0.001;

/** The same loops with long edges cut into even steps. */
function evenSteps(p: Polygons, step: number): Polygons {
  const points = float64List(2 * p.points.length);
  const start = new Uint32Array(p.start.length);
  for (let loop = 0; loop + 1 < p.start.length; loop++) {
    const [a, b] = [p.start[loop]!, p.start[loop + 1]!];
    for (let i = a; i < b; i++) {
      const j = i + 1 < b ? i + 1 : a;
      const [x, y] = [p.points[2 * i]!, p.points[2 * i + 1]!];
      const [dx, dy] = [p.points[2 * j]! - x, p.points[2 * j + 1]! - y];
      const parts = Math.max(1, Math.ceil(Math.hypot(dx, dy) / step));
      for (let k = 0; k < parts; k++) points.push2(x + (k / parts) * dx, y + (k / parts) * dy);
    }
    start[loop + 1] = points.length / 2;
  }
  return { points: points.take(), start };
}

/** How far past the middle of a wall a loop is moved that is to vanish there, in bead spacings. */
const PAST_MIDDLE = 0.2;

/** Distances from the edge after `cells` cells, past the middle where fewer than `least` beads lie. */
function depths(
  { count, cell, radius }: Walls,
  cells: number,
  least: number,
  spacing: number,
): Float64Array {
  const out = new Float64Array(count.length);
  for (let i = 0; i < out.length; i++) {
    out[i] = count[i]! >= least ? cells * cell[i]! : radius[i]! + PAST_MIDDLE * spacing;
  }
  return out;
}

/** Leaves out crumbs of the union, smaller than a tenth of a bead's square. */
function clean(p: Polygons, width: number): Polygons {
  return pick(p, (i) => Math.abs(loopArea(p, i)) > 0.1 * width * width);
}

/**
 * A loop along the sides; its cells are as wide as those of the nearest stretches of the edge. At its
 * ends the nearest stretch may have too few beads for it: there the width goes on as before, as far
 * as the edge leaves room. Undefined if no stretch has a place for it: then it is a crumb that the
 * union left where a loop turned inside out twice.
 */
function sideBead(
  walls: Walls,
  p: Polygons,
  loop: number,
  level: number,
  edge: number,
): BeadLine | undefined {
  const { xy } = closedBead(p, loop, 0);
  const n = xy.length / 2;
  const cell = new Float64Array(n);
  const room = new Float64Array(n);
  let known = -1;
  for (let i = 0; i < n; i++) {
    const near = nearestEdge(walls.grid, xy[2 * i]!, xy[2 * i + 1]!);
    room[i] = near.distance / (level + 0.5);
    if (walls.count[near.edge]! < 2 * (level + 1)) continue;
    cell[i] = walls.cell[near.edge]!;
    known = i;
  }
  if (known < 0) return undefined;
  for (let k = 0, last = cell[known]!; k < n; k++) {
    const i = (known + k) % n;
    if (cell[i]! > 0) last = cell[i]!;
    cell[i] = Math.min(last, room[i]!);
  }
  return beadAlong(simplifiedLine(xy, cell, true), true, edge);
}

/** Each stretch is as wide as its two ends on average. */
function beadAlong(
  { xy, cell }: { readonly xy: Float64Array; readonly cell: Float64Array },
  closed: boolean,
  edge: number,
): BeadLine {
  const n = cell.length;
  const width = cell.map((c, i) => (c + cell[(i + n - 1) % n]!) / 2 + edge);
  if (!closed) width[0] = cell[0]! + edge;
  return { xy, closed, width, flow: 1 };
}

/**
 * A single bead. One that has no length is a dot: a stroke of half its width whose flow makes up a
 * round of that width.
 */
function middleBead({ xy, cell, closed }: CentreLine, edge: number): BeadLine {
  if (xy.length > 2) return beadAlong(simplifiedLine(xy, cell, closed), closed, edge);
  const half = cell[0]! / 4;
  return {
    closed: false,
    xy: Float64Array.of(xy[0]! - half, xy[1]!, xy[0]! + half, xy[1]!),
    width: cell[0]! + edge,
    flow: Math.PI / 2,
  };
}

/** Every stretch sees the half of the wall before it. */
function droppedArea(walls: Walls): Pick<SharedBeads, 'dropped' | 'droppedAt'> {
  const { count, radius, length } = walls;
  let dropped = 0;
  let widest = -1;
  for (let i = 0; i < count.length; i++) {
    if (count[i] !== 0) continue;
    dropped += length[i]! * radius[i]!;
    if (widest < 0 || radius[i]! > radius[widest]!) widest = i;
  }
  return { dropped, droppedAt: widest < 0 ? [NaN, NaN] : centre(walls, widest) };
}
