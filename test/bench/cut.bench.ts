/**
 * A plane through the bunny, leaning ones among them: the own cut, both halves closed and their cut
 * faces filled, against the solid kernel's splitByPlane and getMesh. Building the kernel's solid is
 * counted on neither side; so are the volumes, which must agree.
 */
import loadManifold from 'manifold-3d';
import { type Vec3, dot, unit } from '../../lib/base/vector.js';
import { massOf } from '../../lib/mesh/measure.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { cut, uncut } from '../../lib/mesh/cut/cut.js';
import { type Row, timed } from './bench.js';
import { bunny } from './meshes.js';

const normals: readonly Vec3[] = [[0, 0, 1], unit([1, 0, 2]), unit([1, -2, 0.5])];

export async function run(): Promise<Row[]> {
  const kernel = await loadManifold();
  kernel.setup();
  const mesh = bunny(0);
  const middle = massOf(mesh).centre;
  const solid = new kernel.Manifold(
    new kernel.Mesh({
      numProp: 3,
      vertProperties: Float32Array.from(mesh.vertices),
      triVerts: mesh.triangles,
    }),
  );
  try {
    return normals.flatMap((normal, i) => {
      const plane = { point: middle, normal };
      const split = (): number => {
        const [above, below] = solid.splitByPlane([...normal], dot(normal, middle));
        above.getMesh();
        below.getMesh();
        const volume = above.volume();
        above.delete();
        below.delete();
        return volume;
      };
      const own = timed(() => cut(uncut(mesh), plane, 0));
      const other = timed(split, 4);
      const share = volumeAbove(mesh, plane) / split();
      return [
        {
          name: `cut / splitByPlane + getMesh, 70 k triangles, plane ${i + 1}`,
          a: own,
          b: other,
          ratio: other / own,
          want: { least: 5 },
        },
        {
          name: `volume above plane ${i + 1}, own over the kernel's`,
          a: volumeAbove(mesh, plane),
          b: split(),
          ratio: share,
          want: { least: 1 - 1e-4, most: 1 + 1e-4 },
        },
      ];
    });
  } finally {
    solid.delete();
  }
}

const volumeAbove = (mesh: Mesh, plane: { point: Vec3; normal: Vec3 }): number =>
  massOf(cut(uncut(mesh), plane, 0)!.piece.mesh).volume;
