/**
 * How wide a piece of a layer with narrow places is at each stretch of its edge.
 *
 * The edge is cut into short stretches. The half width at a stretch is the radius of the largest disc
 * inside the piece that touches the stretch in its middle: the least of |q - p|^2 / (2 n (q - p)) over
 * all other edge points q, with n the inward normal at p; for a whole stretch that least has a closed
 * form (the disc that is tangent to it, or that passes through one of its ends). A disc that touches
 * two walls facing each other (their normals more than 130 deg apart) measures a width; one in a corner
 * measures nothing, and such stretches take over the width next to them along the edge.
 *
 * Rejected on paper: a medial axis from a point-sampled Voronoi diagram (no such library among ours,
 * thousands of hair branches to prune), and classes of width by opening and closing with the polygon
 * kernel (beads would end and begin at every class boundary).
 */
import type { Polygons } from '../../polygon/polygons.js';
import { float64List } from '../../base/ragged.js';
import { type EdgeGrid, gridOf, nearBox } from '../../polygon/edge-grid.js';
import type { BeadSizes } from '../layer-section.js';

/** What is known of a stretch by its own disc. */
export const Known = { corner: 0, wall: 1, wide: 2 } as const;

export interface Walls {
  /** The piece with its edges cut into stretches; stretch i begins at point i. */
  readonly loops: Polygons;
  readonly grid: EdgeGrid;
  /** Inward unit normal of each stretch. */
  readonly nx: Float64Array;
  readonly ny: Float64Array;
  readonly length: Float64Array;
  /** A value of `Known` per stretch. */
  readonly known: Uint8Array;
  /** Half the width of the piece, mm; infinite where it is wide. */
  readonly radius: Float64Array;
  /** The stretch that the disc touches on the other side; -1 if there is none. */
  readonly across: Int32Array;
  /** Beads across, 0 where even one is too wide; `wide` where the full number and more fit. */
  readonly count: Int32Array;
  /** Width of one bead's cell, mm. */
  readonly cell: Float64Array;
}

/** How the width of a piece is used from both of its sides. */
export interface WidthUse {
  /** Beads along each side where there is room. */
  readonly contours: number;
  /** Length of the stretches in which the edge is measured, in bead widths. */
  readonly step: number;
}

/** From this width on the contours are laid as usual and what is left inside is filled, mm. */
export const wideFrom = (sizes: BeadSizes, use: WidthUse): number =>
  (2 * use.contours + 1.5) * sizes.spacing;

/** Two walls face each other if their normals are more than 130 deg apart; its cosine. */
const FACING = -0.6428;
/** A mitred corner of 50 deg, where walls begin to face each other, reaches this many offsets. */
export const MITRE_REACH = 2.37;
/** Rounding allowed in the test whether a disc touches, sine of an angle. */
const TOUCH_ROUNDING = 1e-3;
/** A disc that another contact holds to less than this share of the width sits in a corner. */
const IN_CORNER = 0.9;

/**
 * @param narrow edges of the area around which the widths matter, elsewhere the piece counts as wide;
 *   undefined if they matter all over
 */
export function wallsOf(
  piece: Polygons,
  narrow: EdgeGrid | undefined,
  sizes: BeadSizes,
  use: WidthUse,
): Walls {
  const reach = wideFrom(sizes, use) / 2;
  // Not finer than a tenth of the reach, so that a disc meets some tens of stretches at most.
  const step = Math.max(use.step * sizes.width, reach / 10);
  const { loops, near } = stretchesOf(piece, narrow, step, reach + sizes.width);
  const grid = gridOf(loops, sizes.width / 2);
  const count = loops.points.length / 2;
  const walls: Walls = {
    loops,
    grid,
    nx: new Float64Array(count),
    ny: new Float64Array(count),
    length: new Float64Array(count),
    known: new Uint8Array(count).fill(Known.wide),
    radius: new Float64Array(count).fill(Infinity),
    across: new Int32Array(count).fill(-1),
    count: new Int32Array(count),
    cell: new Float64Array(count),
  };
  normals(walls);
  for (let i = 0; i < count; i++) if (near[i]) measure(walls, i, reach);
  return walls;
}

