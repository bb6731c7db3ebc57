/**
 * A uniform grid over the edges of loops, which answers in about constant time whether a segment
 * crosses a loop, whether a point is inside (even-odd), which loop lies left of a point, and which
 * edges are near. Cells have about the size of one edge's share of the box; rows run along x.
 */
import type { Polygons } from './polygons.js';
import { boxOf } from './loops.js';

export interface EdgeGrid {
  readonly p: Polygons;
  /** Corner of cell 0, mm. */
  readonly x: number;
  readonly y: number;
  /** Side of a cell, mm. */
  readonly size: number;
  readonly columns: number;
  readonly rows: number;
  /** Edges of cell c are `edges[cellStart[c] .. cellStart[c + 1]]`; an edge is named by its first point. */
  readonly cellStart: Uint32Array;
  readonly edges: Uint32Array;
  /** The point after each point of its loop. */
  readonly next: Uint32Array;
  readonly loopOf: Uint32Array;
}

/** @param least smallest side of a cell, mm */
export function gridOf(p: Polygons, least = 0): EdgeGrid {
  const count = p.points.length / 2;
  const next = new Uint32Array(count);
  const loopOf = new Uint32Array(count);
  for (let loop = 0; loop + 1 < p.start.length; loop++) {
    for (let i = p.start[loop]!; i < p.start[loop + 1]!; i++) {
      next[i] = i + 1 < p.start[loop + 1]! ? i + 1 : p.start[loop]!;
      loopOf[i] = loop;
    }
  }
  const [x0, y0, x1, y1] = count ? boxOf(p.points) : [0, 0, 0, 0];
  const wide = Math.max(x1 - x0, y1 - y0, 1e-3);
  const tall = Math.max(Math.min(x1 - x0, y1 - y0), wide / 64);
  const size = Math.max(least, Math.sqrt((wide * tall) / Math.max(1, count)));
  const columns = Math.floor((x1 - x0) / size) + 1;
  const rows = Math.floor((y1 - y0) / size) + 1;
  const shape = { p, x: x0, y: y0, size, columns, rows, next, loopOf };
  const cellStart = new Uint32Array(columns * rows + 1);
  for (let i = 0; i < count; i++) {
    alongEdge(shape, i, (cell) => {
      cellStart[cell + 1]!++;
    });
  }
  for (let c = 0; c < columns * rows; c++) cellStart[c + 1]! += cellStart[c]!;
  const edges = new Uint32Array(cellStart[columns * rows]!);
  const fill = cellStart.slice();
  for (let i = 0; i < count; i++) {
    alongEdge(shape, i, (cell) => {
      edges[fill[cell]!++] = i;
    });
  }
  return { ...shape, cellStart, edges };
}

type GridShape = Omit<EdgeGrid, 'cellStart' | 'edges'>;

function alongEdge(g: GridShape, i: number, visit: (cell: number) => void): void {
  const j = g.next[i]!;
  const { points } = g.p;
  alongSegment(g, points[2 * i]!, points[2 * i + 1]!, points[2 * j]!, points[2 * j + 1]!, visit);
}

/** Visits every cell that a segment touches, and perhaps a neighbour more. */
export function alongSegment(
  g: GridShape,
  ax: number,
  ay: number,
  bx: number,
  by: number,
  visit: (cell: number) => unknown,
): void {
  const pad = 1e-9 * (Math.abs(ax) + Math.abs(bx) + g.size);
  const low = Math.min(ay, by);
  const high = Math.max(ay, by);
  const r0 = Math.max(0, Math.floor((low - pad - g.y) / g.size));
  const r1 = Math.min(g.rows - 1, Math.floor((high + pad - g.y) / g.size));
  for (let r = r0; r <= r1; r++) {
    let left = Math.min(ax, bx);
    let right = Math.max(ax, bx);
    if (r0 < r1 && ay !== by) {
      // The part of the segment within this row.
      const t0 = Math.min(1, Math.max(0, (g.y + r * g.size - ay) / (by - ay)));
      const t1 = Math.min(1, Math.max(0, (g.y + (r + 1) * g.size - ay) / (by - ay)));
      const xa = ax + t0 * (bx - ax);
      const xb = ax + t1 * (bx - ax);
      left = Math.min(xa, xb);
      right = Math.max(xa, xb);
    }
    const c0 = Math.max(0, Math.floor((left - pad - g.x) / g.size));
    const c1 = Math.min(g.columns - 1, Math.floor((right + pad - g.x) / g.size));
    for (let c = c0; c <= c1; c++) if (visit(r * g.columns + c) === false) return;
  }
}

