/**
 * How high over the table, or over its base plane, the first bead of each region lies. The lowest
 * sections of a tip, an edge or a wedge are narrower than any bead and stay empty; what is laid first
 * then hangs by so much.
 */
import type { Finding } from '../base/fault.js';
import { applyPoint } from '../base/frame.js';
import { type Vec3, dot, pointAt, scale, sub } from '../base/vector.js';
import { pathFrame } from '../layers/layer-map.js';
import type { Layers } from '../layers/layers.js';
import { PathKind, type Paths } from '../paths/paths.js';
import type { Region } from '../regions/region.js';

export interface FirstBead {
  /** Layers under it in which nothing is laid. */
  readonly empty: number;
  /** From the table or the base plane to the nearest underside of a bead of that layer, mm. */
  readonly overMm: number;
}

/** @returns one per region; undefined where nothing of it is laid */
export function firstBeads(
  regions: readonly Region[],
  layers: readonly Pick<Layers, 'map' | 'top' | 'thickness'>[],
  paths: readonly Paths[],
): (FirstBead | undefined)[] {
  return regions.map((region, i) => {
    const { kind, layer, start, points, height, directions } = paths[i]!;
    const first = kind.findIndex((k) => k !== PathKind.brim);
    if (first < 0) return undefined;
    const k = layer[first]!;
    const { map, top, thickness } = layers[i]!;
    const { point, normal } = region.base;
    let over = Infinity;
    for (let path = first; path < layer.length && layer[path] === k; path++) {
      for (let p = start[path]!; p < start[path + 1]!; p++) {
        const tip = pointAt(points, p);
        const under: Vec3 = directions
          ? sub(tip, scale(pointAt(directions, p), height[p]!))
          : applyPoint(pathFrame(map).partFromLayer, [tip[0], tip[1], top[k]! - thickness[k]!]);
        over = Math.min(over, dot(under, normal) - dot(point, normal));
      }
    }
    return { empty: k, overMm: Math.max(0, over) };
  });
}

/** Less than this is rounding, mm. */
const LEVEL_ROUNDING = 1e-6;

/** One for each region whose first layers stay empty. */
export function firstBeadFindings(
  regions: readonly Region[],
  layers: readonly Pick<Layers, 'thickness'>[],
  beads: readonly (FirstBead | undefined)[],
): Finding[] {
  return beads.flatMap((bead, region): Finding[] => {
    if (!bead || bead.empty === 0) return [];
    const { empty, overMm } = bead;
    const what = regions[region]!.baseCut < 0 ? 'the table' : 'what it stands on';
    const air = overMm > layers[region]!.thickness[empty]! - LEVEL_ROUNDING;
    const count = empty === 1 ? 'lowest layer' : `${empty} lowest layers`;
    return [
      {
        code: 'footing/empty-layers',
        severity: air ? 'warning' : 'note',
        message: `the ${count} of region ${region + 1} ${empty === 1 ? 'is' : 'are'} too narrow for a bead: its first one lies ${overMm.toFixed(2)} mm over ${what}${air ? ', in the air' : ''}`,
        at: { region, layer: empty },
      },
    ];
  });
}
