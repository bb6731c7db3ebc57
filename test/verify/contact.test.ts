/**
 * The head at one pose against the table and against single cubes. A turned head's circle of radius r at
 * height s over a tip at height z comes down to z + s cos A - r sin A; the rest is counted over points of
 * the head a millimetre apart.
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { DEG, type Vec3, length, sub } from '../../lib/base/vector.js';
import { HeadContact } from '../../lib/verify/contact.js';
import { Grid } from '../../lib/verify/grid.js';
import { Grids } from '../../lib/verify/grids.js';
import { type Json, acJson, machineOf } from '../machine/machines.js';

const EDGE = 0.2;
const LIFT = 0.3;
const empty = (): Grid => Grid.between(EDGE, [-40, -40, -1], [40, 40, 30]);

/** Joints at which the tip stands on a place of the part (A-C chain: J = Rx(A) Rz(C) p). */
function joints(p: Vec3, a: number, c: number): Float64Array {
  const [ra, rc] = [a * DEG, c * DEG];
  const x = p[0] * Math.cos(rc) - p[1] * Math.sin(rc);
  const y = p[0] * Math.sin(rc) + p[1] * Math.cos(rc);
  return Float64Array.from([
    x,
    y * Math.cos(ra) - p[2] * Math.sin(ra),
    y * Math.sin(ra) + p[2] * Math.cos(ra),
    ra,
    rc,
  ]);
}
/** A vector of the head in the part frame: Rz(-C) Rx(-A) q. */
function toPart([x, y, z]: Vec3, a: number, c: number): Vec3 {
  const [ra, rc] = [a * DEG, c * DEG];
  const [y1, z1] = [y * Math.cos(ra) + z * Math.sin(ra), -y * Math.sin(ra) + z * Math.cos(ra)];
  return [x * Math.cos(rc) + y1 * Math.sin(rc), -x * Math.sin(rc) + y1 * Math.cos(rc), z1];
}

const machine = machineOf(acJson());
const lowest = (z: number, a: number): number =>
  Math.min(
    ...machine.stack.map(
      ({ above, radius }) =>
        z + (above + LIFT) * Math.cos(a * DEG) - radius * Math.abs(Math.sin(a * DEG)),
    ),
  );

describe('over the face', () => {
  it.each([0, 20, 45, 60, -75])('is as clear as its lowest circle, tilted by %d deg', (a) => {
    const contact = new HeadContact(machine, Grids.of(empty()), LIFT);
    for (let z = 0.2; z < 20; z += 0.7) {
      const want = lowest(z, a);
      const { gap, touch } = contact.look(joints([3, -5, z], a, 30));
      if (want > 0) {
        // No more than 2 mm of room are looked for about what is printed.
        expect(gap).toBeCloseTo(Math.min(2, want), 6);
        expect(touch).toBeUndefined();
      } else {
        expect(gap).toBe(0);
        expect(touch!.what).toBe('the table');
        expect(touch!.point[2]).toBeLessThanOrEqual(1e-9);
      }
    }
  });
});

const tables: [string, (json: Json) => void, (p: Vec3) => boolean][] = [
  [
    'a disc',
    (j) => (j.table.face = { shape: 'disc', radius: 12 }),
    ([x, y, z]) => Math.hypot(x, y) <= 12 && z <= 0 && z >= -6,
  ],
  [
    'a rectangle',
    (j) => (j.table.face = { shape: 'rectangle', size: [20, 30] }),
    ([x, y, z]) => Math.abs(x) <= 10 && Math.abs(y) <= 15 && z <= 0 && z >= -6,
  ],
];

