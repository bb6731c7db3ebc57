/**
 * Area with narrow places goes in; beads that share its width evenly come out: loops along both sides,
 * and a line in the middle where the number across is odd. walls.ts measures, share.ts decides.
 */
import { type Polygons, loopArea } from '../base/polygons.js';
import type { PolygonKernel } from '../kernel/polygon.js';
import type { EdgeGrid } from './grid.js';
import { type Bead, closedBead } from './layer-bead.js';
import { isEmpty, pick } from './loops.js';
import { type Middle, middles } from './middle.js';
import type { Sizes } from './section.js';
import { shareOut } from './share.js';
import { slim } from './slim.js';
import { insetBy } from './vary.js';
import { MITER, type Use, type Walls, nearestStretch, wallsOf, wideFrom } from './walls.js';

export interface Shared {
  /** With the level of each bead: 0 for the outermost, -1 for the middle. */
  readonly beads: (Omit<Bead, 'kind' | 'piece' | 'rank'> & { readonly level: number })[];
  readonly inside: Polygons;
  readonly dropped: number;
}

/** What is left after an inset and back that is narrower than this is noise, mm. */
const NOISE = 0.02;

/** Places too narrow for the full number of beads, corners over 50 deg not counted. */
export function narrowPlaces(p: Polygons, sizes: Sizes, use: Use, kernel: PolygonKernel): Polygons {
  const depth = wideFrom(sizes, use) / 2;
  const core = kernel.offset(p, -depth, { corners: 'round' });
  const back = kernel.offset(core, depth + NOISE, { corners: 'miter', miterLimit: MITER });
  const rest = isEmpty(back) ? p : kernel.combine(p, back, 'difference');
  return isEmpty(rest) ? rest : kernel.offset(rest, -NOISE, { corners: 'miter' });
}

/**
 * @param piece one connected piece
 * @param narrow edges of its narrow places
 */
export function sharedBeads(
  piece: Polygons,
  narrow: EdgeGrid,
  sizes: Sizes,
  use: Use,
  kernel: PolygonKernel,
): Shared {
  const walls = wallsOf(piece, narrow, sizes, use);
  shareOut(walls, sizes, use);
  const beads: Shared['beads'] = [];
  const loopsAfter = (cells: number, least: number): Polygons =>
    clean(insetBy(walls, depths(walls, cells, least, use.rim, sizes.spacing), kernel), sizes.width);
  for (let level = 0; level < use.contours; level++) {
    const centre = loopsAfter(level + 0.5, 2 * (level + 1));
    for (let i = 0; i + 1 < centre.start.length; i++) {
      beads.push({ ...sideBead(walls, centre, i, sizes.edge), level });
    }
  }
  for (const line of middles(walls, sizes)) {
    beads.push({ ...middleBead(line, sizes.edge), level: -1 });
  }
  const inside = loopsAfter(use.contours, 2 * use.contours + 2);
  return { beads, inside, dropped: droppedArea(walls) };
}

/** How far past the middle of a wall a loop is sent that shall vanish there, in bead spacings. */
const PAST = 0.2;

/** Distances from the edge after `cells` cells, past the middle where fewer than `least` beads lie. */
function depths(
  { count, cell, radius }: Walls,
  cells: number,
  least: number,
  edge: number,
  spacing: number,
): Float64Array {
  return Float64Array.from(count, (n, i) =>
    n >= least ? edge + cells * cell[i]! : radius[i]! + PAST * spacing,
  );
}

/** Leaves out crumbs of the union, smaller than a tenth of a bead's square. */
function clean(p: Polygons, width: number): Polygons {
  return pick(p, (i) => Math.abs(loopArea(p, i)) > 0.1 * width * width);
}

/** A loop along the sides; its cells are as wide as those of the nearest stretches of the edge. */
function sideBead(
  walls: Walls,
  p: Polygons,
  loop: number,
  edge: number,
): Omit<Bead, 'kind' | 'piece' | 'rank'> {
  const { xy } = closedBead(p, loop, 0);
  const cell = new Float64Array(xy.length / 2);
  for (let i = 0; i < cell.length; i++) {
    cell[i] = walls.cell[nearestStretch(walls, xy[2 * i]!, xy[2 * i + 1]!).stretch]!;
  }
  return beadAlong(slim(xy, cell, true), true, edge);
}

/** Each stretch is as wide as its two ends on average. */
function beadAlong(
  { xy, cell }: { readonly xy: Float64Array; readonly cell: Float64Array },
  closed: boolean,
  edge: number,
): Omit<Bead, 'kind' | 'piece' | 'rank'> {
  const n = cell.length;
  const width = cell.map((c, i) => (c + cell[(i + n - 1) % n]!) / 2 + edge);
  if (!closed) width[0] = cell[0]! + edge;
  return { xy, closed, width, flow: 1 };
}

/**
 * A single bead. One that has no length is a dot: a stroke of half its width whose flow makes up a
 * round of that width.
 */
function middleBead(
  { xy, cell, closed }: Middle,
  edge: number,
): Omit<Bead, 'kind' | 'piece' | 'rank'> {
  if (xy.length > 2) return beadAlong(slim(xy, cell, closed), closed, edge);
  const half = cell[0]! / 4;
  return {
    closed: false,
    xy: Float64Array.of(xy[0]! - half, xy[1]!, xy[0]! + half, xy[1]!),
    width: cell[0]! + edge,
    flow: Math.PI / 2,
  };
}

/** Every stretch sees the half of the wall before it. */
function droppedArea({ count, radius, length }: Walls): number {
  let sum = 0;
  for (let i = 0; i < count.length; i++) {
    if (count[i] === 0 && radius[i]! < Infinity) sum += length[i]! * radius[i]!;
  }
  return sum;
}
