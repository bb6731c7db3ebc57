/** Parts of a Polygons record, joining, boxes, lengths. */
import type { Polygons } from './polygons.js';

/** Loops from .. to (exclusive) as Polygons of their own; points are a view. */
export function loopsOf(p: Polygons, from: number, to: number): Polygons {
  const first = p.start[from]!;
  return {
    points: p.points.subarray(2 * first, 2 * p.start[to]!),
    start: p.start.slice(from, to + 1).map((i) => i - first),
  };
}

/** All loops of a list, in its order. */
export function concat(list: readonly Polygons[]): Polygons {
  if (list.length === 1) return list[0]!;
  let points = 0;
  let loops = 0;
  for (const p of list) {
    points += p.points.length;
    loops += p.start.length - 1;
  }
  const out = { points: new Float64Array(points), start: new Uint32Array(loops + 1) };
  let at = 0;
  let loop = 0;
  for (const p of list) {
    out.points.set(p.points, at);
    for (let i = 1; i < p.start.length; i++) out.start[++loop] = at / 2 + p.start[i]!;
    at += p.points.length;
  }
  return out;
}

/** The loops that `keep` names, in their order. */
export function pick(p: Polygons, keep: (loop: number) => boolean): Polygons {
  const list: Polygons[] = [];
  for (let i = 0; i + 1 < p.start.length; i++) if (keep(i)) list.push(loopsOf(p, i, i + 1));
  return concat(list);
}

export const isEmpty = (p: Polygons): boolean => p.points.length === 0;

/** x0, y0, x1, y1 of all points, mm; infinite when there are none. */
export function boxOf(points: Float64Array): [number, number, number, number] {
  const box: [number, number, number, number] = [Infinity, Infinity, -Infinity, -Infinity];
  for (let i = 0; i < points.length; i += 2) {
    const x = points[i]!;
    const y = points[i + 1]!;
    if (x < box[0]) box[0] = x;
    if (x > box[2]) box[2] = x;
    if (y < box[1]) box[1] = y;
    if (y > box[3]) box[3] = y;
  }
  return box;
}

/** Length of one closed loop, mm. */
export function loopLength(p: Polygons, loop: number): number {
  const a = p.start[loop]!;
  const b = p.start[loop + 1]!;
  let sum = 0;
  for (let i = a; i < b; i++) {
    const j = i + 1 < b ? i + 1 : a;
    sum += Math.hypot(
      p.points[2 * j]! - p.points[2 * i]!,
      p.points[2 * j + 1]! - p.points[2 * i + 1]!,
    );
  }
  return sum;
}

export function perimeter(p: Polygons): number {
  let sum = 0;
  for (let i = 0; i + 1 < p.start.length; i++) sum += loopLength(p, i);
  return sum;
}

/** Length of an open line of packed points, mm. */
export function lineLength(xy: Float64Array): number {
  let sum = 0;
  for (let i = 2; i < xy.length; i += 2) {
    sum += Math.hypot(xy[i]! - xy[i - 2]!, xy[i + 1]! - xy[i - 1]!);
  }
  return sum;
}