/** Whether the segment meets any edge; touching counts. */
export function crosses(g: EdgeGrid, ax: number, ay: number, bx: number, by: number): boolean {
  let found = false;
  const { points } = g.p;
  alongSegment(g, ax, ay, bx, by, (cell) => {
    for (let k = g.cellStart[cell]!; k < g.cellStart[cell + 1]!; k++) {
      const i = 2 * g.edges[k]!;
      const j = 2 * g.next[g.edges[k]!]!;
      if (meet(ax, ay, bx, by, points[i]!, points[i + 1]!, points[j]!, points[j + 1]!)) {
        found = true;
        return false;
      }
    }
    return true;
  });
  return found;
}

function meet(
  ax: number,
  ay: number,
  bx: number,
  by: number,
  cx: number,
  cy: number,
  dx: number,
  dy: number,
): boolean {
  const side = (px: number, py: number, qx: number, qy: number, rx: number, ry: number): number =>
    (qx - px) * (ry - py) - (qy - py) * (rx - px);
  if (Math.max(cx, dx) < Math.min(ax, bx) || Math.min(cx, dx) > Math.max(ax, bx)) return false;
  if (Math.max(cy, dy) < Math.min(ay, by) || Math.min(cy, dy) > Math.max(ay, by)) return false;
  return (
    side(ax, ay, bx, by, cx, cy) * side(ax, ay, bx, by, dx, dy) <= 0 &&
    side(cx, cy, dx, dy, ax, ay) * side(cx, cy, dx, dy, bx, by) <= 0
  );
}

/** Whether a point lies inside by the even-odd rule; points on an edge may fall either way. */
export function contains(g: EdgeGrid, x: number, y: number): boolean {
  const row = Math.floor((y - g.y) / g.size);
  if (row < 0 || row >= g.rows || x < g.x) return false;
  let odd = false;
  const last = Math.min(g.columns - 1, Math.floor((x - g.x) / g.size));
  for (let c = 0; c <= last; c++) {
    const cell = row * g.columns + c;
    for (let k = g.cellStart[cell]!; k < g.cellStart[cell + 1]!; k++) {
      const at = crossingOf(g, g.edges[k]!, y);
      // An edge stands in several cells of a row; its crossing lies in exactly one.
      if (at <= x && columnOf(g, at) === c) odd = !odd;
    }
  }
  return odd;
}

/** The first loop met going left from a point, edges of `except` not counted; -1 if none. */
export function hitLeft(g: EdgeGrid, x: number, y: number, except = -1): number {
  const row = Math.floor((y - g.y) / g.size);
  if (row < 0 || row >= g.rows) return -1;
  for (let c = Math.min(g.columns - 1, Math.floor((x - g.x) / g.size)); c >= 0; c--) {
    const cell = row * g.columns + c;
    let best = -Infinity;
    let loop = -1;
    for (let k = g.cellStart[cell]!; k < g.cellStart[cell + 1]!; k++) {
      const edge = g.edges[k]!;
      if (g.loopOf[edge] === except) continue;
      const at = crossingOf(g, edge, y);
      if (at <= x && at > best && columnOf(g, at) === c) {
        best = at;
        loop = g.loopOf[edge]!;
      }
    }
    if (loop >= 0) return loop;
  }
  return -1;
}

const columnOf = (g: EdgeGrid, x: number): number =>
  Math.min(g.columns - 1, Math.max(0, Math.floor((x - g.x) / g.size)));