/** Cuts edges near narrow places into stretches of at most `step`. */
function stretchesOf(
  piece: Polygons,
  narrow: EdgeGrid | undefined,
  step: number,
  margin: number,
): { loops: Polygons; near: Uint8Array } {
  const points = float64List(piece.points.length * 2);
  const near: number[] = [];
  const start = new Uint32Array(piece.start.length);
  const isNear = (ax: number, ay: number, bx: number, by: number): boolean => {
    if (!narrow) return true;
    let found = false;
    const [x0, x1, y0, y1] = [
      Math.min(ax, bx),
      Math.max(ax, bx),
      Math.min(ay, by),
      Math.max(ay, by),
    ];
    nearBox(narrow, x0 - margin, y0 - margin, x1 + margin, y1 + margin, () => (found = true));
    return found;
  };
  const cut = (ax: number, ay: number, bx: number, by: number, size: number): void => {
    const parts = Math.max(1, Math.ceil(Math.hypot(bx - ax, by - ay) / size));
    for (let k = 0; k < parts; k++) {
      const [t, u] = [k / parts, (k + 1) / parts];
      const [px, py] = [ax + t * (bx - ax), ay + t * (by - ay)];
      const [qx, qy] = [ax + u * (bx - ax), ay + u * (by - ay)];
      const close = isNear(px, py, qx, qy);
      if (close && size > step) cut(px, py, qx, qy, step);
      else {
        points.push2(px, py);
        near.push(close ? 1 : 0);
      }
    }
  };
  for (let loop = 0; loop + 1 < piece.start.length; loop++) {
    const a = piece.start[loop]!;
    const b = piece.start[loop + 1]!;
    for (let i = a; i < b; i++) {
      const j = i + 1 < b ? i + 1 : a;
      const [ax, ay] = [piece.points[2 * i]!, piece.points[2 * i + 1]!];
      cut(ax, ay, piece.points[2 * j]!, piece.points[2 * j + 1]!, 16 * step);
    }
    start[loop + 1] = points.length / 2;
  }
  return { loops: { points: points.take(), start }, near: Uint8Array.from(near) };
}

function normals({ loops, grid, nx, ny, length }: Walls): void {
  for (let i = 0; i < length.length; i++) {
    const j = grid.next[i]!;
    const dx = loops.points[2 * j]! - loops.points[2 * i]!;
    const dy = loops.points[2 * j + 1]! - loops.points[2 * i + 1]!;
    length[i] = Math.hypot(dx, dy);
    nx[i] = -dy / (length[i]! || 1);
    ny[i] = dx / (length[i]! || 1);
  }
}

/** The largest disc at the middle of a stretch, looked for up to the radius `reach`. */
function measure(walls: Walls, i: number, reach: number): void {
  const { grid, nx, ny, length } = walls;
  const { loops } = walls;
  const { points } = loops;
  const j = grid.next[i]!;
  const px = (points[2 * i]! + points[2 * j]!) / 2;
  const py = (points[2 * i + 1]! + points[2 * j + 1]!) / 2;
  const mx = nx[i]!;
  const my = ny[i]!;
  let any = reach;
  let facing = reach;
  let across = -1;
  /** Takes the disc of radius r that touches stretch e at q. */
  const take = (r: number, qx: number, qy: number, e: number): void => {
    if (r < any) any = r;
    if (r >= facing) return;
    const cos = (mx * (px + r * mx - qx) + my * (py + r * my - qy)) / r;
    if (cos > FACING) return;
    facing = r;
    across = e;
  };
  const cx = px + reach * mx;
  const cy = py + reach * my;
  nearBox(grid, cx - reach, cy - reach, cx + reach, cy + reach, (e) => {
    if (e === i) return;
    const ax = points[2 * e]! - px;
    const ay = points[2 * e + 1]! - py;
    const ex = nx[e]!;
    const ey = ny[e]!;
    const height = -(ax * ex + ay * ey);
    const open = 1 - (mx * ex + my * ey);
    if (height > 1e-7 && open > 1e-6) {
      const r = height / open;
      // Where the disc touches the line of the stretch, measured along it.
      const at = (r * (mx - ex) - ax) * ey - (r * (my - ey) - ay) * ex;
      if (r < any || r < facing) {
        if (at >= 0 && at <= length[e]!) {
          take(r, px + r * (mx - ex), py + r * (my - ey), e);
          return;
        }
      }
    }
    const ahead = ax * mx + ay * my;
    if (ahead < 1e-7) return;
    const r = (ax * ax + ay * ay) / (2 * ahead);
    if (r >= any && r >= facing) return;
    // Touched at its first point only if the edge leads away from the disc on both sides of it.
    const vx = (r * mx - ax) / r;
    const vy = (r * my - ay) / r;
    const before =
      e > loops.start[grid.loopOf[e]!]! ? e - 1 : loops.start[grid.loopOf[e]! + 1]! - 1;
    if (vx * ey - vy * ex > TOUCH_ROUNDING || vy * nx[before]! - vx * ny[before]! > TOUCH_ROUNDING)
      return;
    take(r, px + ax, py + ay, e);
  });
  walls.known[i] =
    any >= reach
      ? Known.wide
      : facing < reach && any >= IN_CORNER * facing
        ? Known.wall
        : Known.corner;
  if (walls.known[i] === Known.wall) {
    walls.radius[i] = facing;
    walls.across[i] = across;
  } else if (walls.known[i] === Known.corner) {
    walls.radius[i] = any;
  }
}
