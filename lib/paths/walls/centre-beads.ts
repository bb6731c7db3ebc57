/**
 * The beads in the middle of walls with an odd number of beads: lines through the centres of the discs
 * that measured the width. Each wall is seen from both of its sides; the side whose stretch has the
 * lower number decides.
 */
import { nearestEdge } from '../../polygon/edge-grid.js';
import { nearestOf } from '../sequence/nearest-free.js';
import type { BeadSizes } from '../layer-section.js';
import { Known, type Walls } from './wall-widths.js';

/** A line with the cell width at each of its points, mm. */
export interface CentreLine {
  readonly xy: Float64Array;
  readonly cell: Float64Array;
  readonly closed: boolean;
}

/** Centres within this many bead widths are neighbours, */
const NEIGHBOUR_WIDTHS = 0.5;
/** and up to so many half widths of the wall, */
const MOST_APART = 3;
/** if half-way at least this share of the half width is there. */
const WALL_BETWEEN = 0.8;

export function middles(walls: Walls, sizes: BeadSizes): CentreLine[] {
  const lines: number[][] = [];
  const { loops } = walls;
  for (let l = 0; l + 1 < loops.start.length; l++) {
    lines.push(...linesAlong(walls, loops.start[l]!, loops.start[l + 1]!, sizes));
  }
  return joined(walls, lines, sizes).map(({ line, closed }) => shaped(walls, line, closed, sizes));
}

const speaks = ({ known, across, count }: Walls, i: number): boolean =>
  known[i] === Known.wall && (across[i]! < 0 || i < across[i]!) && count[i]! % 2 === 1;

/** Centre of the disc at a stretch. */
export function centre(walls: Walls, i: number): [number, number] {
  const { points } = walls.loops;
  const j = walls.grid.next[i]!;
  const r = walls.radius[i]!;
  return [
    (points[2 * i]! + points[2 * j]!) / 2 + r * walls.nx[i]!,
    (points[2 * i + 1]! + points[2 * j + 1]!) / 2 + r * walls.ny[i]!,
  ];
}

/**
 * Whether two centres are neighbours on one line. Across a bend or a crossing there are places that
 * no disc measured: the line goes on over them if the wall is about as wide half-way.
 */
function belong(walls: Walls, i: number, j: number, sizes: BeadSizes): boolean {
  const [ax, ay] = centre(walls, i);
  const [bx, by] = centre(walls, j);
  const gap = Math.hypot(bx - ax, by - ay);
  if (gap < NEIGHBOUR_WIDTHS * sizes.width) return true;
  const radius = Math.min(walls.radius[i]!, walls.radius[j]!);
  if (gap > MOST_APART * radius) return false;
  return nearestEdge(walls.grid, (ax + bx) / 2, (ay + by) / 2).distance > WALL_BETWEEN * radius;
}

/** Runs of deciding stretches along one loop, as stretch numbers. */
function linesAlong(walls: Walls, a: number, b: number, sizes: BeadSizes): number[][] {
  const out: number[][] = [];
  let line: number[] = [];
  const end = (): void => {
    if (line.length) out.push(line);
    line = [];
  };
  for (let i = a; i < b; i++) {
    if (speaks(walls, i)) {
      const last = line[line.length - 1];
      if (last !== undefined && !belong(walls, last, i, sizes)) end();
      line.push(i);
    } else if (walls.known[i] !== Known.corner) end();
  }
  end();
  return out;
}

/**
 * Joins lines that end where another begins: at the loop's own start, or where the other side
 * decides. Every end is matched with the nearest free one; a line matched with itself is closed.
 */
function joined(
  walls: Walls,
  lines: readonly number[][],
  sizes: BeadSizes,
): { line: number[]; closed: boolean }[] {
  // End 2k is the start of line k, 2k + 1 its end.
  const ends = lines.flatMap((line) => [line[0]!, line[line.length - 1]!]);
  const at = ends.map((i) => centre(walls, i));
  const tree = nearestOf(
    Float64Array.from(at, ([x]) => x),
    Float64Array.from(at, ([, y]) => y),
  );
  const mate = new Int32Array(ends.length).fill(-1);
  const free = new Uint8Array(ends.length).fill(1);
  for (let e = 0; e < ends.length; e++) {
    if (!free[e]) continue;
    free[e] = 0;
    tree.take(e);
    // A line too short to go round can not meet itself.
    const other = e ^ 1;
    const short = lines[e >> 1]!.length < CLOSED;
    if (short && free[other]) tree.hide(other);
    const f = tree.find(...at[e]!);
    if (short && free[other]) tree.show(other);
    if (f < 0) continue;
    const gap = Math.hypot(at[e]![0] - at[f]![0], at[e]![1] - at[f]![1]);
    if (gap > NEIGHBOUR_WIDTHS * sizes.width) continue;
    mate[e] = f;
    mate[f] = e;
    free[f] = 0;
    tree.take(f);
  }
  return threaded(lines, mate);
}

/** Least number of stretches in a line that may close on itself. */
const CLOSED = 8;

/** Follows the matches from a loose end, and then around what is closed. */
function threaded(
  lines: readonly number[][],
  mate: Int32Array,
): { line: number[]; closed: boolean }[] {
  const done = new Uint8Array(lines.length);
  const out: { line: number[]; closed: boolean }[] = [];
  const follow = (first: number): void => {
    const line: number[] = [];
    let e = first;
    while (e >= 0 && !done[e >> 1]) {
      done[e >> 1] = 1;
      const part = lines[e >> 1]!;
      line.push(...(e % 2 === 0 ? part : part.slice().reverse()));
      e = mate[e ^ 1]!;
    }
    out.push({ line, closed: e >= 0 });
  };
  for (let e = 0; e < mate.length; e++) if (mate[e]! < 0 && !done[e >> 1]) follow(e);
  for (let k = 0; k < lines.length; k++) if (!done[k]) follow(2 * k);
  return out;
}

/** Centres closer than this share of a bead are one point of the line. */
const ONE_POINT = 0.2;

function shaped(
  walls: Walls,
  line: readonly number[],
  closed: boolean,
  sizes: BeadSizes,
): CentreLine {
  const xy: number[] = [];
  const cell: number[] = [];
  for (const i of line) {
    const [x, y] = centre(walls, i);
    const n = xy.length;
    if (n > 0 && Math.hypot(x - xy[n - 2]!, y - xy[n - 1]!) < ONE_POINT * sizes.width) continue;
    xy.push(x, y);
    cell.push(walls.cell[i]!);
  }
  return { xy: Float64Array.from(xy), cell: Float64Array.from(cell), closed };
}
