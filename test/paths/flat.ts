/** Layers made of plain loops, and what tests ask of planned paths. */
import { type Polygons, noPolygons } from '../../lib/polygon/polygons.js';
import { polygonsFrom } from '../support/polygons.js';
import type { PolygonKernel } from '../../lib/kernel/polygon.js';
import type { Layers } from '../../lib/layers/layers.js';
import { flatMap } from '../../lib/layers/layer-map.js';
import { beadArea } from '../../lib/paths/bead.js';
import { type LayerSection, layerSection, sizesOf } from '../../lib/paths/layer-section.js';
import type { Paths } from '../../lib/paths/paths.js';
import { type PlannedPaths, planPaths } from '../../lib/paths/plan-paths.js';
import { pathRules } from '../../lib/paths/rules.js';
import type { z } from 'zod';

export type Loop = [number, number][];

export const rectangle = (x: number, y: number, w: number, h: number): Loop => [
  [x, y],
  [x + w, y],
  [x + w, y + h],
  [x, y + h],
];

/** A circle of n chords that has the area of the true circle. */
export function circle(r: number, x = 0, y = 0, n = 400): Loop {
  const grown = r * Math.sqrt((2 * Math.PI) / n / Math.sin((2 * Math.PI) / n));
  return Array.from({ length: n }, (_, i) => {
    const t = (2 * Math.PI * i) / n;
    return [x + grown * Math.cos(t), y + grown * Math.sin(t)];
  });
}

/** Two half circles of radius r whose centres are `length` apart. */
export function stadium(length: number, r: number, n = 200): Loop {
  const half = (from: number, x: number): Loop =>
    Array.from({ length: n + 1 }, (_, i) => {
      const t = from + (Math.PI * i) / n;
      return [x + r * Math.cos(t), r * Math.sin(t)];
    });
  return [...half(-Math.PI / 2, length / 2), ...half(Math.PI / 2, -length / 2)];
}

export const hole = (loop: Loop): Loop => loop.slice().reverse();

/** Layers of one thickness, nothing above or below them; `around` is the section unless given. */
export function layersOf(
  layers: readonly Loop[][],
  {
    height = 0.2,
    around = layers,
    beneath = [] as readonly Loop[][],
    over = [] as readonly Loop[][],
  } = {},
): Layers {
  const rows = (list: readonly Loop[][]): [Polygons, Uint32Array] => {
    const start = new Uint32Array(list.length + 1);
    list.forEach((loops, k) => (start[k + 1] = start[k]! + loops.length));
    return [list.length ? polygonsFrom(list.flat()) : noPolygons, start];
  };
  const [section, layerStart] = rows(layers);
  const [aroundLoops, aroundStart] = rows(around);
  const [beneathLoops, beneathStart] = rows(beneath);
  const [overLoops, overStart] = rows(over);
  return {
    map: flatMap([0, 0, 1]),
    top: Float64Array.from(layers, (_, k) => (k + 1) * height),
    thickness: new Float64Array(layers.length).fill(height),
    flowFactor: new Float64Array(layers.length).fill(1),
    section,
    layerStart,
    around: aroundLoops,
    aroundStart,
    beneath: beneathLoops,
    beneathStart,
    over: overLoops,
    overStart,
  };
}

/** One layer of 0.2 mm in which beads are 0.45 mm wide, while it is planned. */
export const sectionOf = (
  loops: readonly Loop[],
  rules: z.input<typeof pathRules>,
  kernel: PolygonKernel,
): LayerSection =>
  layerSection({
    layer: 0,
    middle: 0.1,
    loops: polygonsFrom(loops),
    sizes: sizesOf(0.45, 0.3, 0.2),
    start: { rule: 'spread', away: [1, 0] },
    rules: pathRules.parse(rules),
    kernel,
  });

export function plan(
  layers: Layers,
  rules: z.input<typeof pathRules>,
  kernel: PolygonKernel,
  onTable = false,
  carries = false,
): PlannedPaths {
  const limits = { nozzleDiameter: 0.4, onTable, carries };
  return planPaths(layers, 0, layers.top.length, pathRules.parse(rules), limits, kernel);
}

