/**
 * What hangs of layers that are the sheets of a field, against closed forms: maps that stretch evenly, so that the
 * flat rule holds in the part with other sizes, and cylinders.
 */
import { beforeAll, describe, expect, test } from 'vitest';
import { compose, shift, turn } from '../../lib/base/frame.js';
import { DEG } from '../../lib/base/vector.js';
import { type PolygonKernel, loadPolygonKernel } from '../../lib/kernel/polygon.js';
import { bentMap } from '../../lib/layers/layer-map.js';
import { layOut } from '../../lib/layers/layers.js';
import { layerRules } from '../../lib/layers/rules.js';
import { hangingOf } from '../../lib/layers/unsupported.js';
import { moved } from '../../lib/mesh/build.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { extruded } from '../../lib/mesh/make-solids.js';
import type { FieldMap } from '../../lib/field/field-map.js';
import { cylinders, fieldOf } from '../support/fields.js';
import { regionOf, sphere } from './solids.js';

let kernel: PolygonKernel;
beforeAll(async () => {
  kernel = await loadPolygonKernel();
});

const rules = layerRules.parse({ thickness: 0.2, first: 0.2 });
const hanging = (part: Mesh, field: FieldMap, theta = 45): ReturnType<typeof hangingOf> => {
  const region = regionOf(part);
  const limits = { nozzleDiameter: 0.4 };
  const layers = layOut(region, part, rules, limits, kernel, undefined, bentMap(field));
  return hangingOf([region], 0, layers, { theta: theta * DEG, bridge: 0 }, kernel);
};
const total = ({ places }: ReturnType<typeof hangingOf>): number =>
  places.reduce((sum, p) => sum + p.mm2, 0);

/** The plane of an outline is turned upright: its y is the part's z. */
const onEdge = turn([1, 0, 0], 90 * DEG);

describe('a sphere on the table in layers half as thick as in layer space, and sheets stretched unevenly', () => {
  const R = 5;
  const ball = moved(sphere(R, 160, 160), shift([0, 0, R]));
  const map = fieldOf(ball, 1.5, ([x, y, z]) => [1.25 * x, 0.8 * y, 2 * z]);
  // As under flat layers of 0.1 mm: sections are circles, ring k is pi (r_k^2 - (r_k-1 + h tan)^2). The sections of
  // ellipses whose tiles are measured by themselves come to the same.
  test.each([30, 45, 60])('theta %s deg: the sum of the rings', (theta) => {
    const h = 0.1;
    const r = (k: number): number => Math.sqrt(R * R - (R - (k + 0.5) * h) ** 2);
    let rings = 0;
    // Within 0.2 mm of the table, the first layer's thickness, it stands on it: the middles of two layers.
    for (let k = 2; k < R / h; k++) {
      const grown = r(k - 1) + h * Math.tan(theta * DEG);
      rings += Math.PI * Math.max(0, r(k) ** 2 - grown ** 2);
    }
    const share = total(hanging(ball, map, theta)) / rings;
    expect(share).toBeGreaterThan(0.97);
    expect(share).toBeLessThan(1.03);
  });
});

test('an island begins with all of its area, in part mm2', () => {
  // A table whose second leg begins 3 mm over the ground: 4 x 6 mm under it.
  const part = extruded(
    [
      [
        [0, 0],
        [4, 0],
        [4, 8],
        [12, 8],
        [12, 3],
        [16, 3],
        [16, 12],
        [0, 12],
      ],
    ],
    6,
  );
  const upright = moved(part, onEdge);
  const map = fieldOf(upright, 1, ([x, y, z]) => [1.1 * x, 1.3 * y, 1.25 * z]);
  const { places } = hanging(upright, map);
  const island = places.filter((p) => p.point[2] > 2.9 && p.point[2] < 3.3);
  expect(island).toHaveLength(1);
  expect(island[0]!.mm2).toBeCloseTo(4 * 6, 1);
  // The underside of the bridge, 8 x 6 mm, but for what steps over from the leg on the table, one layer's thickness
  // of 0.2 / 1.25 mm, and the island's by then as wide.
  const under = places.filter((p) => p.point[2] > 7.9 && p.point[2] < 8.3);
  const sum = under.reduce((all, p) => all + p.mm2, 0);
  expect(sum).toBeGreaterThan((8 - 2 * 0.16 - 0.05) * 6);
  expect(sum).toBeLessThan((8 - 2 * 0.16 + 0.05) * 6);
});

test('cylinders that grow outwards hang with their first sheet and no other', () => {
  // 30 deg to both sides of the x axis between the radii 12 and 15, 5 mm long, high over the table. Its flanks are
  // radial, so every later sheet lies on the one before: only the first, at the middle of its layer, has nothing.
  const arc = (r: number, from: number, to: number): [number, number][] =>
    Array.from({ length: 61 }, (_, i) => {
      const angle = (from + ((to - from) * i) / 60) * DEG;
      return [r * Math.cos(angle), r * Math.sin(angle)];
    });
  const sector = extruded([[...arc(15, -30, 30), ...arc(12, 30, -30)]], 5);
  const part = moved(sector, compose(shift([0, 0, 40]), onEdge));
  const map = fieldOf(part, 1, ([x, y, z]) => cylinders(15)([x, y, z - 40]));
  const { places } = hanging(part, map);
  expect(places.map((p) => p.layer)).toEqual([0]);
  // Near the skin the metric is the mean of the tetrahedra on one side: half a spacing of 24 mm off, at most.
  expect(Math.abs(places[0]!.mm2 / ((Math.PI / 3) * 12.1 * 5) - 1)).toBeLessThan(0.5 / 24);
});
