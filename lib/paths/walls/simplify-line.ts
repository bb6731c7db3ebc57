/**
 * Polyline simplification with a cell width at each point: no dropped point lies farther than the
 * tolerance from what stays, its width included as a third coordinate. Greedy, with a fixed number of
 * points of look-ahead, so time is linear.
 */
const LINE_TOLERANCE = 0.002;
const POINTS_AHEAD = 40;
/** A stretch has one width: what changes by more than this, mm, takes several. */
const WIDTH_STEP = 0.02;

export interface SimplifiedLine {
  readonly xy: Float64Array;
  readonly cell: Float64Array;
}

export function simplifiedLine(
  xy: Float64Array,
  cell: Float64Array,
  closed: boolean,
): SimplifiedLine {
  const n = cell.length;
  const last = closed ? n : n - 1;
  const keep: number[] = [0];
  for (let i = 0; i < last;) {
    let j = i + 1;
    while (j < last && j - i < POINTS_AHEAD && fits(xy, cell, i, j + 1, n)) j++;
    if (j < n) keep.push(j);
    i = j;
  }
  if (closed && keep.length < 3) return { xy, cell };
  return {
    xy: Float64Array.from(keep.flatMap((i) => [xy[2 * i]!, xy[2 * i + 1]!])),
    cell: Float64Array.from(keep, (i) => cell[i]!),
  };
}

/** Whether all points between i and j lie within the tolerance of the straight way. */
function fits(xy: Float64Array, cell: Float64Array, i: number, j: number, n: number): boolean {
  const q = j % n;
  const x = xy[2 * i]!;
  const y = xy[2 * i + 1]!;
  const c = cell[i]!;
  const dx = xy[2 * q]! - x;
  const dy = xy[2 * q + 1]! - y;
  const dc = cell[q]! - c;
  if (Math.abs(dc) > WIDTH_STEP) return false;
  const length2 = dx * dx + dy * dy + dc * dc;
  for (let k = i + 1; k < j; k++) {
    const ex = xy[2 * k]! - x;
    const ey = xy[2 * k + 1]! - y;
    const ec = cell[k]! - c;
    const t = length2 > 0 ? (ex * dx + ey * dy + ec * dc) / length2 : 0;
    const s = Math.max(0, Math.min(1, t));
    const d = (ex - s * dx) ** 2 + (ey - s * dy) ** 2 + (ec - s * dc) ** 2;
    if (d > LINE_TOLERANCE * LINE_TOLERANCE) return false;
  }
  return true;
}
