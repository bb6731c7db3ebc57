/**
 * What is asked of a plan: directions, faces, cuts, and how firmly pieces hold. Expected values are
 * closed forms or follow from what was asked.
 */
import { describe, expect, test } from 'vitest';
import { DEG, type Vec3, angle, dot, unit } from '../../../lib/base/vector.js';
import type { Mesh } from '../../../lib/base/mesh.js';
import { loadSolidKernel } from '../../../lib/kernel/solid.js';
import { treeOf } from '../../../lib/mesh/bvh.js';
import { massOf } from '../../../lib/mesh/measure.js';
import { nearestPoint } from '../../../lib/mesh/query.js';
import { capsOf } from '../../../lib/mesh/cut/caps.js';
import { baseStress, leastModulus } from '../../../lib/regions/search/base-strength.js';
import { openLimits } from '../../support/limits.js';
import { type RegionPlan, planRegions } from '../../../lib/regions/plan-regions.js';
import type { Region } from '../../../lib/regions/region.js';
import { regionRules } from '../../../lib/regions/rules.js';
import { sectionOf } from '../../../lib/mesh/cut/section.js';
import { cuboid, cylinder, postWithArm, tShape } from '../../support/shapes.js';

const kernel = await loadSolidKernel();
const limits = openLimits(110);
const few = { directions: 60, effort: 16, children: 4, detail: 1500 };

const planOf = (part: Mesh, rules: object): Promise<RegionPlan> =>
  planRegions(part, limits, regionRules.parse({ ...few, ...rules }), { kernel });

const codes = (plan: RegionPlan): string[] => plan.findings.map((f) => f.code);

describe('directions', () => {
  test('only those asked for are used', async () => {
    const asked = unit([0.9, 0.1, 0.2]);
    const { regions, unsupported } = await planOf(postWithArm(), { steer: { only: [asked] } });
    expect(unsupported.plannedMm2).toBeLessThan(1e-6);
    expect(regions.length).toBe(2);
    expect(dot(regions[1]!.direction, asked)).toBeCloseTo(1, 9);
  });

  test('those in a forbidden cone are not used', async () => {
    const free = await planOf(postWithArm(), {});
    const used = free.regions[1]!.direction;
    const { regions } = await planOf(postWithArm(), {
      steer: { forbid: [{ direction: used, within: 25 }] },
    });
    for (const r of regions.slice(1)) {
      expect(dot(r.direction, used)).toBeLessThan(Math.cos((25 * Math.PI) / 180));
    }
  });

  test('one that is forbidden to the piece at a place is left to the others', async () => {
    const free = await planOf(tShape(), {});
    const used = free.regions[1]!.direction;
    // On the outer face of the arm, which reaches 25 mm from a post of 20 mm and is 15 mm thick.
    const end: Vec3 = [Math.sign(used[0]) * 35, 0, 32.5];
    const { regions } = await planOf(tShape(), {
      steer: { forbid: [{ direction: used, within: 20, at: end }] },
    });
    const holds = (r: Region): boolean => nearestPoint(treeOf(r.mesh), end)!.distance < 1e-3;
    expect(regions.filter(holds).length).toBe(1);
    expect(angle(regions.find(holds)!.direction, used)).toBeGreaterThan(20 * DEG);
    expect(regions.length).toBeGreaterThan(2);
  });

  test('one that is out of reach is said to be', async () => {
    const plan = await planOf(postWithArm(), { steer: { only: [[0, 0, -1]] } });
    expect(codes(plan)).toContain('regions/asked-direction');
    expect(plan.unsupported.plannedMm2).toBeCloseTo(600, 3);
  });

  test('the table normal cannot be forbidden, which is said', async () => {
    const plan = await planOf(cuboid([20, 20, 30]), {
      steer: { forbid: [{ direction: [0, 0, 1] }] },
    });
    expect(plan.regions.length).toBe(1);
    expect(codes(plan)).toContain('regions/asked-direction');
  });

  test('of plans as good the one nearest to the preferred direction is taken', async () => {
    const tilts: number[] = [];
    for (const prefer of [unit([1, 0, 0.05]), unit([0.6, 0, 0.8])]) {
      const plan = await planOf(postWithArm(), { steer: { prefer } });
      expect(plan.unsupported.plannedMm2).toBeLessThan(1e-6);
      expect(codes(plan)).toContain('regions/asked-prefer');
      tilts.push(Math.acos(plan.regions[1]!.direction[2]));
    }
    expect(tilts[0]!).toBeGreaterThan(tilts[1]!);
  });
});

/** Corners of the part at a height, which one region must hold all. */
const cornersAt = ({ vertices: v }: Mesh, z: number): Vec3[] =>
  Array.from({ length: v.length / 3 }, (_, i): Vec3 => [
    v[3 * i]!,
    v[3 * i + 1]!,
    v[3 * i + 2]!,
  ]).filter((p) => Math.abs(p[2] - z) < 1e-9);