/** Where an edge crosses a level line, mm, NaN if it does not; an end counts as up iff y >= level. */
function crossingOf(g: EdgeGrid, edge: number, level: number): number {
  const i = 2 * edge;
  const j = 2 * g.next[edge]!;
  const { points } = g.p;
  const y0 = points[i + 1]!;
  const y1 = points[j + 1]!;
  if (y0 >= level === y1 >= level) return NaN;
  return points[i]! + ((level - y0) / (y1 - y0)) * (points[j]! - points[i]!);
}

/** Visits the edges in all cells that a box touches; an edge may come more than once. */
export function nearBox(
  g: EdgeGrid,
  x0: number,
  y0: number,
  x1: number,
  y1: number,
  visit: (edge: number) => void,
): void {
  const c0 = Math.max(0, Math.floor((x0 - g.x) / g.size));
  const c1 = Math.min(g.columns - 1, Math.floor((x1 - g.x) / g.size));
  const r0 = Math.max(0, Math.floor((y0 - g.y) / g.size));
  const r1 = Math.min(g.rows - 1, Math.floor((y1 - g.y) / g.size));
  for (let r = r0; r <= r1; r++) {
    for (let c = c0; c <= c1; c++) {
      const cell = r * g.columns + c;
      for (let k = g.cellStart[cell]!; k < g.cellStart[cell + 1]!; k++) visit(g.edges[k]!);
    }
  }
}

export interface SegmentHit {
  /** Share of the way along the segment. */
  readonly t: number;
  readonly edge: number;
}

const noHits: readonly SegmentHit[] = [];

/**
 * Where a segment meets the loops, in its order. Which side of the segment's line a point is on is
 * decided by one rule for all its edges, so a loop meets the whole line an even number of times.
 */
export function hitsOf(
  g: EdgeGrid,
  ax: number,
  ay: number,
  bx: number,
  by: number,
): readonly SegmentHit[] {
  let found: SegmentHit[] | undefined;
  const { points } = g.p;
  const dx = bx - ax;
  const dy = by - ay;
  const left = (i: number): boolean =>
    dx * (points[2 * i + 1]! - ay) - dy * (points[2 * i]! - ax) >= 0;
  alongSegment(g, ax, ay, bx, by, (cell) => {
    for (let k = g.cellStart[cell]!; k < g.cellStart[cell + 1]!; k++) {
      const edge = g.edges[k]!;
      const to = g.next[edge]!;
      if (left(edge) === left(to)) continue;
      const ex = points[2 * to]! - points[2 * edge]!;
      const ey = points[2 * to + 1]! - points[2 * edge + 1]!;
      const t =
        ((points[2 * edge]! - ax) * ey - (points[2 * edge + 1]! - ay) * ex) / (dx * ey - dy * ex);
      if (t < 0 || t > 1 || found?.some((h) => h.edge === edge)) continue;
      (found ??= []).push({ t, edge });
    }
  });
  return found ? found.sort((a, b) => a.t - b.t || a.edge - b.edge) : noHits;
}

/** The edge nearest to a point, and its distance, mm; equal ones by the lower number. */
export function nearestEdge(g: EdgeGrid, x: number, y: number): { edge: number; distance: number } {
  const { points } = g.p;
  let best = 0;
  let least = Infinity;
  // Boxes grow until the nearest edge found lies within the reach that was searched.
  for (let reach = g.size; ; reach *= 2) {
    nearBox(g, x - reach, y - reach, x + reach, y + reach, (edge) => {
      const i = 2 * edge;
      const j = 2 * g.next[edge]!;
      const dx = points[j]! - points[i]!;
      const dy = points[j + 1]! - points[i + 1]!;
      const ex = x - points[i]!;
      const ey = y - points[i + 1]!;
      const t = Math.max(0, Math.min(1, (ex * dx + ey * dy) / (dx * dx + dy * dy || 1)));
      const d = (ex - t * dx) ** 2 + (ey - t * dy) ** 2;
      if (d < least || (d === least && edge < best)) {
        least = d;
        best = edge;
      }
    });
    if (least <= reach * reach) return { edge: best, distance: Math.sqrt(least) };
    if (reach > 1e9) throw new Error('no edge to be near to');
  }
}
