/**
 * Samples of a part's skin: one at the middle of each facet of a finely divided mesh, a hair inside, with
 * its normal and its area. Fields are asked at these what the skin needs.
 */
import type { Mesh } from '../base/mesh.js';
import { areaNormals } from '../mesh/measure.js';

/** How far samples lie under the skin, mm. */
export const UNDER_SKIN = 1e-3;
/** Facets below this area have no direction that can be trusted and are passed over, mm2. */
const NO_AREA = 1e-10;

export interface Skin {
  /** Packed xyz of each sample, part mm. */
  readonly points: Float64Array;
  /** Packed outward unit normals. */
  readonly normals: Float64Array;
  /** mm2 */
  readonly areas: Float64Array;
  /** Packed xyz of the three corners of each sample's facet, as far under it as the sample. */
  readonly corners: Float64Array;
}

/** Height of the lowest sample: the table's face, mm. */
export function floorOf({ points }: Skin): number {
  let least = Infinity;
  for (let i = 2; i < points.length; i += 3) least = Math.min(least, points[i]!);
  return least;
}

/** @param fine with edges as short as the samples are to lie near each other */
export function skinSamples(fine: Mesh): Skin {
  const { vertices: v, triangles: t } = fine;
  const scaled = areaNormals(fine);
  const points: number[] = [];
  const normals: number[] = [];
  const areas: number[] = [];
  const corners: number[] = [];
  for (let i = 0; i < t.length; i += 3) {
    const area = Math.hypot(scaled[i]!, scaled[i + 1]!, scaled[i + 2]!);
    if (area < NO_AREA) continue;
    areas.push(area);
    for (let c = 0; c < 3; c++) {
      const n = scaled[i + c]! / area;
      normals.push(n);
      const sum = v[3 * t[i]! + c]! + v[3 * t[i + 1]! + c]! + v[3 * t[i + 2]! + c]!;
      points.push(sum / 3 - UNDER_SKIN * n);
    }
    for (let k = 0; k < 3; k++) {
      for (let c = 0; c < 3; c++) {
        corners.push(v[3 * t[i + k]! + c]! - (UNDER_SKIN * scaled[i + c]!) / area);
      }
    }
  }
  return {
    points: Float64Array.from(points),
    normals: Float64Array.from(normals),
    areas: Float64Array.from(areas),
    corners: Float64Array.from(corners),
  };
}
