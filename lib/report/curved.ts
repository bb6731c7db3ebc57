/** What the report says of a region in curved layers, and the skin of the part as its picture shows it. */
import type { Mesh } from '../base/mesh.js';
import { DEG, type Vec3, dot, length, pointAt, sub, unit } from '../base/vector.js';
import { growthAt } from '../field/field-map.js';
import { STANDING_HEIGHT, STANDING_NORMAL } from '../field/growth-rules.js';
import { AT_THE_ANGLE } from '../field/judge.js';
import type { PlannedField } from '../field/plan-field.js';
import { type BentMap, toLayer } from '../layers/layer-map.js';
import { areaNormals } from '../mesh/measure.js';
import { splitLongEdges } from '../mesh/split-edges.js';
import type { Paths } from '../paths/paths.js';
import type { CurvedReport } from './report.js';

/** Share of the beads' length that is left out at either end of the range of heights. */
const TAIL = 0.01;

/** @param paths of the region @param flat the same job in flat layers, if it was planned */
export function curvedReport(
  { start, unavoidableMm2 }: Pick<PlannedField, 'start' | 'unavoidableMm2'>,
  { points, height, start: first, directions }: Paths,
  flat: CurvedReport['flat'],
): CurvedReport {
  const stretches: { readonly height: number; readonly long: number }[] = [];
  let [least, all] = [1, 0];
  for (let i = 0; i + 1 < first.length; i++) {
    for (let k = first[i]! + 1; k < first[i + 1]!; k++) {
      const long = length(sub(pointAt(points, k), pointAt(points, k - 1)));
      stretches.push({ height: height[k]!, long });
      all += long;
      if (directions) least = Math.min(least, directions[3 * k + 2]!);
    }
  }
  stretches.sort((a, b) => a.height - b.height);
  const at = (share: number): number => {
    let sum = 0;
    return stretches.find(({ long }) => (sum += long) >= share * all)?.height ?? 0;
  };
  return {
    grownFrom: start,
    mostTiltDeg: Math.acos(Math.max(-1, least)) / DEG,
    thicknessMm: [at(TAIL), at(1 - TAIL)],
    outOfReachMm2: unavoidableMm2,
    ...(flat ? { flat } : {}),
  };
}

/** The skin of a part in curved layers, finely divided. */
export interface CurvedSkin {
  readonly mesh: Mesh;
  /** Growth at each vertex, in layers. */
  readonly level: Float64Array;
  /** For each triangle 1 where it leans farther over the sheet than the overhang allows. */
  readonly hanging: Uint8Array;
}

/**
 * @param map of the part
 * @param thickness that the field was asked for, mm
 * @param overhang steepest self-supporting angle from the direction of growth, rad
 */
export function curvedSkin(
  part: Mesh,
  map: BentMap,
  thickness: number,
  overhang: number,
): CurvedSkin {
  const { field } = map;
  const mesh = splitLongEdges(part, field.lattice.spacing);
  const { vertices, triangles: t } = mesh;
  const level = Float64Array.from(
    { length: vertices.length / 3 },
    (_, i) => toLayer(map, pointAt(vertices, i))[2] / thickness,
  );
  const normals = areaNormals(mesh);
  const limit = -Math.sin(overhang) - AT_THE_ANGLE;
  const hanging = Uint8Array.from({ length: t.length / 3 }, (_, f) => {
    const corners = [0, 1, 2].map((k) => pointAt(vertices, t[3 * f + k]!));
    const middle = [0, 1, 2].map((c) => corners.reduce((sum, p) => sum + p[c]! / 3, 0));
    const n = unit(pointAt(normals, f));
    if (middle[2]! < STANDING_HEIGHT && n[2] < STANDING_NORMAL) return 0;
    const d = growthAt(field, middle as unknown as Vec3);
    return d && dot(n, d) < limit ? 1 : 0;
  });
  return { mesh, level, hanging };
}
