/**
 * Small jobs for motion tests, made by hand: box regions in any build frame, each layer a square
 * contour and a zigzag, so that lengths and volumes are known in closed form.
 */
import type { z } from 'zod';
import { applyPoint, inverse } from '../../lib/base/frame.js';
import type { Vec3 } from '../../lib/base/vector.js';
import { flatMap } from '../../lib/layers/layer-map.js';
import type { Layers } from '../../lib/layers/layers.js';
import { meshFrom } from '../../lib/mesh/build.js';
import type { Mesh } from '../../lib/base/mesh.js';
import type { Machine } from '../../lib/machine/machine.js';
import type { Material } from '../../lib/machine/material.js';
import { readMaterial } from '../../lib/machine/read-files.js';
import { type PlannedMotion, planMotion } from '../../lib/motion/plan-motion.js';
import { motionRules } from '../../lib/motion/rules.js';
import type { RegionRun } from '../../lib/order/order.js';
import { Link, PathKind, type Paths } from '../../lib/paths/paths.js';
import type { Region } from '../../lib/regions/region.js';

/** A box from `low` to `high` in the build frame of `direction`, as a mesh of the part frame. */
export function boxMesh(low: Vec3, high: Vec3, direction: Vec3): Mesh {
  const frame = inverse(flatMap(direction).layerFromPart);
  const corners = [0, 1, 2, 3, 4, 5, 6, 7].map((n) =>
    applyPoint(frame, [
      n & 1 ? high[0] : low[0],
      n & 2 ? high[1] : low[1],
      n & 4 ? high[2] : low[2],
    ]),
  );
  const faces = [0, 2, 3, 0, 3, 1, 4, 5, 7, 4, 7, 6, 0, 1, 5, 0, 5, 4];
  faces.push(2, 6, 7, 2, 7, 3, 0, 4, 6, 0, 6, 2, 1, 3, 7, 1, 7, 5);
  return meshFrom(Float64Array.from(corners.flat()), Uint32Array.from(faces));
}

export interface BoxJob {
  readonly region: Region;
  readonly layers: Pick<Layers, 'map' | 'top'>;
  readonly paths: Paths;
}

/** A box region whose layers are a square contour and two strokes inside it. */
export function boxJob(
  low: Vec3,
  high: Vec3,
  direction: Vec3,
  standsOn: readonly number[] = [],
  height = 0.2,
): BoxJob {
  const width = 0.45;
  const map = flatMap(direction);
  const count = Math.round((high[2] - low[2]) / height);
  const top = Float64Array.from({ length: count }, (_, k) => low[2] + (k + 1) * height);
  const points: number[] = [];
  const start = [0];
  const kind: number[] = [];
  const layer: number[] = [];
  const link: number[] = [];
  const [x0, y0, x1, y1] = [low[0] + 1, low[1] + 1, high[0] - 1, high[1] - 1];
  top.forEach((z, k) => {
    points.push(x0, y0, z, x1, y0, z, x1, y1, z, x0, y1, z, x0, y0, z);
    start.push(points.length / 3);
    points.push(x0 + 1, y0 + 1, z, x1 - 1, y0 + 1, z, x1 - 1, y1 - 1, z);
    start.push(points.length / 3);
    points.push(x0 + 1, y1 - 1, z, x0 + 1, y0 + 2, z);
    start.push(points.length / 3);
    kind.push(PathKind.contour, PathKind.fill, PathKind.fill);
    layer.push(k, k, k);
    link.push(Link.lifted, Link.inside, Link.lifted);
  });
  const n = points.length / 3;
  const mesh = boxMesh(low, high, direction);
  const size = [0, 1, 2].map((c) => high[c]! - low[c]!) as [number, number, number];
  const base = applyPoint(map.partFromLayer, [
    (low[0] + high[0]) / 2,
    (low[1] + high[1]) / 2,
    low[2],
  ]);
  return {
    region: {
      mesh,
      cut: new Int32Array(mesh.triangles.length / 3).fill(-1),
      direction,
      base: { point: base, normal: direction },
      standsOn,
      baseCut: standsOn.length ? 0 : -1,
      volume: size[0] * size[1] * size[2],
      contactArea: size[0] * size[1],
      unsupportedArea: 0,
    },
    layers: { map, top },
    paths: {
      points: Float64Array.from(points),
      width: new Float64Array(n).fill(width),
      height: new Float64Array(n).fill(height),
      start: Uint32Array.from(start),
      kind: Uint8Array.from(kind),
      layer: Uint32Array.from(layer),
      flowFactor: new Float64Array(kind.length).fill(1),
      link: Uint8Array.from(link),
      linkPoints: new Float64Array(0),
      linkStart: new Uint32Array(kind.length + 1),
    },
  };
}

export const material = (change: Record<string, unknown> = {}): Material =>
  readMaterial({
    name: 'PLA',
    density: 1.24,
    nozzleTemperature: 210,
    tableTemperature: 60,
    flow: { least: 0.1, most: 12 },
    fan: 1,
    leastLayerSeconds: 0,
    retract: { length: 1.5, speed: 25 },
    ...change,
  });

/** A post of 20 x 20 x 40 on the table. */
export const post = (): BoxJob => boxJob([-10, -10, 0], [10, 10, 40], [0, 0, 1]);

/**
 * An arm beside the post, 24 mm long, along a unit direction that leans from the table normal. It
 * begins where the plane through its foot has left the post and a clearance of 1 mm behind.
 */
export function arm(direction: Vec3, standsOn: readonly number[] = [0]): BoxJob {
  const map = flatMap(direction);
  const foot = applyPoint(map.layerFromPart, [10 * direction[0], 10 * direction[1], 30]);
  return boxJob(
    [foot[0] - 6, foot[1] - 6, foot[2] + 12],
    [foot[0] + 6, foot[1] + 6, foot[2] + 36],
    direction,
    standsOn,
  );
}

/** All layers of one region. */
export const wholeRun = (jobs: readonly BoxJob[], region: number): RegionRun => ({
  region,
  firstLayer: 0,
  lastLayer: jobs[region]!.layers.top.length - 1,
});

/**
 * The motion of whole box regions, one after the other.
 * @param order numbers of the jobs as they are printed; left out: as they stand
 */
export function plannedBoxes(
  machine: Machine,
  jobs: readonly BoxJob[],
  rules: z.input<typeof motionRules>,
  order: readonly number[] = [...jobs.keys()],
): PlannedMotion {
  return planMotion({
    machine,
    material: material(),
    regions: jobs.map((j) => j.region),
    layersOf: jobs.map((j) => j.layers),
    pathsOf: jobs.map((j) => j.paths),
    sequence: { runs: order.map((region) => wholeRun(jobs, region)) },
    rules: motionRules.parse(rules),
  });
}
