/**
 * Layer maps: between part space and layer space. In layer space layers are flat and z is the height along the
 * direction of growth. The plain map is a rigid turn; a field's map bends the part so that the sheets of the field
 * lie flat. Sections, caps, fill and starts are planned in layer space by the same code for both; what depends on
 * true lengths asks the metric (`field/sheet-metric.ts`).
 *
 * Paths of flat layers stay in layer space, and later stages carry its frame along. Paths of a field are brought
 * back into the part (`paths/bend-paths.ts`), where every point has a direction of its own: their frame is the
 * part's (`pathFrame`).
 */
import { type Frame, applyPoint, buildFromPart, identity, inverse } from '../base/frame.js';
import { type Vec3, pointAt } from '../base/vector.js';
import { type FieldMap, layerPoint, partPoint } from '../field/field-map.js';
import { meshFrom, moved } from '../mesh/build.js';
import type { Mesh } from '../mesh/mesh.js';
import { splitLongEdges } from '../mesh/split-edges.js';

export type LayerMap = FlatMap | BentMap;

export interface FlatMap {
  readonly kind: 'flat';
  /** Layer space from part frame. */
  readonly layerFromPart: Frame;
  readonly partFromLayer: Frame;
}

export interface BentMap {
  readonly kind: 'field';
  readonly field: FieldMap;
}

/** Flat layers square to the unit build direction. */
export function flatMap(direction: Vec3): FlatMap {
  const layerFromPart = buildFromPart(direction);
  return { kind: 'flat', layerFromPart, partFromLayer: inverse(layerFromPart) };
}

/** Layers that are the sheets of a field. */
export const bentMap = (field: FieldMap): BentMap => ({ kind: 'field', field });

export function toLayer(map: LayerMap, pPart: Vec3): Vec3 {
  if (map.kind === 'flat') return applyPoint(map.layerFromPart, pPart);
  return onLattice(layerPoint(map.field, pPart), 'part', pPart);
}

export function toPart(map: LayerMap, pLayer: Vec3): Vec3 {
  if (map.kind === 'flat') return applyPoint(map.partFromLayer, pLayer);
  return onLattice(partPoint(map.field, pLayer), 'layer', pLayer);
}

/** The mesh in layer space: where layers are flat, so that sections are plane sections. */
export function meshToLayer(map: LayerMap, mesh: Mesh): Mesh {
  if (map.kind === 'flat') return moved(mesh, map.layerFromPart);
  const { vertices, triangles } = splitLongEdges(mesh, map.field.lattice.spacing / 2);
  const bent = new Float64Array(vertices.length);
  for (let i = 0; i < vertices.length / 3; i++) {
    bent.set(toLayer(map, pointAt(vertices, i)), 3 * i);
  }
  return meshFrom(bent, triangles);
}

/** The frame in which the paths of a region's layers are kept, from the part's and back. */
export const pathFrame = (map: LayerMap): Pick<FlatMap, 'layerFromPart' | 'partFromLayer'> =>
  map.kind === 'flat' ? map : { layerFromPart: identity(), partFromLayer: identity() };

function onLattice<T>(found: T | undefined, space: string, p: Vec3): T {
  if (found) return found;
  throw new Error(`no layers at ${space} point ${p.map((x) => x.toFixed(3)).join(' ')}`);
}
