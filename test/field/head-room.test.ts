/**
 * Directions in which the head is free, against the triangle that two walls and the head make: over a channel whose
 * layers lean inwards on both sides, a wide plate over the tip just clears the far wall at a tilt that has a closed form.
 */
import { describe, expect, test } from 'vitest';
import { DEG } from '../../lib/base/vector.js';
import { grownOf } from '../../lib/field/field-map.js';
import { askedOf, freePlaces } from '../../lib/field/head-room.js';
import { latticeOf } from '../../lib/field/lattice.js';
import { JUST_LAID, tryHead } from '../../lib/field/judge.js';
import { atNodes } from '../support/fields.js';
import { cuboid, upright } from '../support/shapes.js';

/** Width of the channel and thickness of its walls, mm. */
const [WIDE, WALL] = [12, 3];
const OUT = WIDE / 2 + WALL;
/** Two walls along y, 30 mm high, on a floor. */
const channel = upright(
  [
    [-OUT, 0],
    [OUT, 0],
    [OUT, 30],
    [WIDE / 2, 30],
    [WIDE / 2, 3],
    [-WIDE / 2, 3],
    [-WIDE / 2, 30],
    [-OUT, 30],
  ],
  12,
);
const LEAN = 25 * DEG;
const SLOPE = Math.tan(LEAN);
const lattice = latticeOf(channel, 2.5);
/** Layers that rise outwards on both sides. */
const valley = grownOf(
  lattice,
  atNodes(lattice, ([x, , z]) => z - SLOPE * Math.abs(x)),
);
const rules = {
  overhang: 60 * DEG,
  follow: 0,
  mostTilt: () => 90 * DEG,
  stretch: [0.5, 2] as const,
};
/** A plate so wide that no wall is beyond it, from a height over the tip. */
const plate = (from: number) => ({
  radiusAt: (above: number) => (above < from ? 0 : 40),
  top: 60,
});

/**
 * How high, in a head that tilts by t, the outer edge of the far wall stands over a tip at the inner face of a wall: it
 * lies WIDE + WALL across and, being of the same layer, SLOPE WALL up, less what has only just been laid.
 */
const farEdge = (t: number): number =>
  (WIDE + WALL) * Math.sin(t) + (SLOPE * WALL - JUST_LAID) * Math.cos(t);

describe('over a channel whose walls grow towards each other', () => {
  test('a plate that is higher than the far wall stands is in no way', () => {
    expect(freePlaces(valley, rules, plate(farEdge(LEAN) + 1.5))).toEqual([]);
  });

  test('a lower one is turned upright until it clears the far wall, no farther', () => {
    const from = farEdge(12 * DEG);
    const places = freePlaces(valley, rules, plate(from));
    // The inner faces, well over the floor.
    const inner = places.filter(
      ({ point: [x, , z] }) => Math.abs(Math.abs(x) - WIDE / 2) < 0.1 && z > 12 && z < 22,
    );
    expect(inner.length).toBeGreaterThan(10);
    for (const { point, direction } of inner) {
      const inward = -Math.sign(point[0]) * direction[0];
      // Directions are tried 4 deg apart, and the skin of the far wall is known by samples.
      expect(Math.atan2(inward, direction[2]) / DEG).toBeGreaterThan(12 - 5);
      expect(Math.atan2(inward, direction[2]) / DEG).toBeLessThan(12 + 3);
    }
  });

  test('places inside are tried too: over a valley in a block, a plate that is lower than its sides', () => {
    const block = latticeOf(cuboid([30, 40, 20]), 2.5);
    const inBlock = grownOf(
      block,
      atNodes(block, ([x, , z]) => z - SLOPE * Math.abs(x)),
    );
    // At the bottom the sides are SLOPE RADIUS higher where the plate ends.
    const [RADIUS, SIDE] = [8, 8 * SLOPE];
    const inside = (from: number): number =>
      tryHead(inBlock, {
        radiusAt: (above) => (above < from ? 0 : RADIUS),
        top: from + 20,
      }).hidden.filter(
        ({ point: [x, y], normal }) => !normal && Math.abs(x) < 2 && Math.abs(y) < 10,
      ).length;
    expect(inside(0.6 * (SIDE - JUST_LAID))).toBeGreaterThan(10);
    // A head that leans with a side of the valley has the other one farther up in it.
    expect(inside(RADIUS * Math.tan(2 * LEAN))).toBe(0);
  });

  test('what is asked of tetrahedra fades with the distance, and is nothing three spacings off', () => {
    const place = { point: [OUT - 1, 0, 15], direction: [0.6, 0, 0.8] } as const;
    const { share, direction } = askedOf(valley, [place]);
    const { nodes, tetrahedra, spacing } = lattice;
    let near = 0;
    for (let t = 0; t < share.length; t++) {
      const middle = [0, 1, 2].map(
        (c) => [0, 1, 2, 3].reduce((sum, k) => sum + nodes[3 * tetrahedra[4 * t + k]! + c]!, 0) / 4,
      );
      const away = Math.hypot(...middle.map((x, c) => x - place.point[c]!));
      expect(share[t]).toBeCloseTo(Math.max(0, 1 - away / (3 * spacing)), 12);
      if (share[t] === 0) continue;
      near++;
      [...direction.subarray(3 * t, 3 * t + 3)].forEach((x, c) =>
        expect(x).toBeCloseTo(place.direction[c]!, 12),
      );
    }
    expect(near).toBeGreaterThan(100);
  });
});
