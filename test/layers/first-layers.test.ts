/** What of a few boxes hangs, flat and on sheets, against the rectangles that it must be. */
import { beforeAll, describe, expect, it, test } from 'vitest';
import { DEG, type Vec3 } from '../../lib/base/vector.js';
import { type PolygonKernel, loadPolygonKernel } from '../../lib/kernel/polygon.js';
import { bentMap } from '../../lib/layers/layer-map.js';
import { layOut } from '../../lib/layers/layers.js';
import { layerRules } from '../../lib/layers/rules.js';
import { hangingOf } from '../../lib/layers/unsupported.js';
import type { Region } from '../../lib/regions/region.js';
import { fieldOf } from '../support/fields.js';
import { box, regionOf, together } from './solids.js';

let kernel: PolygonKernel;
beforeAll(async () => {
  kernel = await loadPolygonKernel();
});

const H = 0.2;
const rules = layerRules.parse({ thickness: H, first: H, interface: { press: 0 } });

describe('a post with an arm of 6 x 4 mm', () => {
  const part = together(box([0, 0, 0], [4, 4, 2]), box([4, 0, 1], [10, 4, 2]));
  const hanging = (theta: number, region: Region = regionOf(part)): number => {
    const limits = { nozzleDiameter: 0.4, roughness: { hollow: 0, ridge: 0 } };
    const layers = layOut(region, part, rules, limits, kernel);
    const { places } = hangingOf([region], 0, layers, { theta: theta * DEG, bridge: 0 }, kernel);
    return places.reduce((sum, p) => sum + p.mm2, 0);
  };

  // The arm's underside, less the strip of h tan(theta) beside the post that holds itself.
  it.each([0, 20, 45, 60, 75])('hangs but for what holds itself at %i degrees', (theta) => {
    expect(hanging(theta)).toBeCloseTo(4 * (6 - H * Math.tan(theta * DEG)), 2);
  });

  it('hangs with the post too if that stands neither on the table nor on anything else', () => {
    const cut = Int32Array.from({ length: part.triangles.length / 3 }, (_, t) => (t < 2 ? 0 : -1));
    const loose = regionOf(part, { cut, baseCut: 0, standsOn: [0] });
    expect(hanging(45, loose)).toBeCloseTo(4 * 4 + 4 * (6 - H), 2);
  });
});

// An even map: what hangs is measured in the part, however layer space is stretched and sheared.
test.each([
  ['stretched', ([x, y, z]: Vec3): Vec3 => [1.2 * x, 0.7 * y, z]],
  ['sheared', ([x, y, z]: Vec3): Vec3 => [x + 0.4 * y, 0.9 * y, z]],
])('a block of 4 x 3 mm in the air, on %s sheets: its first layer hangs with 12 mm2', (_, map) => {
  const block = box([1, 2, 30], [5, 5, 31]);
  const region = regionOf(block);
  const field = bentMap(fieldOf(block, 1, map));
  const layers = layOut(region, block, rules, { nozzleDiameter: 0.4 }, kernel, undefined, field);
  const { places } = hangingOf([region], 0, layers, { theta: 45 * DEG, bridge: 0 }, kernel);
  expect(places.map((p) => p.layer)).toEqual([0]);
  expect(places[0]!.mm2).toBeCloseTo(12, 2);
  const [x, y] = places[0]!.point;
  expect(x > 1 && x < 5 && y > 2 && y < 5).toBe(true);
});
