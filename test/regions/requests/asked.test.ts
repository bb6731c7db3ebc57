/** What is asked of a plan, by itself: which directions are allowed, faces by their corners, and what stays unsupported. */
import { describe, expect, it } from 'vitest';
import { applyDirection, applyPoint, compose, shift, turn } from '../../../lib/base/frame.js';
import { seeded } from '../../../lib/base/random.js';
import { DEG, type Vec3, angle, unit } from '../../../lib/base/vector.js';
import { areaNormals } from '../../../lib/mesh/measure.js';
import { allows, faceNear, inCone, steerIn, steerRules, steered } from '../../../lib/regions/requests/steer.js'; // prettier-ignore
import type { Region } from '../../../lib/regions/region.js';
import { unsupportedFindings } from '../../../lib/regions/unsupported-findings.js';
import { openLimits } from '../../support/limits.js';
import { cuboid, cylinder } from '../../support/shapes.js';

const some = (random: () => number): Vec3 => unit([random() - 0.5, random() - 0.5, random() - 0.5]);

describe('directions', () => {
  it('are allowed outside of every cone and, if some are asked for, along those and the table normal (seed 1)', () => {
    const random = seeded(1);
    for (let n = 0; n < 300; n++) {
      const [a, b] = [some(random), some(random)];
      const steer = steerRules.parse({
        forbid: [
          { direction: a, within: 30 },
          { direction: b, within: 70, at: [0, 0, 0] },
        ],
        only: n % 2 ? [b, a] : [],
      });
      const d = [some(random), a, b, [0, 0, 1] as Vec3][n % 4]!;
      const asked = n % 2 === 0 || n % 4 > 0;
      // A cone at a place forbids nothing to the others.
      expect(allows(steer, d)).toBe(angle(d, a) > 30 * DEG && asked);
      expect(inCone(steer.forbid[1]!, d)).toBe(angle(d, b) <= 70 * DEG);
    }
    const up = steerRules.parse({ only: [[1, 0, 0]] });
    const near = (deg: number): Vec3 => [Math.cos(deg * DEG), 0, Math.sin(deg * DEG)];
    // The same within a hundredth of a degree.
    expect([0, 0.009, 0.011, 89.989, 89.991].map((deg) => allows(up, near(deg)))).toEqual([true, true, false, false, true]); // prettier-ignore
  });

  it('limits are those of the machine and of the user, and of the piece at a place', () => {
    const steer = steerRules.parse({
      forbid: [
        { direction: [1, 0, 0], within: 20 },
        { direction: [0, 1, 0], within: 20, at: [0, 0, 9] },
      ],
    });
    const barred: Vec3[] = [];
    const own = { ...openLimits(80), bars: (d: Vec3) => barred.push(d) > 1 };
    const limits = steered(own, steer);
    // 21.8 degrees off the cone's axis, and 16.7.
    expect(limits.canReach(unit([1, 0, 0.4]))).toBe(true);
    expect(limits.canReach(unit([1, 0, 0.3]))).toBe(false);
    expect(limits.canReach(unit([0, 1, 0.3]))).toBe(true);
    expect(limits.canReach([0, 0, -1])).toBe(false);
    const [low, high] = [cuboid([4, 4, 4]), cuboid([4, 4, 4], [0, 0, 4])];
    expect(limits.bars([0, 1, 0], high, low)).toBe(true);
    expect(barred).toEqual([]);
    expect(limits.bars([0, 1, 0], low, high)).toBe(false);
    expect(limits.bars([0, 0, 1], high, low)).toBe(true);
    expect(barred).toHaveLength(2);
  });

  it('and places turn and move into another frame', () => {
    const frame = compose(shift([5, 6, 7]), turn(unit([1, 2, 3]), 1.1));
    const all = {
      only: [[1, 0, 0], [0, 3, 4]], // prettier-ignore
      forbid: [{ direction: [0, 0, 1], within: 12, at: [1, 2, 3] }, { direction: [1, 1, 0] }],
      prefer: [0, 1, 0],
      whole: [[4, 5, 6]],
      cuts: [{ point: [7, 8, 9], normal: [0, 0, 1], direction: [1, 0, 1] }, { point: [0, 0, 0], normal: [1, 0, 0] }], // prettier-ignore
    };
    const steer = steerRules.parse(all);
    const out = steerIn(frame, steer);
    const near = (p: Vec3 | undefined, q: Vec3): void => q.forEach((x, c) => expect(p![c]).toBeCloseTo(x, 12)); // prettier-ignore
    const d = (v: Vec3): Vec3 => applyDirection(frame, unit(v));
    out.only.forEach((v, i) => near(v, d(steer.only[i]!)));
    expect(out.only).toHaveLength(2);
    near(out.forbid[0]!.direction, d([0, 0, 1]));
    near(out.forbid[0]!.at, applyPoint(frame, [1, 2, 3]));
    expect(out.forbid.map((cone) => cone.within)).toEqual([12, 10]);
    expect(out.forbid[1]!.at).toBeUndefined();
    near(out.prefer, d([0, 1, 0]));
    near(out.whole[0], applyPoint(frame, [4, 5, 6]));
    near(out.cuts[0]!.point, applyPoint(frame, [7, 8, 9]));
    near(out.cuts[0]!.normal, d([0, 0, 1]));
    near(out.cuts[0]!.direction, d([1, 0, 1]));
    expect('direction' in out.cuts[1]!).toBe(false);
    expect('prefer' in steerIn(frame, steerRules.parse({}))).toBe(false);
  });
});