/** Volume of the paths that `keep` names, mm3, by the record alone. */
export function volumeOf(p: Paths, keep: (path: number) => boolean = () => true): number {
  let sum = 0;
  for (let i = 0; i + 1 < p.start.length; i++) {
    if (!keep(i)) continue;
    for (let q = p.start[i]! + 1; q < p.start[i + 1]!; q++) {
      const length = Math.hypot(
        p.points[3 * q]! - p.points[3 * q - 3]!,
        p.points[3 * q + 1]! - p.points[3 * q - 2]!,
      );
      sum += length * beadArea(p.width[q]!, p.height[q]!) * p.flowFactor[i]!;
    }
  }
  return sum;
}

export const pathsOf = (p: Paths, keep: (path: number) => boolean = () => true): number[] =>
  Array.from({ length: p.start.length - 1 }, (_, i) => i).filter(keep);

/** Packed xy of a path. */
export function courseOf(p: Paths, path: number): [number, number][] {
  const out: [number, number][] = [];
  for (let q = p.start[path]!; q < p.start[path + 1]!; q++) {
    out.push([p.points[3 * q]!, p.points[3 * q + 1]!]);
  }
  return out;
}

/** Winding number of loops about a point. */
export function winding(p: Polygons, x: number, y: number): number {
  let sum = 0;
  eachEdge(p, (ax, ay, bx, by) => {
    if (ay <= y === by <= y) return;
    const side = (bx - ax) * (y - ay) - (by - ay) * (x - ax);
    if (by > ay && side > 0) sum++;
    if (by < ay && side < 0) sum--;
  });
  return sum;
}

/** Distance of a point from the nearest edge, mm. */
export function distance(p: Polygons, x: number, y: number): number {
  let least = Infinity;
  eachEdge(p, (ax, ay, bx, by) => {
    const [dx, dy, ex, ey] = [bx - ax, by - ay, x - ax, y - ay];
    const t = Math.max(0, Math.min(1, (ex * dx + ey * dy) / (dx * dx + dy * dy || 1)));
    least = Math.min(least, Math.hypot(ex - t * dx, ey - t * dy));
  });
  return least;
}

function eachEdge(
  p: Polygons,
  visit: (ax: number, ay: number, bx: number, by: number) => void,
): void {
  for (let l = 0; l + 1 < p.start.length; l++) {
    const [a, b] = [p.start[l]!, p.start[l + 1]!];
    for (let i = a; i < b; i++) {
      const j = i + 1 < b ? i + 1 : a;
      visit(p.points[2 * i]!, p.points[2 * i + 1]!, p.points[2 * j]!, p.points[2 * j + 1]!);
    }
  }
}

/** What of the loops no bead covers: beads as wide as they are, ends round. */
export function uncovered(p: Polygons, paths: Paths, kernel: PolygonKernel): Polygons {
  const loops: Loop[] = [];
  for (const i of pathsOf(paths)) {
    for (let q = paths.start[i]! + 1; q < paths.start[i + 1]!; q++) {
      const [ax, ay] = [paths.points[3 * q - 3]!, paths.points[3 * q - 2]!];
      const [bx, by] = [paths.points[3 * q]!, paths.points[3 * q + 1]!];
      const turn = Math.atan2(by - ay, bx - ax);
      const half = (x: number, y: number, from: number): Loop =>
        Array.from({ length: 13 }, (_, k) => {
          const t = from + (Math.PI * k) / 12;
          const r = paths.width[q]! / 2;
          return [x + r * Math.cos(t), y + r * Math.sin(t)];
        });
      loops.push([...half(bx, by, turn - Math.PI / 2), ...half(ax, ay, turn + Math.PI / 2)]);
    }
  }
  return kernel.combine(p, kernel.union(polygonsFrom(loops), 'nonZero'), 'difference');
}
