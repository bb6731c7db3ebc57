/**
 * Sections of all layers: the own sweep against the solid kernel's slice, a plane at a time, and
 * toPolygons; the same mesh, the same 500 planes. Building the kernel's solid and the mesh's twins is
 * counted on neither side. Loops are counted as well: the ratio of counts must be 1.
 */
import loadManifold from 'manifold-3d';
import { sections } from '../../lib/layers/sweep.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { type Row, timed } from './bench.js';
import { bunny, heights } from './meshes.js';

export async function run(): Promise<Row[]> {
  const kernel = await loadManifold();
  kernel.setup();
  return [0, 2].flatMap((finer) => compare(kernel, rounded(bunny(finer))));
}

type Kernel = Awaited<ReturnType<typeof loadManifold>>;

/** The kernel takes float32, so both work on coordinates that are. */
const rounded = (mesh: Mesh): Mesh => ({ ...mesh, vertices: mesh.vertices.map(Math.fround) });

function compare(kernel: Kernel, mesh: Mesh): Row[] {
  const planes = heights(500);
  const solid = new kernel.Manifold(
    new kernel.Mesh({
      numProp: 3,
      vertProperties: Float32Array.from(mesh.vertices),
      triVerts: mesh.triangles,
    }),
  );
  try {
    const sliced = (): number => {
      let loops = 0;
      for (const z of planes) {
        const section = solid.slice(z);
        loops += section.toPolygons().length;
        section.delete();
      }
      return loops;
    };
    const own = timed(() => sections(mesh, planes), 15);
    const other = timed(sliced, 3);
    const [mine, theirs] = [sections(mesh, planes).section.start.length - 1, sliced()];
    const size = `${Math.round(mesh.triangles.length / 3000)} k triangles, 500 layers`;
    return [
      {
        name: `sweep / slice + toPolygons, ${size}`,
        a: own,
        b: other,
        ratio: other / own,
        want: { least: 10 },
      },
      {
        name: `loops of both, ${size}`,
        a: mine,
        b: theirs,
        ratio: theirs / mine,
        want: { least: 1, most: 1 },
      },
    ];
  } finally {
    solid.delete();
  }
}
