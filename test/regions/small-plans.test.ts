/**
 * Plans of solids of boxes, whose regions, contacts and hanging areas follow from their sizes; and what must hold
 * of any plan, recounted from the meshes of its regions. The machine tilts freely up to an angle, and its head
 * needs no room.
 */
import { describe, expect, it } from 'vitest';
import { DEG, type Vec3, angle, dot, pointAt, sub, unit } from '../../lib/base/vector.js';
import type { Mesh } from '../../lib/base/mesh.js';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import { areaNormals, massOf } from '../../lib/mesh/measure.js';
import { type RegionPlan, planRegions } from '../../lib/regions/plan-regions.js';
import { regionRules } from '../../lib/regions/rules.js';
import type { SearchLimits } from '../../lib/regions/search/machine-limits.js';
import { openLimits } from '../support/limits.js';
import { cuboid, postWithArm } from '../support/shapes.js';

const kernel = await loadSolidKernel();
const few = { directions: 20, effort: 2, children: 2, detail: 500 };
const FOOT = 0.2;

/** A plan of few steps, after all that must hold of it. */
async function planOf(
  part: Mesh,
  rules: object = {},
  limits: SearchLimits = openLimits(110),
): Promise<RegionPlan> {
  const all = regionRules.parse({ ...few, ...rules });
  const plan = await planRegions(part, limits, all, { kernel });
  const { regions } = plan;
  const volume = regions.reduce((sum, r) => sum + massOf(r.mesh).volume, 0);
  expect(volume / massOf(plan.part).volume).toBeCloseTo(1, 9);
  expect(regions.length).toBeLessThanOrEqual(all.most);
  regions.forEach((region, i) => {
    const { mesh, cut, direction, base, baseCut, standsOn } = region;
    expect(mesh.twins.includes(-1)).toBe(false);
    expect(region.volume).toBeCloseTo(massOf(mesh).volume, 6);
    expect(limits.canReach(direction)).toBe(true);
    expect(standsOn.every((under) => under < i)).toBe(true);
    expect(standsOn.length > 0).toBe(i > 0);
    expect(angle(direction, base.normal)).toBeLessThanOrEqual(all.lean * DEG + 1e-6);
    for (let v = 0; v < mesh.vertices.length / 3; v++) {
      const over = dot(sub(pointAt(mesh.vertices, v), base.point), base.normal);
      expect(over).toBeGreaterThan(-1e-6);
    }
    // The base faces down against its normal; its area is the contact. What leans past 45 degrees hangs.
    const normals = areaNormals(mesh);
    let contact = 0;
    let hangs = 0;
    cut.forEach((id, t) => {
      const n = pointAt(normals, t);
      const size = Math.hypot(...n);
      const top = Math.max(...[0, 1, 2].map((c) => mesh.vertices[3 * mesh.triangles[3 * t + c]! + 2]!)); // prettier-ignore
      const onTable = i === 0 && top <= FOOT;
      if (i === 0 ? onTable : id === baseCut) contact -= dot(n, base.normal);
      const carried = onTable || (i > 0 && id === baseCut);
      if (!carried && dot(n, direction) < -(Math.SQRT1_2 + 1e-9) * size) hangs += size;
    });
    expect(region.contactArea).toBeCloseTo(contact, 6);
    expect(region.unsupportedArea).toBeCloseTo(hangs, 6);
    const own = plan.findings.filter(
      (f) => f.at?.region === i && f.code.startsWith('regions/unsupported'),
    );
    expect(own.length > 0).toBe(hangs > 0.01);
  });
  const total = regions.reduce((sum, r) => sum + r.unsupportedArea, 0);
  expect(plan.unsupported.plannedMm2).toBeCloseTo(total, 9);
  return plan;
}

const codes = (plan: RegionPlan): string[] => plan.findings.map((f) => f.code);
const finding = (plan: RegionPlan, code: string) => plan.findings.find((f) => f.code === code);

/** Its arm reaches 30 mm from a post of 20 x 20 x 40 mm, 20 mm thick: its underside of 600 mm2 hangs. */
const arm = postWithArm();