describe.each(tables)('beside %s', (name, change, inTable) => {
  const json = acJson();
  change(json);
  json.head.stack = [
    { above: 0, radius: 0.4 },
    { above: 8, radius: 3 },
    { above: 8, radius: 7 },
    { above: 14, radius: 7 },
  ];
  json.head.boxes = [{ shape: 'box', from: [5, -4, 6], to: [13, 5, 12] }];
  const small = machineOf(json);
  /** Points all over the head, a millimetre apart. */
  const head: Vec3[] = [];
  for (let x = -7; x <= 13; x += 1) {
    for (let y = -7; y <= 7; y += 1) {
      for (let s = 0; s <= 14; s += 1) {
        const r = Math.hypot(x, y);
        const inStack = s < 8 ? r <= 0.4 + (2.6 * s) / 8 : r <= 7;
        const inBox = x >= 5 && y >= -4 && y <= 5 && s >= 6 && s <= 12;
        if (inStack || inBox) head.push([x, y, s]);
      }
    }
  }

  it('touches it only where they meet, and no room is claimed that is not there, seed 4', () => {
    const random = seeded(4);
    const contact = new HeadContact(small, Grids.of(empty()), LIFT);
    let [touching, near] = [0, 0];
    for (let n = 0; n < 30; n++) {
      const [a, c] = [150 * (random() - 0.5), 360 * random()];
      const p: Vec3 = [30 * (random() - 0.5), 30 * (random() - 0.5), 9 * random() - 5];
      const places = head.map((q) => {
        const [x, y, z] = toPart([q[0], q[1], q[2] + LIFT], a, c);
        return [p[0] + x, p[1] + y, p[2] + z] as Vec3;
      });
      const meets = places.some(inTable);
      const { gap, touch } = contact.look(joints(p, a, c));
      if (touch) {
        touching++;
        expect(touch.what).toBe('the table');
        expect(inTable(touch.point.map((v) => v * (1 - 1e-9)) as unknown as Vec3)).toBe(true);
        // Where it is said to touch, the head is within the spacing of its points.
        expect(places.some((q) => length(sub(q, touch.point)) < 1.5)).toBe(true);
        continue;
      }
      expect(meets).toBe(false);
      // Moved by less than the gap in any direction it is clear still.
      for (let k = 0; k < 5; k++) {
        const way = [random() - 0.5, random() - 0.5, random() - 0.5];
        const size = (0.99 * gap) / Math.hypot(...way);
        const hits = places.some((q) =>
          inTable(q.map((v, i) => v + size * way[i]!) as unknown as Vec3),
        );
        expect(hits).toBe(false);
      }
      if (gap < 1.9) near++;
    }
    expect(touching, name).toBeGreaterThan(3);
    expect(near).toBeGreaterThan(0);
  });
});

describe('in what is printed', () => {
  it('finds a cube that lies in the head, and room as far as there is some', () => {
    const grid = empty();
    const [x, y, z] = [250, 210, 110];
    grid.setColumn(x, y, z, z, 1);
    const cube = [x, y, z].map((k, c) => grid.origin[c]! + (k + 0.5) * EDGE) as unknown as Vec3;
    const contact = new HeadContact(machine, Grids.of(grid), LIFT);
    // The nozzle is 9 mm wide at 8 mm over the tip: the cube stands 8.5 mm over the lifted tip.
    const at = (off: number): Vec3 => [cube[0] + off, cube[1], cube[2] - 8.5 - LIFT];
    const edge = 9 + (0.5 * 9) / 22;
    for (const off of [0, -4, edge - 0.05]) {
      const { gap, touch } = contact.look(joints(at(off), 0, 0));
      expect(gap).toBe(0);
      expect(touch!.what).toBe('what is printed');
      touch!.point.forEach((v, c) => expect(v).toBeCloseTo(cube[c]!, 9));
    }
    for (const off of [edge + 0.1, edge + 1, edge + 1.7]) {
      const { gap, touch } = contact.look(joints(at(off), 0, 0));
      expect(touch).toBeUndefined();
      // Square to the flank, which leans by 9 in 22.
      const want = (off - edge) * Math.cos(Math.atan(9 / 22));
      expect(gap).toBeLessThanOrEqual(want + 1e-9);
      // What is a fifth of a millimetre off or more is not measured to the end.
      expect(gap).toBeGreaterThan(Math.min(0.199, want - 0.15));
    }
  });
});
