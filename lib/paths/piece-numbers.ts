/** Connected pieces of an area: which of its loops bound the same one. */
import type { Polygons } from '../polygon/polygons.js';
import { type EdgeGrid, gridOf, hitLeft } from '../polygon/edge-grid.js';
import { concat, isEmpty, loopsOf } from '../polygon/loops.js';

/**
 * For each loop the number of the connected piece of area it bounds; pieces are numbered by their
 * outer loop. A hole belongs to the piece of the loop that is met first when one goes left from its
 * leftmost point: that is the outer loop, or a hole of the same piece that lies farther left.
 */
export function piecesOf(p: Polygons, grid: EdgeGrid): Int32Array {
  const loops = p.start.length - 1;
  const piece = new Int32Array(loops).fill(-1);
  const holes: { loop: number; x: number; y: number }[] = [];
  let count = 0;
  for (let loop = 0; loop < loops; loop++) {
    const { x, y, outer } = leftmost(p, loop);
    if (outer) piece[loop] = count++;
    else holes.push({ loop, x, y });
  }
  holes.sort((a, b) => a.x - b.x);
  for (const { loop, x, y } of holes) {
    const met = hitLeft(grid, x, y, loop);
    piece[loop] = met < 0 ? count++ : piece[met]!;
  }
  return piece;
}

/** The leftmost point of a loop; the turn there distinguishes an outer loop from a hole. */
function leftmost(p: Polygons, loop: number): { x: number; y: number; outer: boolean } {
  const a = p.start[loop]!;
  const b = p.start[loop + 1]!;
  let sum = 0;
  let best = a;
  for (let i = a; i < b; i++) {
    const j = i + 1 < b ? i + 1 : a;
    if (p.points[2 * i]! < p.points[2 * best]!) best = i;
    sum +=
      (p.points[2 * i]! - p.points[2 * a]!) * (p.points[2 * j + 1]! - p.points[2 * a + 1]!) -
      (p.points[2 * j]! - p.points[2 * a]!) * (p.points[2 * i + 1]! - p.points[2 * a + 1]!);
  }
  return { x: p.points[2 * best]!, y: p.points[2 * best + 1]!, outer: sum > 0 };
}

/** The loops of each piece together. */
export function splitPieces(p: Polygons, piece: Int32Array): Polygons[] {
  const lists: Polygons[][] = [];
  for (let loop = 0; loop < piece.length; loop++) {
    (lists[piece[loop]!] ??= []).push(loopsOf(p, loop, loop + 1));
  }
  return lists.map(concat);
}

/** The connected pieces of an area, each by itself. */
export const piecesIn = (p: Polygons): Polygons[] =>
  isEmpty(p) ? [] : splitPieces(p, piecesOf(p, gridOf(p)));