describe('a post with an arm', () => {
  it('is printed in two regions, the arm on the post along a direction of its own', async () => {
    const plan = await planOf(arm);
    expect(plan.regions).toHaveLength(2);
    expect(plan.unsupported).toEqual({ asPlacedMm2: 600, bestSingleDirectionMm2: 600, plannedMm2: 0 }); // prettier-ignore
    expect(plan.findings).toEqual([]);
    const [post, limb] = plan.regions;
    expect(post!.direction).toEqual([0, 0, 1]);
    expect(post!.standsOn).toEqual([]);
    expect(limb!.standsOn).toEqual([0]);
    // Level underside: from 45 degrees on it is carried.
    expect(limb!.direction[0]).toBeGreaterThanOrEqual(Math.SQRT1_2 - 1e-9);
    expect(plan.part).toEqual(arm);
    expect(plan.hanging.every((flags) => flags.every((flag) => flag === 0))).toBe(true);
  });

  it('has planes square to the direction where they may not lean', async () => {
    const { regions, unsupported } = await planOf(arm, { lean: 0 });
    expect(unsupported.plannedMm2).toBe(0);
    expect(regions[1]!.base.normal).toEqual(regions[1]!.direction);
  });

  it('keeps its 600 mm2 in one region, for want of a cut', async () => {
    const plan = await planOf(arm, { most: 1 });
    expect(plan.regions).toHaveLength(1);
    const why = finding(plan, 'regions/unsupported-cut')!;
    expect(why.message).toMatch(/^600\.00 mm2 of region 1 hangs.*no cut was found/);
    const { point } = why.at as { point: Vec3 };
    expect(point[2]).toBeCloseTo(20, 9);
    expect(point[0]).toBeGreaterThan(10);
  });

  it('or for want of tilt: with 40 degrees no direction carries a level underside', async () => {
    const plan = await planOf(arm, {}, openLimits(40));
    expect(plan.unsupported.plannedMm2).toBeCloseTo(600, 6);
    expect(codes(plan)).toEqual(['regions/unsupported-reach']);
    expect(plan.findings[0]!.message).toMatch(
      /^600\.00 mm2.*no direction that the machine reaches/,
    );
  });

  it('or for want of room over the table', async () => {
    const low = { ...openLimits(110), leastTipHeight: (tilt: number) => (tilt > 0.1 ? 50 : 0) };
    const plan = await planOf(arm, {}, low);
    expect(plan.unsupported.plannedMm2).toBeCloseTo(600, 6);
    expect(codes(plan)).toEqual(['regions/unsupported-foot']);
    // The underside is 20 mm up: with a tip that reaches down to 19 mm it is free, and no cut is lower.
    const high = { ...openLimits(110), leastTipHeight: (tilt: number) => (tilt > 0.1 ? 19 : 0) };
    const free = await planOf(arm, {}, high);
    expect(free.unsupported.plannedMm2).toBe(0);
    const { vertices } = free.regions[1]!.mesh;
    for (let v = 2; v < vertices.length; v += 3) expect(vertices[v]).toBeGreaterThan(19 - 1e-6);
  });

  it('is not cut where a cut relieves less than it is worth, or its contact is too small', async () => {
    expect((await planOf(arm, { worth: 601 })).regions).toHaveLength(1);
    expect((await planOf(arm, { worth: 500, lean: 0 })).unsupported.plannedMm2).toBe(0);
    // The largest section of the part along any plane is below 50 x 40 mm.
    expect((await planOf(arm, { contact: 2000 })).regions).toHaveLength(1);
  });

  it('is not cut where the base cannot carry the push of the head', async () => {
    expect((await planOf(arm, { hold: { force: 1e5 } })).unsupported.plannedMm2).toBeCloseTo(
      600,
      6,
    );
  });
});

