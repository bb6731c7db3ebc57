/** The bunny of stl-models, closed, 100 mm high, at 70 k triangles and at more. Run from the repository's root. */
import { readFileSync } from 'node:fs';
import { heal } from '../../lib/mesh/heal.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { readBinaryStl } from '../../lib/mesh/stl.js';
import { scaledToHeight, subdivide, yUp } from '../support/open-meshes.js';

/** @param finer how often each triangle is split into four: 0 is 69,664, 2 is 1.1 million */
export function bunny(finer: number): Mesh {
  const bytes = readFileSync('node_modules/stl-models/objects/bunny.bin.stl');
  let mesh = scaledToHeight(yUp(heal(readBinaryStl(bytes), true).mesh), 100);
  for (let i = 0; i < finer; i++) mesh = subdivide(mesh);
  return mesh;
}

/** Middles of `count` even layers over the height of 100 mm. */
export const heights = (count: number): Float64Array =>
  Float64Array.from({ length: count }, (_, k) => ((k + 0.5) * 100) / count);
