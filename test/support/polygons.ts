import type { Polygons } from '../../lib/polygon/polygons.js';

/** Polygons from nested plain points. */
export function polygonsFrom(loops: readonly (readonly (readonly [number, number])[])[]): Polygons {
  const start = new Uint32Array(loops.length + 1);
  loops.forEach((loop, i) => (start[i + 1] = start[i]! + loop.length));
  return { points: Float64Array.from(loops.flat(2) as number[]), start };
}