describe('requests', () => {
  it('directions: the ones asked for, and none out of reach', async () => {
    const asked = unit([0.9, 0.1, 0.2]);
    const plan = await planOf(arm, { steer: { only: [asked, [0, 0, -1]] } });
    expect(plan.unsupported.plannedMm2).toBe(0);
    expect(dot(plan.regions[1]!.direction, asked)).toBeCloseTo(1, 9);
    expect(codes(plan)).toEqual(['regions/asked-direction']);
    expect(plan.findings[0]!.message).toMatch(/0, 0, -1 was asked for and is out of reach/);
  });

  it('a face that is to stay whole is not cut: the top of post and arm has its corners in one region', async () => {
    const top = [-10, 40].flatMap((x) => [-10, 10].map((y) => [x, y, 40].join()));
    const held = ({ regions }: RegionPlan): boolean =>
      regions.some(({ mesh }) => {
        const own = Array.from({ length: mesh.vertices.length / 3 }, (_, v) =>
          pointAt(mesh.vertices, v).join(),
        );
        return top.every((p) => own.includes(p));
      });
    expect(held(await planOf(arm, { steer: { only: [[1, 0, 0]] } }))).toBe(false);
    const whole = await planOf(arm, { steer: { only: [[1, 0, 0]], whole: [[0, 0, 40]] } });
    expect(held(whole)).toBe(true);
    expect(codes(whole)).not.toContain('regions/asked-face');
  });

  it('a forbidden cone is kept out of', async () => {
    const { regions } = await planOf(arm, { steer: { forbid: [{ direction: [1, 0, 1], within: 50 }] } }); // prettier-ignore
    for (const r of regions.slice(1)) expect(angle(r.direction, [1, 0, 1])).toBeGreaterThan(50 * DEG); // prettier-ignore
  });

  it('the share of the volume along the preferred direction is said', async () => {
    const plan = await planOf(cuboid([20, 20, 30]), { steer: { prefer: [0, 0, 1] } });
    expect(finding(plan, 'regions/asked-prefer')!.message).toMatch(/^100% of the volume/);
    const cut = { point: [0, 0, 12], normal: [0, 0, 1], direction: [0.3, 0, 1] };
    const two = await planOf(cuboid([20, 20, 30]), { steer: { prefer: [0.3, 0, 1], cuts: [cut] } });
    expect(finding(two, 'regions/asked-prefer')!.message).toMatch(/^60% of the volume/);
    expect(two.regions.map((r) => r.volume)).toEqual([
      expect.closeTo(4800, 6),
      expect.closeTo(7200, 6),
    ]);
    expect(dot(two.regions[1]!.direction, unit([0.3, 0, 1]))).toBeCloseTo(1, 12);
  });

  it('a forbidden direction of the first region, and of a cut that was asked for, is said', async () => {
    const cuts = [{ point: [0, 0, 12], normal: [0, 0, 1] }];
    const forbid = [{ direction: [0, 0, 1] }];
    const plan = await planOf(cuboid([20, 20, 30]), { steer: { forbid, cuts } });
    expect(codes(plan).every((code) => code.startsWith('regions/asked-'))).toBe(true);
    expect(finding(plan, 'regions/asked-direction')).toMatchObject({ at: { region: 0 } });
  });

  it('a face that a requested cut goes through, and cuts that cannot be made, are said', async () => {
    const cut = (z: number, normal: Vec3) => ({ point: [0, 0, z], normal });
    const cuts = [cut(15, [0, 0, 1]), cut(500, [0, 0, 1]), cut(15, [0, 0, -1])];
    const plan = await planOf(cuboid([20, 20, 30]), { steer: { whole: [[10, 0, 20]], cuts } });
    expect(codes(plan)).toEqual(['regions/asked-face', 'regions/asked-cut', 'regions/asked-cut']);
    expect(plan.findings[0]!.message).toMatch(/near 10, 0, 20 mm .* in 2 regions/);
    expect(plan.findings[1]!.message).toMatch(/^cut 2 .*passes by/);
    expect(plan.findings[2]!.message).toMatch(/^cut 3 /);
    expect(plan.regions).toHaveLength(2);
  });
});

it('a bar that leans by 60 degrees is built along one direction where no cut is worth it', async () => {
  const box = cuboid([8, 8, 20]);
  const lean = Math.tan(60 * DEG);
  const vertices = box.vertices.map((x, i) => (i % 3 === 0 ? x + lean * box.vertices[i + 2]! : x));
  const plan = await planOf({ ...box, vertices }, { worth: 1e6 });
  // Its lower side is 8 mm wide and 20 / cos 60 = 40 mm long.
  expect(plan.unsupported.asPlacedMm2).toBeGreaterThan(8 * 39);
  // The foot that is cut off ends a hair over what rests on the table: 8 x 0.2 / cos 60 mm of its side hang.
  expect(plan.unsupported.plannedMm2).toBeCloseTo(3.2, 3);
  expect(plan.unsupported.bestSingleDirectionMm2).toBeCloseTo(3.2, 3);
  expect(plan.regions).toHaveLength(2);
  // All but the foot, along what it leans to: 15 degrees from the table normal at least, 35 at most.
  const { direction } = plan.regions[1]!;
  expect(direction[0]).toBeGreaterThan(Math.sin(14.9 * DEG));
  expect(direction[2]).toBeGreaterThanOrEqual(Math.cos(35 * DEG) - 1e-9);
  expect(plan.regions[0]!.volume).toBeCloseTo(64 * FOOT, 1);
});

it('a pedestal lifts the part and is said', async () => {
  const plan = await planOf(cuboid([10, 10, 20]), { pedestal: 5 });
  const note = finding(plan, 'regions/pedestal')!;
  expect(note.severity).toBe('note');
  const volume = massOf(plan.part).volume - 2000;
  expect(note.message).toContain(`a pedestal of 5 mm and ${volume.toFixed(0)} mm3`);
  expect(plan.unsupported.asPlacedMm2).toBe(0);
});
