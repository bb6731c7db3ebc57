/** Paths of curved layers in the part, against closed forms: even stretches, and cylinders about an axis. */
import { beforeAll, describe, expect, test } from 'vitest';
import { compose, shift, turn } from '../../lib/base/frame.js';
import { DEG, type Vec3, dot, pointAt } from '../../lib/base/vector.js';
import type { FieldMap } from '../../lib/field/field-map.js';
import { type PolygonKernel, loadPolygonKernel } from '../../lib/kernel/polygon.js';
import { bentMap } from '../../lib/layers/layer-map.js';
import { layOut } from '../../lib/layers/layers.js';
import { layerRules } from '../../lib/layers/rules.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { moved } from '../../lib/mesh/build.js';
import { extruded } from '../../lib/mesh/make-solids.js';
import { beadArea } from '../../lib/paths/bead.js';
import { bentPaths } from '../../lib/paths/bend-paths.js';
import { Link, type Paths, PathKind } from '../../lib/paths/paths.js';
import { planPaths } from '../../lib/paths/plan-paths.js';
import { pathRules } from '../../lib/paths/rules.js';
import { regionOf } from '../layers/solids.js';
import { cylinders, fieldOf } from '../support/fields.js';
import { cuboid } from '../support/shapes.js';

let kernel: PolygonKernel;
beforeAll(async () => {
  kernel = await loadPolygonKernel();
});

/** Paths of a part, filled solid: in layer space, and bent. */
function planned(part: Mesh, field: FieldMap): { flat: Paths; bent: Paths } {
  const map = bentMap(field);
  const limits = { nozzleDiameter: 0.4, onTable: true };
  const rules = layerRules.parse({ thickness: 0.2, first: 0.2 });
  const layers = layOut(regionOf(part), part, rules, limits, kernel, undefined, map);
  const solid = pathRules.parse({ fill: { density: 1 } });
  const { paths } = planPaths(layers, 0, layers.top.length, solid, limits, kernel);
  return { flat: paths, bent: bentPaths(paths, map) };
}

function* stretches(paths: Paths): Generator<{ path: number; end: number; length: number }> {
  for (let path = 0; path < paths.layer.length; path++) {
    for (let end = paths.start[path]! + 1; end < paths.start[path + 1]!; end++) {
      const [a, b] = [pointAt(paths.points, end - 1), pointAt(paths.points, end)];
      yield { path, end, length: Math.hypot(b[0] - a[0], b[1] - a[1], b[2] - a[2]) };
    }
  }
}

function volumeOf(paths: Paths): number {
  let sum = 0;
  for (const { path, end, length } of stretches(paths)) {
    sum += length * beadArea(paths.width[end]!, paths.height[end]!) * paths.flowFactor[path]!;
  }
  return sum;
}

describe('a box whose layers are half as thick, and stretched unevenly in their sheets', () => {
  const part = cuboid([8, 6, 2]);
  const field = fieldOf(part, 1, ([x, y, z]) => [1.25 * x, 0.8 * y, 2 * z]);

  test('beads along x are as much wider as y was narrower, and half as high', () => {
    const { flat, bent } = planned(part, field);
    let seen = 0;
    for (let path = 0; path < flat.layer.length; path++) {
      let at = bent.start[path]!;
      // A stretch that is straight and even stays one, but for steps of half a spacing.
      for (let k = flat.start[path]! + 1; k < flat.start[path + 1]!; k++) {
        const [a, b] = [pointAt(flat.points, k - 1), pointAt(flat.points, k)];
        const steps = Math.max(1, Math.ceil(Math.hypot(b[0] - a[0], b[1] - a[1]) / 0.5));
        at += steps;
        const end = pointAt(bent.points, at);
        const exact = [b[0] / 1.25, b[1] / 0.8, b[2] / 2];
        exact.forEach((x, c) => expect(end[c]).toBeCloseTo(x, 6));
        if (Math.abs(b[1] - a[1]) > 1e-9 || steps < 2) continue;
        seen++;
        expect(bent.width[at]! / flat.width[k]!).toBeCloseTo(1 / 0.8, 6);
        expect(bent.height[at]! / flat.height[k]!).toBeCloseTo(1 / 2, 6);
      }
    }
    expect(seen).toBeGreaterThan(20);
  });
});

describe('a sector of a pipe that grows outwards, radii 12 and 15, 60 deg', () => {
  const arc = (r: number, from: number, to: number): [number, number][] =>
    Array.from({ length: 61 }, (_, i) => {
      const angle = (from + ((to - from) * i) / 60) * DEG;
      return [r * Math.cos(angle), r * Math.sin(angle)];
    });
  const upright = compose(shift([0, 0, 40]), turn([1, 0, 0], 90 * DEG));
  const part = moved(extruded([[...arc(15, -30, 30), ...arc(12, 30, -30)]], 4), upright);
  const field = fieldOf(part, 1, ([x, y, z]) => cylinders(15)([x, y, z - 40]));
  let flat: Paths;
  let bent: Paths;
  beforeAll(() => ({ flat, bent } = planned(part, field)));
  const radial = ([x, , z]: Vec3): Vec3 => {
    const r = Math.hypot(x, z - 40);
    return [x / r, 0, (z - 40) / r];
  };

  test('points lie on their cylinder, and the direction is radial', () => {
    for (let path = 0; path < bent.layer.length; path++) {
      const z = flat.points[3 * flat.start[path]! + 2]!;
      for (let k = bent.start[path]!; k < bent.start[path + 1]!; k++) {
        const p = pointAt(bent.points, k);
        // A function that is linear in tetrahedra of 1 mm misses r by 1 / (8 r) at most.
        expect(Math.abs(Math.hypot(p[0], p[2] - 40) - z)).toBeLessThan(1 / (8 * 12));
        const cosine = dot(pointAt(bent.directions!, k), radial(p));
        // At the skin the mean of the gradients is that of the tetrahedra on one side.
        expect(Math.acos(Math.min(1, cosine)) / DEG).toBeLessThan(2);
      }
    }
  });

  test('chords keep to the cylinder: arcs about the axis are r times their angle long', () => {
    let seen = 0;
    for (const { path, end, length } of stretches(bent)) {
      const [a, b] = [pointAt(bent.points, end - 1), pointAt(bent.points, end)];
      if (Math.abs(b[1] - a[1]) > 1e-6 || bent.kind[path] === PathKind.contour) continue;
      const angle = Math.acos(Math.min(1, dot(radial(a), radial(b))));
      const r = Math.hypot(b[0], b[2] - 40);
      if (r * angle < 0.2) continue;
      seen++;
      expect(length / (r * angle)).toBeCloseTo(1, 1);
    }
    expect(seen).toBeGreaterThan(100);
  });

  test('laid solid it has the volume of the sector, (60 / 360) pi (15^2 - 12^2) 4', () => {
    const volume = (Math.PI / 6) * (15 ** 2 - 12 ** 2) * 4;
    expect(Math.abs(volumeOf(bent) / volume - 1)).toBeLessThan(0.02);
  });
});

