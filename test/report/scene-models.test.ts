/** The models of a result, counted against its plan by the Khronos group's glTF validator. */
import { validateBytes } from 'gltf-validator';
import { expect, it } from 'vitest';
import { flatMap } from '../../lib/layers/layer-map.js';
import type { Layers } from '../../lib/layers/layers.js';
import type { Paths } from '../../lib/paths/paths.js';
import { quietIo } from '../support/quiet-io.js';
import { layersModel } from '../../lib/report/scene-models.js';

it('beads of a region that leans stand where the tip goes, by layer', async () => {
  // Built along +X: in layer space the path runs along the turned X axis, at height 7 and 8.
  const map = flatMap([1, 0, 0]);
  const paths = {
    points: Float64Array.of(0, 0, 7, 0, 5, 7, 0, 0, 8, 0, 5, 8, 0, 9, 8),
    start: Uint32Array.of(0, 2, 5),
    layer: Uint32Array.of(0, 3),
  } as unknown as Paths;
  const bytes = layersModel([{ map } as Layers], [paths]);
  const { issues, info } = await validateBytes(bytes);
  expect(issues.messages).toEqual([]);
  expect(info.totalVertexCount).toBe(5);
  const root = (await quietIo().readBinary(bytes)).getRoot();
  expect(root.listNodes().map((n) => n.getName())).toEqual(['layer 1', 'layer 4', 'region 1']);
  const [first] = root.listMeshes();
  const position = first!.listPrimitives()[0]!.getAttribute('POSITION')!;
  // The height of 7 mm lies along +X of the part, which is +X of the file; Y stays and is the file's -Z.
  expect(position.getElement(0, []).map((x) => Math.round(x * 1e6) / 1e3)).toEqual([7, 0, 0]);
  expect(position.getElement(1, []).map((x) => Math.round(x * 1e6) / 1e3)).toEqual([7, 0, -5]);
});