describe('faces', () => {
  it('of a box end at its edges, those of a round go on where facets bend by no more than 12 degrees', () => {
    const corners = (face: Float64Array): number => face.length / 3;
    const box = cuboid([4, 6, 8]);
    const side = faceNear(box, [9, 1, 4]);
    expect(corners(side)).toBe(4);
    for (let i = 0; i < side.length; i += 3) expect(side[i]).toBe(2);
    // 31 sides bend by 11.6 degrees each, 29 by 12.4.
    expect(corners(faceNear(cylinder(5, 3, 31), [9, 0.5, 1.5]))).toBe(62);
    expect(corners(faceNear(cylinder(5, 3, 29), [9, 0.5, 1.5]))).toBe(4);
    expect(corners(faceNear(cylinder(5, 3, 31), [0, 0, 9]))).toBe(31);
  });
});

describe('what stays unsupported', () => {
  // Facets of a box from z = 10 on; its underside is level.
  const mesh = cuboid([6, 4, 5], [0, 0, 10]);
  const region = (direction: Vec3): Region => ({ mesh, direction }) as Region;
  const normals = areaNormals(mesh);
  const facing = (z: number): number[] =>
    Array.from({ length: 12 }, (_, t) => t).filter((t) => Math.sign(normals[3 * t + 2]!) === z);
  const areas = (list: readonly (readonly [number, number])[]): Float64Array => {
    const out = new Float64Array(12);
    for (const [t, mm2] of list) out[t] = mm2;
    return out;
  };
  const [a, b] = facing(-1) as [number, number];
  const found = (hangs: Float64Array, tilt: number, least = 0, direction: Vec3 = [0, 0, 1]) =>
    unsupportedFindings(
      { regions: [region([0, 0, 1]), region(direction)], areas: [new Float64Array(12), hangs] },
      { ...openLimits(tilt), leastTipHeight: (t) => (t > 0.2 ? least : 0) },
      45 * DEG,
    );

  it('is out of reach, at the foot, or not cut free', () => {
    const under = areas([[a, 12], [b, 12]]); // prettier-ignore
    expect(found(under, 30).map((f) => f.code)).toEqual(['regions/unsupported-reach']);
    expect(found(under, 100, 10.5).map((f) => f.code)).toEqual(['regions/unsupported-foot']);
    expect(found(under, 100, 9.5).map((f) => f.code)).toEqual(['regions/unsupported-cut']);
    expect(found(new Float64Array(12), 100)).toEqual([]);
    // Less than 0.01 mm2 is not reported.
    expect(found(areas([[a, 0.009]]), 30)).toEqual([]);
    expect(found(areas([[a, 0.006], [b, 0.006]]), 30)).toHaveLength(1); // prettier-ignore
  });

  it('is said with its area, region, and the middle of its largest piece', () => {
    const [finding] = found(areas([[a, 11], [b, 12]]), 30); // prettier-ignore
    expect(finding!.message).toMatch(/^23\.00 mm2 of region 2 hangs unsupported/);
    const corners = [...mesh.triangles.subarray(3 * b, 3 * b + 3)];
    const middle = [0, 1, 2].map((c) => corners.reduce((sum, v) => sum + mesh.vertices[3 * v + c]! / 3, 0)); // prettier-ignore
    const { point, region: which } = finding!.at as { point: Vec3; region: number };
    expect(which).toBe(1);
    middle.forEach((x, c) => expect(point[c]).toBeCloseTo(x, 12));
    expect(finding!.message).toContain(`near ${middle.map((x) => x.toFixed(1)).join(', ')} mm`);
  });

  it('a facet that hangs in part hangs at its lowest corner along the direction', () => {
    for (const direction of [unit([1, 2, 3]), unit([-2, 1, 1]), unit([1, -3, -1])]) {
      for (const t of [a, b, ...facing(0)]) {
        const [finding] = found(areas([[t, 0.5]]), 30, 0, direction);
        const heights = [...mesh.triangles.subarray(3 * t, 3 * t + 3)].map((v) => {
          const p = [0, 1, 2].map((c) => mesh.vertices[3 * v + c]!) as unknown as Vec3;
          return { p, h: p[0] * direction[0] + p[1] * direction[1] + p[2] * direction[2] };
        });
        const lowest = heights.reduce((x, y) => (y.h < x.h ? y : x));
        expect((finding!.at as { point: Vec3 }).point).toEqual(lowest.p);
      }
    }
  });
});
