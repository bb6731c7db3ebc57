/**
 * A point inside a connected area with holes: the middle of the widest stretch along one level line.
 * The level is that of a vertex pair half-way up, so it runs through no vertex.
 */
import type { Polygons } from './polygons.js';
import type { Vec2 } from '../base/vector.js';

export function insidePoint({ points, start }: Polygons): Vec2 {
  const level = levelOf(points);
  const hits: number[] = [];
  for (let loop = 0; loop + 1 < start.length; loop++) {
    const [from, to] = [start[loop]!, start[loop + 1]!];
    for (let i = from; i < to; i++) {
      const j = i + 1 < to ? i + 1 : from;
      const [x0, y0] = [points[2 * i]!, points[2 * i + 1]!];
      const [x1, y1] = [points[2 * j]!, points[2 * j + 1]!];
      if (y0 <= level === y1 <= level) continue;
      hits.push(x0 + ((level - y0) / (y1 - y0)) * (x1 - x0));
    }
  }
  hits.sort((a, b) => a - b);
  let best = 0;
  for (let i = 0; i + 1 < hits.length; i += 2) {
    if (hits[i + 1]! - hits[i]! > hits[best + 1]! - hits[best]!) best = i;
  }
  return [(hits[best]! + hits[best + 1]!) / 2, level];
}

/** Half-way between the two neighbouring vertex heights nearest to the middle of the outline. */
function levelOf(points: Float64Array): number {
  const heights = points.filter((_, i) => i % 2 === 1).sort();
  const middle = (heights[0]! + heights[heights.length - 1]!) / 2;
  let i = heights.findLastIndex((y) => y <= middle);
  while (i + 1 < heights.length - 1 && heights[i + 1] === heights[i]) i++;
  return (heights[i]! + heights[i + 1]!) / 2;
}
