/**
 * How far table and printed regions reach, against points of their surfaces: corners of boxes, the rim of a
 * disc one by one, and the farthest of them from the part origin.
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import { type Vec3, dot, length, unit } from '../../../lib/base/vector.js';
import { bulkOf, clearOf, extent } from '../../../lib/motion/transfer/swept-bounds.js';
import { type Json, acJson, machineOf } from '../../machine/machines.js';
import { cuboid } from '../../support/shapes.js';

/** The table is 6 mm thick under its face. */
const THICK = 6;

function table(face: Json['table']['face']) {
  const json = acJson();
  return machineOf({ ...json, table: { ...json.table, face, thickness: THICK } });
}

const corners = (low: Vec3, high: Vec3): Vec3[] =>
  Array.from({ length: 8 }, (_, i) => [
    i & 1 ? high[0] : low[0],
    i & 2 ? high[1] : low[1],
    i & 4 ? high[2] : low[2],
  ]);

const disc = Array.from({ length: 3600 }, (_, i): Vec3[] => {
  const a = (i / 3600) * 2 * Math.PI;
  const [x, y] = [100 * Math.cos(a), 100 * Math.sin(a)];
  return [
    [x, y, 0],
    [x, y, -THICK],
  ];
}).flat();

const meshed = {
  ...table({ shape: 'disc', radius: 30 }),
  tableMesh: cuboid([90, 50, 8], [5, -3, -8]),
};

describe.each([
  ['a disc', table({ shape: 'disc', radius: 100 }), disc],
  [
    'a plate',
    table({ shape: 'rectangle', size: [240, 160] }),
    corners([-120, -80, -THICK], [120, 80, 0]),
  ],
  ['a mesh', meshed, corners([-40, -28, -8], [50, 22, 0])],
])('with a table that is %s', (_, machine, surface) => {
  const boxes: [Vec3, Vec3][] = [
    [
      [-30, 10, 0],
      [-12, 14, 70],
    ],
    [
      [-12, 14, 60],
      [110, 30, 90],
    ],
    [
      [20, -130, 5],
      [24, -100, 9],
    ],
  ];
  const packed = (list: readonly [Vec3, Vec3][]): Float64Array => Float64Array.from(list.flat(2));
  const bulk = bulkOf(machine, [packed(boxes.slice(0, 2)), packed(boxes.slice(2))]);
  const all = [...surface, ...boxes.flatMap(([low, high]) => corners(low, high))];

  it('all of it reaches as far along any direction as its farthest point', () => {
    const random = seeded(8);
    for (let n = 0; n < 200; n++) {
      const d = unit([random() - 0.5, random() - 0.5, random() - 0.5]);
      const want = Math.max(...all.map((p) => dot(p, d)));
      // Points of the rim lie 0.1 deg apart.
      expect(Math.abs(extent(bulk, d) - want)).toBeLessThan(1e-4);
      const tip: Vec3 = [100 * random(), 100 * random(), 200 * random()];
      expect(clearOf(bulk, tip, d)).toBeCloseTo(dot(tip, d) - extent(bulk, d), 9);
    }
    expect(extent(bulk, [0, 0, 1])).toBeCloseTo(90, 9);
    expect(extent(bulk, [0, 0, -1])).toBeCloseTo(machine.tableMesh ? 8 : THICK, 9);
    expect(extent(bulk, [0, -1, 0])).toBeCloseTo(130, 9);
  });

  it('nothing is farther from the part origin than its radius, and that is no more than balls need', () => {
    const most = Math.max(...all.map(length));
    expect(bulk.radius).toBeGreaterThan(most - 1e-3);
    // A ball about the box of each region, or the table.
    const balls = [
      // From (-30, 10, 0) to (110, 30, 90).
      Math.hypot(40, 20, 45) + Math.hypot(140, 20, 90) / 2,
      Math.hypot(22, -115, 7) + Math.hypot(4, 30, 4) / 2,
    ];
    const flat = Math.max(...surface.map(length));
    expect(bulk.radius).toBeCloseTo(Math.max(flat, ...balls), 6);
  });

  it('alone it is as far as the table', () => {
    expect(bulkOf(machine, []).radius).toBeCloseTo(Math.max(...surface.map(length)), 6);
  });
});
