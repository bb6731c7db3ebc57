/** Whole parts from the registry and from the shapes: inside, volume, batches, links. */
import { beforeAll, describe, expect, test } from 'vitest';
import { area } from '../../lib/polygon/polygons.js';
import { type PolygonKernel, loadPolygonKernel } from '../../lib/kernel/polygon.js';
import { type Layers, layOut } from '../../lib/layers/layers.js';
import { layerRules } from '../../lib/layers/rules.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { contains, gridOf, nearestEdge } from '../../lib/polygon/edge-grid.js';
import { loopsOf } from '../../lib/polygon/loops.js';
import { Link, PathKind, type Paths } from '../../lib/paths/paths.js';
import { type PlannedPaths, joinPaths, planPaths } from '../../lib/paths/plan-paths.js';
import { pathRules } from '../../lib/paths/rules.js';
import { regionOf } from '../layers/solids.js';
import { bunny3k, figure200k, gearwheel, scaledToHeight, yUp } from '../support/open-meshes.js';
import { elbow, pipe, sphere } from '../support/shapes.js';
import { pathsOf, volumeOf } from './flat.js';

let kernel: PolygonKernel;
beforeAll(async () => {
  kernel = await loadPolygonKernel();
});

const limits = { nozzleDiameter: 0.4, onTable: true };

function layersOf(mesh: Mesh, thickness = 0.2): Layers {
  const rules = layerRules.parse({ thickness, first: thickness });
  return layOut(regionOf(mesh), mesh, rules, { nozzleDiameter: 0.4 }, kernel);
}

const planned = (layers: Layers, rules = {}): PlannedPaths =>
  planPaths(layers, 0, layers.top.length, pathRules.parse(rules), limits, kernel);

/** Every point of every path and link, in its layer's section; brims apart. */
function outside(layers: Layers, paths: Paths): number {
  let worst = -Infinity;
  let grid = gridOf(loopsOf(layers.section, 0, 0));
  let layer = -1;
  for (const i of pathsOf(paths)) {
    if (paths.kind[i] === PathKind.brim) continue;
    if (paths.layer[i] !== layer) {
      layer = paths.layer[i]!;
      const [a, b] = [layers.layerStart[layer]!, layers.layerStart[layer + 1]!];
      grid = gridOf(loopsOf(layers.section, a, b));
    }
    const dot = paths.kind[i] === PathKind.thin && paths.start[i + 1]! - paths.start[i]! === 2;
    for (let q = paths.start[i]!; q < paths.start[i + 1]!; q++) {
      const [x, y] = [paths.points[3 * q]!, paths.points[3 * q + 1]!];
      expect(paths.points[3 * q + 2]).toBe(layers.top[layer]);
      const depth = nearestEdge(grid, x, y).distance * (contains(grid, x, y) ? 1 : -1);
      // Half of the width that the metered section has at the bead's height.
      const flank = (paths.height[q]! * (1 - Math.PI / 4)) / 2;
      const needed = dot ? 0 : paths.flowFactor[i]! * (paths.width[q]! / 2 - flank);
      worst = Math.max(worst, needed - depth);
    }
    for (let q = paths.linkStart[i]!; q < paths.linkStart[i + 1]!; q++) {
      const [x, y] = [paths.linkPoints[3 * q]!, paths.linkPoints[3 * q + 1]!];
      expect(contains(grid, x, y)).toBe(true);
    }
  }
  return worst;
}

const parts: [string, () => Mesh, number][] = [
  ['a coarse bunny, 60 mm', () => scaledToHeight(yUp(bunny3k()), 60), 0.3],
  ['a gearwheel, 8 mm', () => scaledToHeight(gearwheel(), 8), 0.2],
  ['a winged figure, 30 mm', () => scaledToHeight(figure200k(), 30), 0.3],
  ['a hose elbow with 2 mm of wall', () => elbow(25, 10, 8), 0.2],
  ['a pipe with 1.2 mm of wall', () => pipe(12, 10.8, 10), 0.2],
];

