/** Room for the head beside what is there, against closed forms of distance in the plane of its profile. */
import { expect, test } from 'vitest';
import type { Mesh } from '../../../lib/base/mesh.js';
import {
  applyDirection,
  applyPoint,
  compose,
  inverse,
  shift,
  turn,
} from '../../../lib/base/frame.js';
import { seeded } from '../../../lib/base/random.js';
import { DEG, type Vec3, dot, sub, unit } from '../../../lib/base/vector.js';
import { moved } from '../../../lib/mesh/build.js';
import { treeOf } from '../../../lib/mesh/bvh.js';
import { nearestPoint } from '../../../lib/mesh/query.js';
import { searchLimits } from '../../../lib/regions/search/machine-limits.js';
import { headMeets, headTable } from '../../../lib/regions/search/head-clearance.js';
import { type Json, acJson, machineOf } from '../../machine/machines.js';
import { cuboid } from '../../support/shapes.js';

/** A thin nozzle in a wide block that begins 8 mm over the tip. */
const block = (): Json => {
  const json = acJson();
  json.head.stack = [
    { above: 0, radius: 0.4 },
    { above: 8, radius: 0.4 },
    { above: 8, radius: 11 },
    { above: 60, radius: 11 },
  ];
  return json;
};

const head = headTable(searchLimits(machineOf(block()), 180));
const box = (from: Vec3, to: Vec3): Mesh =>
  cuboid(sub(to, from), [(from[0] + to[0]) / 2, (from[1] + to[1]) / 2, from[2]]);
const base = (normal: Vec3, direction: Vec3) => ({ normal, offset: 0, direction });
/** The tip works along a post 1 mm wide from the plane z = 0 on; another one stands from x on. */
const meets = (x: number, height: number): boolean =>
  headMeets(
    box([-0.5, -0.5, 0], [0.5, 0.5, 20]),
    box([x, -2, -5], [x + 4, 2, height]),
    base([0, 0, 1], [0, 0, 1]),
    head,
  ) !== undefined;

test('what ends under the block keeps the clearance from its lower rim', () => {
  // 0.5 mm under a rim of radius 11, 1 mm away: sqrt(1 - 0.25) further out; the tip reaches x = 0.5.
  const least = 0.5 + 11 + Math.sqrt(0.75);
  expect(meets(least - 0.01, 7.5)).toBe(true);
  // The table of the outline has steps of 0.25 mm in height.
  expect(meets(0.5 + 11 + Math.sqrt(1 - 0.25 ** 2) + 0.01, 7.5)).toBe(false);
});

test('what ends more than the clearance under it need only keep off the nozzle', () => {
  // Samples 1 mm apart on both skins may see it late: sqrt(1.4^2 - 0.7^2) = 1.21.
  expect(meets(0.5 + 1.2, 6.9)).toBe(true);
  expect(meets(0.5 + 0.4 + 1 + 0.01, 6.9)).toBe(false);
});

test.each([10, 25, 40, 55])(
  'beside a cone of %d degrees the clearance is square to its flank',
  (degrees) => {
    // The flank leaves the tip 0.4 mm wide: at height s it is 0.4 + s tan wide, and 1 mm square to it is
    // 1 / cos along the radius.
    const rise = 60;
    const json = acJson();
    json.head.stack = [
      { above: 0, radius: 0.4 },
      { above: rise, radius: 0.4 + rise * Math.tan(degrees * DEG) },
    ];
    const cone = headTable(searchLimits(machineOf(json), 180));
    for (const height of [15, 30, 45]) {
      const least = 0.4 + height * Math.tan(degrees * DEG) + 1 / Math.cos(degrees * DEG);
      // The tip comes to (0.5, 0.5), and the post is sampled at y = 0.5 too: the distance is along X.
      const met = (far: number): boolean =>
        headMeets(
          box([-0.5, -0.5, 0], [0.5, 0.5, 70]),
          box([0.5 + far, -2.5, -5], [4.5 + far, 2.5, height]),
          base([0, 0, 1], [0, 0, 1]),
          cone,
        ) !== undefined;
      expect(met(least - 0.01)).toBe(true);
      // The table of the outline has steps of 0.25 mm in height.
      expect(met(least + 0.25 * Math.tan(degrees * DEG) + 0.01)).toBe(false);
    }
  },
);

test('a plane may lean until a line up it comes as near to a rim as is asked', () => {
  // From the tip at the origin: the rim (11, 8) at atan(8 / 11), a circle of 1 mm about it asin(1 / 13.6).
  const rim = Math.atan2(8, 11) - Math.asin(1 / Math.hypot(8, 11));
  // The foot of the nozzle, 0.4 mm wide at 1 mm, keeps a quarter of it; it allows more.
  const foot = Math.atan2(1, 0.4) - Math.asin(0.25 / Math.hypot(1, 0.4));
  expect(foot).toBeGreaterThan(rim);
  expect(head.lean).toBeCloseTo(rim, 12);
});

test('what lies under a plane that leans more than that is asked about', () => {
  const slab = box([-30, -5, -10], [30, 5, 0]);
  const piece = box([-2, -2, 0], [2, 2, 10]);
  const leaning = (degrees: number): boolean => {
    const d: Vec3 = [Math.sin(degrees * DEG), 0, Math.cos(degrees * DEG)];
    return headMeets(piece, slab, base([0, 0, 1], d), head) !== undefined;
  };
  expect(leaning(head.lean / DEG - 0.1)).toBe(false);
  expect(leaning(head.lean / DEG + 5)).toBe(true);
});

test('the place that the head meets lies on the skin of the rest, however all is turned (60 turns, seed 3)', () => {
  const random = seeded(3);
  const post = box([-0.5, -0.5, 0], [0.5, 0.5, 20]);
  for (let n = 0; n < 60; n++) {
    // Beside the block of radius 11 at 8 mm over the tip, or well out of its way.
    const x = n % 2 ? 6 : 16;
    const other = box([x, -2, -5], [x + 4, 2, 15]);
    const about = unit([random() - 0.5, random() - 0.5, random() - 0.5]);
    const frame = compose(shift([9 * random(), 4, -7 * random()]), turn(about, 6 * random()));
    const normal = applyDirection(frame, [0, 0, 1]);
    const rest = moved(other, frame);
    const offset = dot(applyPoint(frame, [0, 0, 0]), normal);
    const met = headMeets(moved(post, frame), rest, { normal, offset, direction: normal }, head);
    expect(met !== undefined).toBe(n % 2 === 1);
    if (!met) continue;
    expect(nearestPoint(treeOf(rest), met)!.distance).toBeLessThan(1e-9);
    // Over the plane, and nearer to the axis than the block and its clearance reach.
    const place = applyPoint(inverse(frame), met);
    expect(place[2]).toBeGreaterThan(0);
    expect(Math.hypot(place[0], place[1])).toBeLessThan(0.75 + 12);
  }
});
