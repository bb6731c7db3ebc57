/**
 * Loops by layer: those of one layer as Polygons of their own, and those near another set of layers.
 */
import type { Polygons } from '../polygon/polygons.js';
import { uint32List } from '../base/ragged.js';
import type { Sections } from './sweep.js';

/** Loops from .. to (exclusive) as Polygons; points are a view, offsets a copy. */
export function loopsOf(p: Polygons, from: number, to: number): Polygons {
  const begin = p.start[from]!;
  return {
    points: p.points.subarray(2 * begin, 2 * p.start[to]!),
    start: p.start.slice(from, to + 1).map((i) => i - begin),
  };
}

/** Every layer's loops. */
export function rowsOf({ section, layerStart }: Sections): Polygons[] {
  return Array.from({ length: layerStart.length - 1 }, (_, k) =>
    loopsOf(section, layerStart[k]!, layerStart[k + 1]!),
  );
}

/** Layers joined into one record. */
export function joined(rows: readonly Polygons[]): Sections {
  let points = 0;
  let loops = 0;
  for (const row of rows) {
    points += row.points.length;
    loops += row.start.length - 1;
  }
  const out = new Float64Array(points);
  const start = new Uint32Array(loops + 1);
  const layerStart = new Uint32Array(rows.length + 1);
  let at = 0;
  let loop = 0;
  rows.forEach((row, k) => {
    out.set(row.points, at);
    for (let i = 1; i < row.start.length; i++) start[++loop] = at / 2 + row.start[i]!;
    at += row.points.length;
    layerStart[k + 1] = loop;
  });
  return { section: { points: out, start }, layerStart };
}

type PlaneBox = [number, number, number, number];

/**
 * The loops of `all` whose box meets the box of `rows` in the same layer or a neighbouring one, grown
 * by `margin` (mm). A loop outside the box neither encloses nor enters anything within it.
 */
export function onlyNear(all: Sections, rows: readonly Polygons[], margin: number): Sections {
  const boxes = rows.map((row) => boxOf(row.points, 0, row.points.length));
  const { section, layerStart } = all;
  const keep = uint32List();
  const starts = new Uint32Array(rows.length + 1);
  let points = 0;
  for (let k = 0; k < rows.length; k++) {
    const box = joinedBox([boxes[k - 1], boxes[k], boxes[k + 1]]);
    for (let i = layerStart[k]!; i < layerStart[k + 1]!; i++) {
      const [from, to] = [2 * section.start[i]!, 2 * section.start[i + 1]!];
      const b = boxOf(section.points, from, to);
      if (b[0] > box[2] + margin || b[2] < box[0] - margin) continue;
      if (b[1] > box[3] + margin || b[3] < box[1] - margin) continue;
      keep.push(i);
      points += to - from;
    }
    starts[k + 1] = keep.length;
  }
  const out = new Float64Array(points);
  const start = new Uint32Array(keep.length + 1);
  let at = 0;
  for (let j = 0; j < keep.length; j++) {
    const i = keep.at(j);
    const loop = section.points.subarray(2 * section.start[i]!, 2 * section.start[i + 1]!);
    out.set(loop, at);
    at += loop.length;
    start[j + 1] = at / 2;
  }
  return { section: { points: out, start }, layerStart: starts };
}

function boxOf(points: Float64Array, from: number, to: number): PlaneBox {
  const box: PlaneBox = [Infinity, Infinity, -Infinity, -Infinity];
  for (let i = from; i < to; i += 2) {
    const x = points[i]!;
    const y = points[i + 1]!;
    if (x < box[0]) box[0] = x;
    if (y < box[1]) box[1] = y;
    if (x > box[2]) box[2] = x;
    if (y > box[3]) box[3] = y;
  }
  return box;
}

function joinedBox(boxes: readonly (PlaneBox | undefined)[]): PlaneBox {
  const out: PlaneBox = [Infinity, Infinity, -Infinity, -Infinity];
  for (const b of boxes) {
    if (!b) continue;
    out[0] = Math.min(out[0], b[0]);
    out[1] = Math.min(out[1], b[1]);
    out[2] = Math.max(out[2], b[2]);
    out[3] = Math.max(out[3], b[3]);
  }
  return out;
}