describe('layers that meet the table at 15 deg', () => {
  const a = 15 * DEG;
  const part = cuboid([8, 5, 3]);
  const field = fieldOf(part, 1, ([x, y, z]) => [
    x * Math.cos(a) - z * Math.sin(a),
    y,
    x * Math.sin(a) + z * Math.cos(a),
  ]);

  test('no bead is higher than its tip stands over the table along the direction of growth', () => {
    const { bent } = planned(part, field);
    let thinner = 0;
    for (const { end } of stretches(bent)) {
      const over = Math.min(bent.points[3 * end + 2]!, bent.points[3 * end - 1]!) / Math.cos(a);
      expect(bent.height[end]!).toBeLessThan(Math.min(0.2, over) + 1e-6);
      if (bent.height[end]! < 0.199) thinner++;
    }
    expect(thinner).toBeGreaterThan(10);
  });
});

/** Two straight beads of fill in one layer, the second by a link inside it. @param points layer space, two of each */
const twoBeads = (points: readonly number[], linkPoints: readonly number[]): Paths => ({
  points: Float64Array.from(points),
  width: new Float64Array(4).fill(0.4),
  height: new Float64Array(4).fill(0.2),
  start: Uint32Array.of(0, 2, 4),
  kind: Uint8Array.of(PathKind.fill, PathKind.fill),
  layer: Uint32Array.of(0, 0),
  flowFactor: Float64Array.of(1, 1),
  link: Uint8Array.of(Link.lifted, Link.inside),
  linkPoints: Float64Array.from(linkPoints),
  linkStart: Uint32Array.of(0, 0, linkPoints.length / 3),
});

describe('a link inside a layer whose sheets are cylinders', () => {
  /** Along the cylinder at y 0, a way apart, with a link by one way point between them. */
  const linked = twoBeads([-4, 0, 16, -3, 0, 16, 3, 0, 16, 4, 0, 16], [0, 1.5, 16]);

  test('keeps to the sheet: its chords lie no deeper in it than those of a path', () => {
    const part = cuboid([10, 4, 4], [0, 0, 14.5]);
    // Radii from the axis, arc lengths at radius 16.
    const field = fieldOf(part, 0.5, ([x, y, z]) => [16 * Math.atan2(x, z), y, Math.hypot(x, z)]);
    const { points, linkPoints, linkStart, start } = bentPaths(linked, bentMap(field));
    expect([...linkStart].slice(0, 2)).toEqual([0, 0]);
    expect(linkStart[2]).toBe(linkPoints.length / 3);
    const way = [pointAt(points, start[1]! - 1)];
    for (let k = 0; k < linkStart[2]!; k++) way.push(pointAt(linkPoints, k));
    way.push(pointAt(points, start[1]!));
    const r = (p: Vec3): number => Math.hypot(p[0], p[2]);
    for (let k = 1; k < way.length; k++) {
      const [a, b] = [way[k - 1]!, way[k]!];
      const middle: Vec3 = [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2, (a[2] + b[2]) / 2];
      // One chord from end to end would lie 16 (1 - cos (3 / 16)) = 0.28 mm deep.
      expect(r(middle)).toBeGreaterThan(16 - 0.02);
    }
    // Past the way point, where the sheet is flat across.
    expect(Math.max(...way.map((p) => p[1]))).toBeCloseTo(1.5, 3);
  });
});

describe('a link inside a layer whose sheets are waves', () => {
  /** Along y from crest to crest, where the growth is upright. */
  const linked = twoBeads([-1, -4, 16, 0, -4, 16, 0, 4, 16, 1, 4, 16], []);

  // Between the crests a sheet leans by atan(2 pi A / 8 mm): 2.2, 4.5, 6.7 and 13.2 deg; the head stays upright.
  test.each([
    [0.05, Link.inside],
    [0.1, Link.inside],
    [0.15, Link.lifted],
    [0.3, Link.lifted],
  ])('of amplitude %f mm: kind %d', (A, kind) => {
    const part = cuboid([6, 10, 6], [0, 0, 13]);
    const field = fieldOf(part, 0.5, ([x, y, z]) => [
      x,
      y,
      z + A * Math.cos((2 * Math.PI * y) / 8),
    ]);
    const bent = bentPaths(linked, bentMap(field));
    expect([...bent.link]).toEqual([Link.lifted, kind]);
    expect(bent.linkPoints.length > 0).toBe(kind === Link.inside);
    expect(linked.link[1]).toBe(Link.inside);
  });
});
