/**
 * The number of beads across a wall and the width of their cells: a width is shared evenly among the
 * number of beads that comes nearest to the standard width. That makes cells of 0.75 to 1.25 of the
 * standard from two beads on (0.8 to 1.17 from three on); a single bead takes all up to 1.5 of it,
 * because two would be too thin, and all down to the least width.
 */
import { type BeadSizes, LOOP_TOLERANCE } from '../layer-section.js';
import { Known, type WidthUse, type Walls } from './wall-widths.js';

/** A change of the number that lasts for less than this many bead widths along the edge is undone, */
const LASTING = 3;
/** as long as cells stay between these shares of the standard width. */
const SMALLEST_CELL = 0.6;
const LARGEST = 1.5;
/** Two sides of a wall agree on its number of beads if their widths differ by less than this share. */
const SIDES_AGREE = 0.25;

export function shareOut(walls: Walls, sizes: BeadSizes, { contours }: WidthUse): void {
  const { known, radius, count, cell, across } = walls;
  const full = 2 * contours + 1;
  const cells = (i: number): number => 2 * radius[i]!;
  const numberOf = (i: number): number =>
    cells(i) + sizes.edge < sizes.least - LOOP_TOLERANCE
      ? 0
      : Math.min(full, Math.max(1, Math.round(cells(i) / sizes.spacing)));
  eachLoop(walls, (a, b) => roundest(walls, a, b));
  for (let i = 0; i < known.length; i++) {
    if (known[i] === Known.wall) count[i] = numberOf(i);
  }
  const fits = (i: number, n: number): boolean =>
    cells(i) > SMALLEST_CELL * n * sizes.spacing && cells(i) < LARGEST * n * sizes.spacing;
  eachLoop(walls, (a, b) => steady(walls, a, b, LASTING * sizes.width, fits));
  // One side of a wall decides for both, or a bead would end on one side alone.
  for (let i = 0; i < known.length; i++) {
    const j = across[i]!;
    if (known[i] !== Known.wall || j < 0 || j > i || known[j] !== Known.wall) continue;
    if (Math.abs(radius[i]! - radius[j]!) < SIDES_AGREE * radius[j]!) count[i] = count[j]!;
  }
  for (let i = 0; i < known.length; i++) {
    if (known[i] === Known.wall && count[i]! > 0) cell[i] = cells(i) / count[i]!;
    if (known[i] === Known.wide) {
      count[i] = full + 1;
      cell[i] = sizes.spacing;
    }
  }
  eachLoop(walls, (a, b) => carryOver(walls, a, b));
}

function eachLoop({ loops }: Walls, visit: (a: number, b: number) => void): void {
  for (let l = 0; l + 1 < loops.start.length; l++) visit(loops.start[l]!, loops.start[l + 1]!);
}

/** A loop that is all corner (a small triangle) is as wide as its largest disc, measured once. */
function roundest({ known, radius }: Walls, a: number, b: number): void {
  let best = a;
  for (let i = a; i < b; i++) {
    if (known[i] !== Known.corner) return;
    if (radius[i]! > radius[best]!) best = i;
  }
  if (b > a) known[best] = Known.wall;
}

interface CountRun {
  readonly members: number[];
  readonly count: number;
  length: number;
}

/**
 * Undoes short changes of the number between two runs of one and the same number. One pass over a
 * stack: only runs too short to last are ever moved again, so time is linear.
 */
function steady(
  walls: Walls,
  a: number,
  b: number,
  lasting: number,
  fits: (stretch: number, count: number) => boolean,
): void {
  for (const runs of runsOf(walls, a, b)) {
    const done: CountRun[] = [];
    for (const after of runs) {
      const run = done[done.length - 1];
      const before = done[done.length - 2];
      const brief = run && before && run.length < lasting && before.count === after.count;
      if (brief && after.count > 0 && run.members.every((i) => fits(i, after.count))) {
        for (const i of run.members) walls.count[i] = after.count;
        for (const i of run.members) before.members.push(i);
        for (const i of after.members) before.members.push(i);
        before.length += run.length + after.length;
        done.pop();
      } else done.push(after);
    }
  }
}

/** Stretches of a loop between wide places, as runs of one number; corners are passed over. */
function runsOf(walls: Walls, a: number, b: number): CountRun[][] {
  let first = a;
  while (first < b && walls.known[first] !== Known.wide) first++;
  if (first === b) first = a;
  const lists: CountRun[][] = [];
  let list: CountRun[] = [];
  for (let k = 0; k < b - a; k++) {
    const i = a + ((first - a + k) % (b - a));
    if (walls.known[i] === Known.wide) {
      if (list.length) lists.push(list);
      list = [];
    } else if (walls.known[i] === Known.wall) {
      const last = list[list.length - 1];
      if (last && last.count === walls.count[i]) {
        last.members.push(i);
        last.length += walls.length[i]!;
      } else list.push({ members: [i], count: walls.count[i]!, length: walls.length[i]! });
    }
  }
  if (list.length) lists.push(list);
  return lists;
}

/** Corners take number, cell and width from their neighbours along the loop. */
function carryOver(walls: Walls, a: number, b: number): void {
  const { known, length, radius, count, cell } = walls;
  const n = b - a;
  let first = -1;
  for (let i = a; i < b && first < 0; i++) if (known[i] !== Known.corner) first = i;
  if (first < 0) return;
  for (let k = 1; k < n;) {
    const i = a + ((first - a + k) % n);
    if (known[i] !== Known.corner) {
      k++;
      continue;
    }
    let gap = 0;
    let m = k;
    const at = (j: number): number => a + ((first - a + j) % n);
    for (; m < n && known[at(m)] === Known.corner; m++) gap += length[at(m)]!;
    const p = at(k - 1);
    const q = at(m);
    let gone = 0;
    for (let j = k; j < m; j++) {
      const c = at(j);
      const t = gap > 0 ? (gone + length[c]! / 2) / gap : 0;
      gone += length[c]!;
      const near = t < 0.5 ? p : q;
      const even = count[p] === count[q] && known[p] === known[q];
      count[c] = count[near]!;
      cell[c] = even ? cell[p]! + t * (cell[q]! - cell[p]!) : cell[near]!;
      radius[c] =
        even && known[p] === Known.wall
          ? radius[p]! + t * (radius[q]! - radius[p]!)
          : radius[near]!;
    }
    k = m;
  }
}
