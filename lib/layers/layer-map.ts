/**
 * Layer maps: between part space and layer space. In layer space layers are flat and z is the
 * height along the build direction. The plain map is a rigid turn; curved maps add a kind here and
 * a case in each function, and nothing else outside layers/ and motion/ changes.
 */
import { type Frame, applyDirection, applyPoint, buildFromPart, inverse } from '../base/frame.js';
import type { Vec3 } from '../base/vector.js';
import { moved } from '../mesh/build.js';
import type { Mesh } from '../mesh/mesh.js';

export interface LayerMap {
  readonly kind: 'flat';
  /** Layer space from part frame. */
  readonly layerFromPart: Frame;
  readonly partFromLayer: Frame;
}

/** Flat layers square to the unit build direction. */
export function flatMap(direction: Vec3): LayerMap {
  const layerFromPart = buildFromPart(direction);
  return { kind: 'flat', layerFromPart, partFromLayer: inverse(layerFromPart) };
}

export function toLayer(map: LayerMap, pPart: Vec3): Vec3 {
  return applyPoint(map.layerFromPart, pPart);
}

export function toPart(map: LayerMap, pLayer: Vec3): Vec3 {
  return applyPoint(map.partFromLayer, pLayer);
}

/** The direction the layers grow in at a layer-space point, as a unit vector of the part frame. */
export function directionAt(map: LayerMap, _pLayer: Vec3): Vec3 {
  return applyDirection(map.partFromLayer, [0, 0, 1]);
}

/** The mesh in layer space: where layers are flat, so that sections are plane sections. */
export function meshToLayer(map: LayerMap, mesh: Mesh): Mesh {
  return moved(mesh, map.layerFromPart);
}
