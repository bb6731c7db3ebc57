/** What the machine allows the search, and the directions that are tried, in closed form. */
import { describe, expect, it } from 'vitest';
import { turn } from '../../../lib/base/frame.js';
import { seeded } from '../../../lib/base/random.js';
import { DEG, type Vec3, angle, dot, unit } from '../../../lib/base/vector.js';
import { leastTipHeight } from '../../../lib/machine/head.js';
import { moved } from '../../../lib/mesh/build.js';
import { searchLimits } from '../../../lib/regions/search/machine-limits.js';
import { directionsFor } from '../../../lib/regions/search/search-variants.js';
import { acJson, machineOf } from '../../machine/machines.js';
import { openLimits } from '../../support/limits.js';
import { cuboid, frustum } from '../../support/shapes.js';

describe('limits', () => {
  const machine = machineOf(acJson());

  it.each([0, 30, 90, 150, 180])(
    'tilt of %d degrees at most, of the 120 that the table has',
    (tilt) => {
      const limits = searchLimits(machine, tilt);
      const random = seeded(tilt);
      const most = Math.min(tilt, 120);
      for (let n = 0; n < 200; n++) {
        const d = unit([random() - 0.5, random() - 0.5, random() - 0.5]);
        expect(limits.canReach(d)).toBe(angle(d, [0, 0, 1]) <= most * DEG);
      }
      const at = (deg: number): Vec3 => [0, -Math.sin(deg * DEG), Math.cos(deg * DEG)];
      expect(limits.canReach(at(most))).toBe(true);
      expect(limits.canReach(at(most + 0.001))).toBe(false);
      expect(limits.bars([0, 0, 1], cuboid([1, 1, 1]), cuboid([1, 1, 1]))).toBe(false);
      for (const t of [0, 0.4, 1.1])
        expect(limits.leastTipHeight(t)).toBe(leastTipHeight(machine, t));
    },
  );

  it('keep a clearance beside, and under a leaning plane a quarter of it near the tip', () => {
    const { beside, under } = searchLimits(machine, 180);
    expect(beside.map((part) => part.need)).toEqual([1]);
    expect(under.map((part) => part.need)).toEqual([0.25, 1]);
    const lowest = (list: typeof under): number[] =>
      list.map(({ rounds }) => Math.min(...rounds.map((r) => r.low)));
    expect(lowest(beside)).toEqual([1]);
    expect(lowest(under)).toEqual([1, 3]);
  });
});

describe('directions that are tried', () => {
  const tilts = [45, 46, 55, 65, 75];
  const has = (list: readonly Vec3[], d: Vec3): boolean => list.some((e) => dot(e, d) > 1 - 1e-7);

  it('are the table normal, faces both ways, tilts towards them, and even ones; each once and in reach', () => {
    for (const by of [0, 0.3, 1]) {
      const mesh = moved(cuboid([3, 4, 5]), turn([0, 0, 1], by));
      for (const most of [50, 110, 180]) {
        const limits = openLimits(most);
        const list = directionsFor(mesh, limits, 60);
        expect(list[0]).toEqual([0, 0, 1]);
        list.forEach((d, i) => {
          expect(limits.canReach(d)).toBe(true);
          expect(has(list.slice(0, i), d)).toBe(false);
        });
        for (let k = 0; k < 4; k++) {
          const a = by + (k * Math.PI) / 2;
          for (const t of [90, ...tilts]) {
            const d: Vec3 = [Math.cos(a) * Math.sin(t * DEG), Math.sin(a) * Math.sin(t * DEG), Math.cos(t * DEG)]; // prettier-ignore
            expect(has(list, d)).toBe(t <= most);
          }
        }
        expect(has(list, [0, 0, -1])).toBe(most === 180);
        // One of 60 even ones has 4 pi / 60 of the sphere: the rest of what is in reach.
        const rest = 60 * ((1 - Math.cos(most * DEG)) / 2);
        const own = 1 + (most >= 90 ? 4 : 0) + 4 * tilts.filter((t) => t <= most).length + (most === 180 ? 1 : 0); // prettier-ignore
        expect(Math.abs(list.length - own - rest)).toBeLessThan(2);
      }
    }
  });

  it('leave out tilts towards faces that are all but level', () => {
    // A flat pyramid: its flanks rise by 4 degrees, so sin 4 = 0.07 of their normals lies level.
    const flat = frustum(10, 0, 10 * Math.cos(45 * DEG) * Math.tan(4 * DEG), 4);
    const steep = frustum(10, 0, 10 * Math.cos(45 * DEG) * Math.tan(8 * DEG), 4);
    const even = directionsFor(cuboid([1, 1, 1e-9]), openLimits(180), 60).length;
    expect(directionsFor(flat, openLimits(180), 60).length).toBeLessThanOrEqual(even + 8);
    expect(directionsFor(steep, openLimits(180), 60).length).toBeGreaterThanOrEqual(even + 20);
  });
});