const has = ({ vertices: v }: Mesh, [x, y, z]: Vec3): boolean => {
  for (let i = 0; i < v.length; i += 3) {
    if (Math.hypot(v[i]! - x, v[i + 1]! - y, v[i + 2]! - z) < 1e-9) return true;
  }
  return false;
};

describe('faces', () => {
  test('the top of post and arm is cut when nothing is asked, and kept whole when it is', async () => {
    const part = postWithArm();
    const top = cornersAt(part, 40);
    const whole = ({ regions }: RegionPlan): boolean =>
      regions.some(({ mesh }) => top.every((p) => has(mesh, p)));
    expect(whole(await planOf(part, { lean: 0 }))).toBe(false);
    const asked = await planOf(part, { steer: { whole: [[0, 0, 40]] } });
    expect(whole(asked)).toBe(true);
    expect(codes(asked)).not.toContain('regions/asked-face');
  });

  test('a cut that was asked for goes through it all the same, which is said', async () => {
    const plan = await planOf(cuboid([20, 20, 30]), {
      steer: { whole: [[10, 0, 20]], cuts: [{ point: [0, 0, 15], normal: [0, 0, 1] }] },
    });
    expect(codes(plan)).toContain('regions/asked-face');
  });
});

describe('cuts', () => {
  test('a cut that was asked for is made there, its piece built along the normal', async () => {
    const { regions } = await planOf(cuboid([20, 20, 30]), {
      steer: { cuts: [{ point: [0, 0, 18], normal: [0, 0, 1] }] },
    });
    expect(regions.map((r) => massOf(r.mesh).volume)).toEqual([
      expect.closeTo(20 * 20 * 18, 6),
      expect.closeTo(20 * 20 * 12, 6),
    ]);
    expect(regions[1]!.direction).toEqual([0, 0, 1]);
  });

  test('or along a direction of its own', async () => {
    const direction = unit([0.3, 0, 1]);
    const { regions } = await planOf(cuboid([20, 20, 30]), {
      steer: { cuts: [{ point: [0, 0, 18], normal: [0, 0, 1], direction }] },
    });
    expect(dot(regions[1]!.direction, direction)).toBeCloseTo(1, 12);
    expect(dot(regions[1]!.base.normal, [0, 0, 1])).toBeCloseTo(1, 12);
  });

  test.each([
    ['past the part', { point: [0, 0, 500], normal: [0, 0, 1] }, /passes by/],
    ['out of reach', { point: [0, 0, 15], normal: [0, 0, -1] }, /out of reach/],
    [
      'nothing left on the table',
      { point: [0, 0, -1], normal: [0, 0, 1] },
      /passes by|stand on the table/,
    ],
  ])('one that cannot be made is said: %s', async (_, cut, why) => {
    const plan = await planOf(cuboid([20, 20, 30]), { steer: { cuts: [cut] } });
    expect(plan.regions.length).toBe(1);
    const finding = plan.findings.find((f) => f.code === 'regions/asked-cut');
    expect(finding?.message).toMatch(why);
  });
});

describe('holding', () => {
  const modulusOf = (mesh: Mesh, z: number): number => {
    const section = sectionOf(mesh, { point: [0, 0, z], normal: [0, 0, 1] })!;
    return leastModulus(section, capsOf(section));
  };

  test('section modulus of a circle is pi r^3 / 4, of a rectangle that of its corner, bent across it (closed forms)', () => {
    // Stress of the corner under both components: M cos / (b h^2 / 6) + M sin / (h b^2 / 6), at its worst.
    const corner = 1 / Math.hypot(6 / (12 * 5 * 5), 6 / (5 * 12 * 12));
    expect(modulusOf(cuboid([12, 5, 30]), 10)).toBeCloseTo(corner, 9);
    expect(modulusOf(cylinder(4, 30, 720), 10) / ((Math.PI * 64) / 4)).toBeCloseTo(1, 3);
  });

  test('stress of a cantilever: push times height over modulus, weight at half height', () => {
    const section = sectionOf(cuboid([10, 10, 40]), { point: [0, 0, 10], normal: [0, 0, 1] })!;
    const rules = { force: 5, stress: 10, density: 1 };
    const modulus = 1000 / (6 * Math.SQRT2);
    const weight = 3000 * 1e-6 * 9.80665;
    expect(baseStress(section, capsOf(section), 30, 3000, rules)).toBeCloseTo(
      ((5 + weight / 2) * 30) / modulus,
      9,
    );
  });

  test('a piece whose base cannot carry the push is not cut off', async () => {
    // Base 20 x 20: modulus 943 mm3; arm of 30 mm. 10 MPa are reached at a push of 314 N; at 600 N
    // only what is shorter than 15.7 mm holds, and the underside of the rest, 14.3 x 20, stays.
    const at = (force: number): Promise<RegionPlan> =>
      planOf(postWithArm(), { lean: 0, hold: { force }, steer: { only: [[1, 0, 0]] } });
    expect((await at(300)).regions.length).toBe(2);
    expect((await at(600)).unsupported.plannedMm2).toBeGreaterThan(14.2 * 20);
  });
});
