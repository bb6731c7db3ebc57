/**
 * A result as models for any viewer of glTF: the regions as surfaces, and the layers as the beads that
 * are planned in them, each region in its colour of all pictures.
 */
import { applyPoints } from '../base/frame.js';
import { regionColour } from '../draw/palette.js';
import { type Polylines, type SceneNode, writeGlb } from '../formats/write-glb.js';
import { pathFrame } from '../layers/layer-map.js';
import type { Layers } from '../layers/layers.js';
import type { Paths } from '../paths/paths.js';
import type { Region } from '../regions/region.js';

/** The regions, a surface each, in the part frame. */
export const regionsModel = (regions: readonly Region[]): Uint8Array =>
  writeGlb(
    regions.map(({ mesh }, i) => ({ name: `region ${i + 1}`, colour: regionColour(i), mesh })),
  );

/** The beads of every layer of every region as lines where the tip goes, in the part frame. */
export const layersModel = (layers: readonly Layers[], paths: readonly Paths[]): Uint8Array =>
  writeGlb(
    paths.map((lay, i) => ({
      name: `region ${i + 1}`,
      children: beadsByLayer(layers[i]!, lay, regionColour(i)),
    })),
  );

function beadsByLayer(
  { map }: Layers,
  { points, start, layer }: Paths,
  colour: readonly number[],
): SceneNode[] {
  const inPart = applyPoints(pathFrame(map).partFromLayer, points);
  const out: SceneNode[] = [];
  for (let from = 0; from < layer.length;) {
    let to = from;
    while (to < layer.length && layer[to] === layer[from]) to++;
    out.push({
      name: `layer ${layer[from]! + 1}`,
      colour,
      lines: stretch(inPart, start, from, to),
    });
    from = to;
  }
  return out;
}

/** The paths from one to before another. */
function stretch(points: Float64Array, start: Uint32Array, from: number, to: number): Polylines {
  const first = start[from]!;
  return {
    points: points.subarray(3 * first, 3 * start[to]!),
    start: start.slice(from, to + 1).map((s) => s - first),
  };
}
