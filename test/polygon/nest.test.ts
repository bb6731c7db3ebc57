/** Trees of loops that are known by how the loops are made. */
import { describe, expect, it } from 'vitest';
import { polygonsFrom } from '../support/polygons.js';
import { seeded } from '../../lib/base/random.js';
import { insidePoint } from '../../lib/polygon/inside-point.js';
import { nest } from '../../lib/polygon/nest.js';
import { circle } from '../layers/solids.js';

type Loop = [number, number][];
const around = (x: number, y: number, r: number, sides: number, reverse = false): Loop => {
  const loop = circle(r, sides).map(([a, b]): [number, number] => [x + a, y + b]);
  return reverse ? loop.reverse() : loop;
};

describe('nest', () => {
  it('squares in squares, five deep, in any order of the record', () => {
    const at = [3, 0, 4, 1, 2];
    const loops = at.map((d) => around(0, 0, 10 - d, 4, d % 2 === 1));
    const { parent, depth } = nest(polygonsFrom(loops));
    expect([...depth]).toEqual(at);
    expect([...parent]).toEqual(at.map((d) => (d === 0 ? -1 : at.indexOf(d - 1))));
  });

  it('a plate with 900 holes, each with an island', () => {
    const loops: Loop[] = [around(15, 15, 60, 60)];
    for (let i = 0; i < 900; i++) {
      const [x, y] = [i % 30, Math.floor(i / 30)];
      loops.push(around(x, y, 0.4, 12, true), around(x, y, 0.1, 7));
    }
    const { parent, depth } = nest(polygonsFrom(loops));
    expect(parent[0]).toBe(-1);
    for (let i = 1; i < loops.length; i += 2) {
      expect([parent[i], parent[i + 1]]).toEqual([0, i]);
      expect([depth[i], depth[i + 1]]).toEqual([1, 2]);
    }
  });

  it('random trees of circles, ways round at random (60 trees, seed 21)', () => {
    const random = seeded(21);
    for (let tree = 0; tree < 60; tree++) {
      const loops: Loop[] = [];
      const parents: number[] = [];
      const grow = (x: number, y: number, r: number, parent: number, level: number): void => {
        const self = loops.length;
        loops.push(around(x, y, r, 5 + Math.floor(random() * 30), random() < 0.5));
        parents.push(parent);
        if (level === 4) return;
        // Four slots in a circle of r: centres r / 2 out, so that circles of r / 4 keep clear of each
        // other and of the polygon around them, whose edges come as near as r cos(36 deg) = 0.81 r.
        for (let slot = 0; slot < 4; slot++) {
          if (random() < 0.4) continue;
          const a = (Math.PI / 2) * slot + random() * 0.1;
          const out = r * 0.5;
          grow(
            x + out * Math.cos(a),
            y + out * Math.sin(a),
            r * (0.1 + 0.15 * random()),
            self,
            level + 1,
          );
        }
      };
      grow(0, 0, 100, -1, 0);
      grow(210, 30, 90, -1, 0);
      const shuffled = loops.map((_, i) => i).sort(() => random() - 0.5);
      const { parent } = nest(polygonsFrom(shuffled.map((i) => loops[i]!)));
      const expected = shuffled.map((i) => shuffled.indexOf(parents[i]!));
      expect([...parent], `tree ${tree}`).toEqual(expected);
    }
  });

  it('works on a stretch of a longer record', () => {
    const p = polygonsFrom([around(0, 0, 9, 9), around(50, 0, 9, 9), around(50, 0, 3, 9, true)]);
    const { parent, depth } = nest(p, 1, 3);
    expect([...parent]).toEqual([-1, 1]);
    expect([...depth]).toEqual([0, 1]);
  });
});

describe('insidePoint', () => {
  it('lies in the ring, not in its hole', () => {
    const p = polygonsFrom([around(3, 4, 10, 40), around(3, 4, 9, 40, true)]);
    const [x, y] = insidePoint(p);
    const far = Math.hypot(x - 3, y - 4);
    expect(far).toBeLessThan(10);
    expect(far).toBeGreaterThan(9 * Math.cos(Math.PI / 40));
  });
});
