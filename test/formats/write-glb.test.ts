/**
 * Written GLB files, judged by the Khronos group's glTF validator and read back by glTF-Transform, which
 * share no code with the writer. Volumes and colours are closed forms.
 */
import { validateBytes } from 'gltf-validator';
import { describe, expect, it } from 'vitest';
import { massOf } from '../../lib/mesh/measure.js';
import { writeGlb } from '../../lib/formats/write-glb.js';
import { quietIo } from '../support/quiet-io.js';
import { cuboid, torus } from '../support/shapes.js';
import { read } from './reading.js';

const tree = writeGlb([
  { name: 'tray', colour: [230, 159, 0], mesh: cuboid([10, 20, 30]) },
  {
    name: 'beads',
    children: [
      {
        name: 'layer 1',
        colour: [0, 0, 255],
        lines: {
          points: Float64Array.of(0, 0, 1, 4, 0, 1, 4, 3, 1, 0, 0, 2, 1, 0, 2),
          start: Uint32Array.of(0, 3, 5),
        },
      },
      // A path of one point draws nothing.
      {
        name: 'layer 2',
        lines: { points: Float64Array.of(0, 0, 3), start: Uint32Array.of(0, 1) },
      },
    ],
  },
]);

describe('a tree of a surface and lines', () => {
  it('is valid glTF 2.0, without a remark', async () => {
    const { issues, info } = await validateBytes(tree);
    expect(issues.messages).toEqual([]);
    expect(info).toMatchObject({
      version: '2.0',
      drawCallCount: 2,
      // Eight corners, and five points of lines.
      totalVertexCount: 13,
      totalTriangleCount: 12,
    });
  });

  it('stands in metres with +Y up: 10 x 30 x 20', async () => {
    const root = (await quietIo().readBinary(tree)).getRoot();
    const [tray, layer, beads] = root.listNodes();
    const position = tray!.getMesh()!.listPrimitives()[0]!.getAttribute('POSITION')!;
    const size = position.getMax([]).map((x, c) => x - position.getMin([])[c]!);
    [0.01, 0.03, 0.02].forEach((x, c) => expect(size[c]).toBeCloseTo(x, 8));
    expect([layer!.getName(), beads!.getName()]).toEqual(['layer 1', 'beads']);
    expect(
      root
        .listScenes()[0]!
        .listChildren()
        .map((n) => n.getName()),
    ).toEqual(['tray', 'beads']);
  });

  it('draws each stretch of a polyline once: 4 + 3 + 1 mm', async () => {
    const root = (await quietIo().readBinary(tree)).getRoot();
    const lines = root
      .listMeshes()
      .flatMap((m) => m.listPrimitives())
      .find((p) => p.getMode() === 1)!;
    const position = lines.getAttribute('POSITION')!;
    const indices = lines.getIndices()!;
    let length = 0;
    for (let i = 0; i < indices.getCount(); i += 2) {
      const [a, b] = [indices.getScalar(i), indices.getScalar(i + 1)];
      const [p, q] = [position.getElement(a, []), position.getElement(b, [])];
      length += Math.hypot(...p.map((x, c) => x - q[c]!));
    }
    expect(length).toBeCloseTo(0.008, 8);
  });

  it('keeps colours: sRGB blue is linear blue, 230 is 0.791 (IEC 61966-2-1)', async () => {
    const root = (await quietIo().readBinary(tree)).getRoot();
    const factors = root.listMaterials().map((m) => m.getBaseColorFactor());
    expect(factors[1]).toEqual([0, 0, 1, 1]);
    expect(factors[0]![0]).toBeCloseTo(0.791, 3);
  });
});

it('a mesh comes back as it was, to float32', () => {
  const ring = torus(20, 5, 48, 12);
  const { mesh, healed } = read(writeGlb([{ name: 'ring', mesh: ring }]));
  expect(healed).toEqual([]);
  expect(mesh.triangles).toEqual(ring.triangles);
  expect(massOf(mesh).volume / massOf(ring).volume).toBeCloseTo(1, 6);
  const far = mesh.vertices.reduce(
    (most, x, i) => Math.max(most, Math.abs(x - ring.vertices[i]!)),
    0,
  );
  // Half a step of float32 at 25 mm, 2 ** -20 mm, in metres and back.
  expect(far).toBeLessThan(2e-6);
});
