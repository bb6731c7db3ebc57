/** The region record: a closed piece of the part with the one direction in which it is built. */
import type { Vec3 } from '../base/vector.js';
import type { Mesh, Plane } from '../mesh/mesh.js';

/**
 * Regions stand in printing order: region i stands on the table or on regions before it.
 * All coordinates are in the part frame.
 */
export interface Region {
  /** Closed, counter-clockwise seen from outside. */
  readonly mesh: Mesh;
  /**
   * For each triangle -1 if it is skin of the part, otherwise the number of the cut that made it.
   * The same cut number stands on both sides of an interface.
   */
  readonly cut: Int32Array;
  /** The cut on which it stands, -1 for the table. */
  readonly baseCut: number;
  /** Unit build direction. */
  readonly direction: Vec3;
  /** Base plane: the table face, or the cut on which the region stands (normal into the region). */
  readonly base: Plane;
  /** Earlier regions that it touches across its base; empty if it stands on the table. */
  readonly standsOn: readonly number[];
  readonly volume: number;
  /** mm2 of base shared with table or earlier regions. */
  readonly contactArea: number;
  /** mm2 of skin that hangs unsupported by the facet rule and local minima, for this direction. */
  readonly unsupportedArea: number;
}
