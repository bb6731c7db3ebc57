/**
 * Where the sheets of a field lie near the table: for each height of growth the part of the sheet whose points are
 * at most so high over the table face, as loops in layer space. A sheet is flat in each tetrahedron and so is the
 * height over the table, so each tetrahedron gives one convex piece: its section by the sheet, cut off by a line.
 * Cost: linear in the tetrahedra near the table times the sheets that cross each.
 */
import { float64List, uint32List } from '../base/ragged.js';
import { firstAtLeast } from '../base/sorted.js';
import type { Polygons } from '../polygon/polygons.js';
import type { FieldMap } from './field-map.js';

/** u, v and height over the table at a corner of a section. */
type Corner = readonly [number, number, number];

/**
 * @param heights of the sheets, growth mm, rising
 * @param highest over the part's z = 0, mm
 * @returns for each height convex loops, counter-clockwise, side by side
 */
export function sheetsBelow(map: FieldMap, heights: Float64Array, highest: number): Polygons[] {
  const { lattice, layerNodes } = map;
  const { nodes, tetrahedra } = lattice;
  const lists = Array.from(heights, () => ({ points: float64List(), start: uint32List() }));
  for (const { start } of lists) start.push(0);
  for (let t = 0; t < tetrahedra.length / 4; t++) {
    const corners = [0, 1, 2, 3].map((k) => 3 * tetrahedra[4 * t + k]!);
    if (Math.min(...corners.map((at) => nodes[at + 2]!)) > highest) continue;
    const values = corners.map((at) => layerNodes[at + 2]!);
    const top = Math.max(...values);
    for (let k = firstAtLeast(heights, Math.min(...values)); k < heights.length; k++) {
      if (heights[k]! >= top) break;
      const cut = below(section(map, corners, values, heights[k]!), highest);
      if (cut.length < 3) continue;
      const { points, start } = lists[k]!;
      for (const [u, v] of leftward(cut)) points.push2(u, v);
      start.push(points.length / 2);
    }
  }
  return lists.map(({ points, start }) => ({ points: points.take(), start: start.take() }));
}

/** The corners of a tetrahedron's section by a sheet, in order round it: three, or four. */
function section(
  { lattice: { nodes }, layerNodes }: FieldMap,
  corners: readonly number[],
  values: readonly number[],
  height: number,
): Corner[] {
  const low = corners.filter((_, k) => values[k]! < height);
  const high = corners.filter((_, k) => values[k]! >= height);
  const between = (a: number, b: number): Corner => {
    const share = (height - layerNodes[a + 2]!) / (layerNodes[b + 2]! - layerNodes[a + 2]!);
    const at = (of: Float64Array, c: number): number =>
      of[a + c]! + share * (of[b + c]! - of[a + c]!);
    return [at(layerNodes, 0), at(layerNodes, 1), at(nodes, 2)];
  };
  if (low.length !== 2) return low.flatMap((a) => high.map((b) => between(a, b)));
  const [a, b] = low as [number, number];
  const [c, d] = high as [number, number];
  return [between(a, c), between(a, d), between(b, d), between(b, c)];
}

/** A convex loop where its third coordinate is at most a bound (Sutherland and Hodgman, CACM 17(1), 1974). */
function below(loop: readonly Corner[], bound: number): Corner[] {
  const out: Corner[] = [];
  loop.forEach((p, i) => {
    const q = loop[(i + 1) % loop.length]!;
    if (p[2] <= bound) out.push(p);
    if (p[2] <= bound === q[2] <= bound) return;
    const share = (bound - p[2]) / (q[2] - p[2]);
    out.push([p[0] + share * (q[0] - p[0]), p[1] + share * (q[1] - p[1]), bound]);
  });
  return out;
}

/** Counter-clockwise. */
function leftward(loop: Corner[]): Corner[] {
  const twice = loop.reduce((sum, [x, y], i) => {
    const [qx, qy] = loop[(i + 1) % loop.length]!;
    return sum + x * qy - qx * y;
  }, 0);
  return twice < 0 ? loop.reverse() : loop;
}