describe.each(parts)('%s', (_, mesh, thickness) => {
  let layers: Layers;
  let result: PlannedPaths;
  beforeAll(() => {
    layers = layersOf(mesh(), thickness);
    result = planned(layers);
  });

  test('nothing lies outside its layer', () => {
    // 0.005 by which sections were simplified and 0.02 and more where the width of a wall changes.
    expect(outside(layers, result.paths)).toBeLessThan(0.05);
  });

  test('what is laid is what areas and density ask for, within 2%', () => {
    const sum = (values: Float64Array): number => values.reduce((a, b) => a + b, 0);
    const { laid, wanted, brim } = result.figures;
    expect(volumeOf(result.paths) / (sum(laid) + sum(brim))).toBeCloseTo(1, 9);
    expect(sum(laid) / sum(wanted)).toBeGreaterThan(0.98);
    expect(sum(laid) / sum(wanted)).toBeLessThan(1.01);
  });

  test('batches of 1 and 12 layers joined are the whole, bit for bit', () => {
    const rules = pathRules.parse({});
    const few = Math.min(layers.top.length, 40);
    const whole = planPaths(layers, 0, few, rules, limits, kernel);
    for (const size of [1, 12]) {
      const list: PlannedPaths[] = [];
      for (let k = 0; k < few; k += size) {
        list.push(planPaths(layers, k, Math.min(few, k + size), rules, limits, kernel));
      }
      expect(joinPaths(list)).toEqual(whole);
    }
  });

  test('the record is whole: offsets, first links, kinds', () => {
    const { paths } = result;
    const n = paths.layer.length;
    expect(paths.start.length).toBe(n + 1);
    expect(paths.linkStart.length).toBe(n + 1);
    expect(paths.points.length).toBe(3 * paths.start[n]!);
    expect(paths.linkPoints.length).toBe(3 * paths.linkStart[n]!);
    expect(paths.width.length).toBe(paths.start[n]);
    for (let i = 0; i < n; i++) {
      expect(paths.start[i + 1]! - paths.start[i]!).toBeGreaterThan(1);
      if (i === 0 || paths.layer[i] !== paths.layer[i - 1]) {
        expect(paths.link[i]).toBe(Link.lifted);
        if (i > 0) expect(paths.layer[i]).toBeGreaterThan(paths.layer[i - 1]!);
      }
      if (paths.link[i] === Link.lifted) expect(paths.linkStart[i + 1]).toBe(paths.linkStart[i]);
    }
    for (const values of [paths.points, paths.width, paths.height, paths.flowFactor]) {
      expect(values.every(Number.isFinite)).toBe(true);
    }
    expect(paths.width.every((w) => w > 0.1 && w < 0.75)).toBe(true);
    expect(paths.flowFactor.every((f) => f > 0.6 && f < 1.6)).toBe(true);
  });
});

test('a solid sphere: the volume of all paths is that of its layers', () => {
  const layers = layersOf(sphere(10, 128));
  const { paths } = planned(layers, { fill: { density: 1 } });
  let volume = 0;
  for (let k = 0; k < layers.top.length; k++) {
    const loops = loopsOf(layers.section, layers.layerStart[k]!, layers.layerStart[k + 1]!);
    volume += area(loops) * layers.thickness[k]!;
  }
  // The sum over mid-layer sections of a true sphere is V + pi R h^2 / 6.
  expect(volume / ((4 / 3) * Math.PI * 1000 + (Math.PI * 10 * 0.04) / 6)).toBeCloseTo(1, 2);
  expect(volumeOf(paths) / volume).toBeGreaterThan(0.985);
  expect(volumeOf(paths) / volume).toBeLessThan(1);
});

test('a pipe wall of 1.2 mm: three closed beads a layer and never a lift inside it', () => {
  const layers = layersOf(pipe(12, 10.8, 6));
  const { paths } = planned(layers);
  for (let k = 0; k < layers.top.length; k++) {
    const of = pathsOf(paths, (i) => paths.layer[i] === k);
    expect(of.length).toBe(3);
    expect(of.filter((i) => paths.link[i] === Link.lifted).length).toBe(1);
  }
});

test('tilted layers: z of layer space goes through the layer map, x and y stay in the plane', () => {
  const mesh = pipe(12, 10, 6);
  const region = regionOf(mesh, { direction: [0, Math.SQRT1_2, Math.SQRT1_2] });
  const layers = layOut(region, mesh, layerRules.parse({}), { nozzleDiameter: 0.4 }, kernel);
  const { paths } = planned(layers);
  expect(pathsOf(paths).length).toBeGreaterThan(0);
  expect(outside(layers, paths)).toBeLessThan(0.05);
});
