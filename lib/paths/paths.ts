/** The paths of a region: where the nozzle lays material, in layer space, in printing order. */

/** What a path is for. Numbers are stored in `Paths.kind`. */
export const PathKind = { contour: 0, innerContour: 1, thin: 2, cap: 3, fill: 4, brim: 5 } as const;
export type PathKind = (typeof PathKind)[keyof typeof PathKind];

/** How the nozzle comes to the start of a path. */
export const Link = {
  /** The first path of a layer, or one that cannot be reached inside: draw back, lift, go, lower, prime. */
  lifted: 0,
  /** Along `linkPoints` inside the layer, without drawing back. */
  inside: 1,
} as const;

/**
 * Path i is the points `start[i] .. start[i + 1]`; a closed path repeats its first point at the end.
 * Paths stand in printing order: by layer, and inside a layer as they are to be laid.
 */
export interface Paths {
  /** Packed x, y, z of the nozzle tip, mm: in layer space, its z the layer's top; with `directions` in the part. */
  readonly points: Float64Array;
  /** Bead width of the stretch that ends at each point, mm. */
  readonly width: Float64Array;
  /** Bead height of the stretch that ends at each point, mm. */
  readonly height: Float64Array;
  readonly start: Uint32Array;
  /** A `PathKind` per path. */
  readonly kind: Uint8Array;
  readonly layer: Uint32Array;
  /** Flow factor of each path (interface rule, cap overlap); 1 is the bead section itself. */
  readonly flowFactor: Float64Array;
  /** A `Link` per path. */
  readonly link: Uint8Array;
  /** Way points of an inside link before the path's first point, packed xyz. */
  readonly linkPoints: Float64Array;
  /** Offsets in link points, length paths + 1. */
  readonly linkStart: Uint32Array;
  /**
   * Of layers that are the sheets of a field: the unit direction of growth at each point, packed xyz, part frame. Then
   * points are of the part frame too, and each bead has its own width and height at every point. Left out: flat layers.
   */
  readonly directions?: Float64Array;
}
