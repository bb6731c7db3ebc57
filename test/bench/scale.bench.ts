/**
 * How time grows with the mesh: from 70 k to 1.1 million triangles of the same surface, 500 layers.
 * The ratio is the exponent e in time ~ triangles^e; points of the result only double with each
 * fourfold mesh, so it may lie well under 1.
 */
import { crossingLayers } from '../../lib/layers/crossing-loops.js';
import { sections } from '../../lib/layers/sweep.js';
import { meshFrom } from '../../lib/mesh/build.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { type Row, timed } from './bench.js';
import { bunny, heights } from './meshes.js';

const works: [string, (mesh: Mesh) => unknown, Row['want']][] = [
  ['sweep', (mesh) => sections(mesh, heights(500)), { most: 1.1 }],
  ['sweep, crossings', (mesh) => crossingLayers(sections(mesh, heights(500))), { most: 1.1 }],
  // Once a mesh; random access, so the small mesh has its caches to itself.
  ['twins', (mesh) => meshFrom(mesh.vertices, mesh.triangles), {}],
  [
    'twins, sweep, crossings',
    ({ vertices, triangles }) =>
      crossingLayers(sections(meshFrom(vertices, triangles), heights(500))),
    { most: 1.1 },
  ],
];

export function run(): Promise<Row[]> {
  const [small, large] = [bunny(0), bunny(2)];
  const growth = Math.log(large.triangles.length / small.triangles.length);
  return Promise.resolve(
    works.map(([name, work, want]) => {
      const a = timed(() => work(small));
      const b = timed(() => work(large));
      return {
        name: `${name}, 70 k to 1.1 M triangles: exponent`,
        a,
        b,
        ratio: Math.log(b / a) / growth,
        want,
      };
    }),
  );
}
