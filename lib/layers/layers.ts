/**
 * The layers of a region: sections of its mesh at the middle of every layer, in layer space.
 */
import type { Polygons } from '../base/polygons.js';
import type { LayerMap } from './map.js';

/**
 * Sections keep the rules of Polygons (outer loops counter-clockwise, no crossing loops).
 * Layer k's loops are `layerStart[k] .. layerStart[k + 1]` of `section`.
 */
export interface Layers {
  readonly map: LayerMap;
  /** Top of each layer, where the nozzle tip travels, layer-space mm, rising. */
  readonly top: Float64Array;
  /** Thickness of each layer, mm; the bottom is top - thickness. */
  readonly thickness: Float64Array;
  /**
   * Flow factor of each layer: 1, and by the interface rule more on the first layers that fill the
   * staircase below an interface.
   */
  readonly flowFactor: Float64Array;
  readonly section: Polygons;
  readonly layerStart: Uint32Array;
  /**
   * Sections of the whole part at the same heights: what is exposed, and so wants caps, is judged
   * against the part and never against a cut.
   */
  readonly around: Polygons;
  readonly aroundStart: Uint32Array;
}
