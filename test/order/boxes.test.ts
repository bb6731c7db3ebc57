/** Boxes hold every triangle, and a skyline never lets a link through what stands. */
import { describe, expect, it } from 'vitest';
import { identity } from '../../lib/base/frame.js';
import { seeded } from '../../lib/base/random.js';
import { headDistance } from '../../lib/machine/solid-distance.js';
import { boxesOf } from '../../lib/order/boxes.js';
import { skylineOf } from '../../lib/order/skyline.js';
import { acJson, machineOf } from '../machine/machines.js';
import { boxMesh } from '../motion/jobs.js';
import { bunny3k, scaledToHeight, yUp } from '../support/open-meshes.js';

describe('boxes', () => {
  const bunny = scaledToHeight(yUp(bunny3k()), 80);
  const boxes = boxesOf(bunny);

  it('are no larger than two cells and hold 2,000 random places of the surface (seed 5)', () => {
    for (let i = 0; i < boxes.length; i += 6) {
      // Edges up to 2 mm about a middle in a cell of 2 mm.
      for (let c = 0; c < 3; c++) expect(boxes[i + 3 + c]! - boxes[i + c]!).toBeLessThan(4.7);
    }
    const random = seeded(5);
    const { vertices: v, triangles: t } = bunny;
    for (let n = 0; n < 2000; n++) {
      const f = 3 * Math.floor((random() * t.length) / 3);
      const [a, b] = [random(), random()];
      const [u, w] = a + b > 1 ? [1 - a, 1 - b] : [a, b];
      const p = [0, 1, 2].map(
        (c) =>
          v[3 * t[f]! + c]! * (1 - u - w) + v[3 * t[f + 1]! + c]! * u + v[3 * t[f + 2]! + c]! * w,
      );
      expect(inside(boxes, p)).toBe(true);
    }
  });
});

function inside(boxes: Float64Array, p: number[]): boolean {
  for (let i = 0; i < boxes.length; i += 6) {
    if (
      [0, 1, 2].every((c) => p[c]! >= boxes[i + c]! - 1e-9 && p[c]! <= boxes[i + 3 + c]! + 1e-9)
    ) {
      return true;
    }
  }
  return false;
}

describe('skyline', () => {
  const machine = machineOf(acJson());
  // A wall 30 mm high, 4 mm thick, across X.
  const low = [20, -15, 0] as const;
  const high = [24, 15, 30] as const;
  const skyline = skylineOf(machine, identity(), [boxesOf(boxMesh(low, high, [0, 0, 1]))]);

  it('keeps the head, with its clearance, off a wall on 500 random links (seed 9)', () => {
    const random = seeded(9);
    let raised = 0;
    for (let n = 0; n < 500; n++) {
      const [x0, y0, x1, y1] = [0, 0, 0, 0].map(() => 60 * (random() - 0.3)) as [
        number,
        number,
        number,
        number,
      ];
      const from = 1 + 20 * random();
      const z = skyline.least(x0, y0, x1, y1, from);
      expect(z).toBeGreaterThanOrEqual(from);
      if (z > from) raised++;
      for (let s = 0; s <= 20; s++) {
        const [x, y] = [x0 + ((x1 - x0) * s) / 20, y0 + ((y1 - y0) * s) / 20];
        // The point of the wall's top edges and faces nearest to the head's axis.
        const px = Math.min(Math.max(x, low[0]), high[0]);
        const py = Math.min(Math.max(y, low[1]), high[1]);
        for (let pz = 0; pz <= 30; pz += 0.5) {
          const gap = headDistance(machine, [px - x, py - y, pz - z]);
          expect(gap).toBeGreaterThan(machine.clearance - 1e-9);
        }
      }
    }
    expect(raised).toBeGreaterThan(50);
  });

  it('raises a link over the wall by no more than clearance and a box', () => {
    const z = skyline.least(0, 0, 60, 0, 1);
    expect(z).toBeGreaterThanOrEqual(31);
    expect(z).toBeLessThan(34);
  });

  it('leaves a link alone that passes where the head is narrow', () => {
    // Radius 22 and clearance 1: at x = -4 the wall is 24 mm from the axis.
    expect(skyline.least(-8, 0, -6, 10, 1)).toBe(1);
  });
});
