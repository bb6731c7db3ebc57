/** Placing: the named axis of the file ends up, scale and height hold, the middle stands where asked. */
import { expect, test } from 'vitest';
import { parse } from '../../lib/base/schema.js';
import { placeRules } from '../../lib/job/job-file.js';
import { bounds, massOf } from '../../lib/mesh/measure.js';
import { place } from '../../lib/job/place-part.js';
import { cuboid, frustum } from '../support/shapes.js';

const rules = (settings: object): ReturnType<typeof placeRules.parse> =>
  parse(placeRules, settings, 'job');

test.each(['x', '-x', 'y', '-y', 'z', '-z'] as const)('up %s points up', (up) => {
  const sides = { x: 11, y: 22, z: 33 };
  const placed = bounds(place(cuboid([11, 22, 33]), rules({ up })));
  expect(placed.most[2] - placed.least[2]).toBeCloseTo(sides[up.replace('-', '') as 'x'], 9);
  expect(placed.least[2]).toBeCloseTo(0, 9);
});

test('-z stands the part on its head: the centre of mass of a cone frustum moves up', () => {
  // Closed form: centre of a frustum from its wide end, h (R^2 + 2 R r + 3 r^2) / (4 (R^2 + R r + r^2)).
  const [wide, narrow, height] = [10, 4, 20];
  const share =
    (wide ** 2 + 2 * wide * narrow + 3 * narrow ** 2) /
    (4 * (wide ** 2 + wide * narrow + narrow ** 2));
  const mesh = frustum(wide, narrow, height);
  expect(massOf(place(mesh, rules({ up: 'z' }))).centre[2]).toBeCloseTo(height * share, 6);
  expect(massOf(place(mesh, rules({ up: '-z' }))).centre[2]).toBeCloseTo(height * (1 - share), 6);
});

test('height scales evenly, at moves the middle, turn turns', () => {
  const placed = bounds(place(cuboid([10, 20, 40]), rules({ height: 100, at: [7, -3], turn: 90 })));
  expect(placed.most.map((m, c) => m - placed.least[c]!)).toEqual(
    [50, 25, 100].map((x) => expect.closeTo(x, 9) as number),
  );
  expect((placed.most[0] + placed.least[0]) / 2).toBeCloseTo(7, 9);
  expect((placed.most[1] + placed.least[1]) / 2).toBeCloseTo(-3, 9);
});
