/** The bunny of stl-models, closed, 100 mm high, at 70 k triangles and at more. */
import type { Mesh } from '../../lib/mesh/mesh.js';
import { bunny69k, scaledToHeight, subdivide, yUp } from '../support/open-meshes.js';

/** @param finer how often each triangle is split into four: 0 is 69,664, 2 is 1.1 million */
export function bunny(finer: number): Mesh {
  let mesh = scaledToHeight(yUp(bunny69k()), 100);
  for (let i = 0; i < finer; i++) mesh = subdivide(mesh);
  return mesh;
}

/** Middles of `count` even layers over the height of 100 mm. */
export const heights = (count: number): Float64Array =>
  Float64Array.from({ length: count }, (_, k) => ((k + 0.5) * 100) / count);
