/**
 * What begins in the air, against closed forms, and in as many triangles as one likes. A lowest place
 * hangs up to `START` over it.
 */
import { describe, expect, it } from 'vitest';
import type { Mesh } from '../../lib/base/mesh.js';
import { DEG, type Vec3 } from '../../lib/base/vector.js';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import { START } from '../../lib/overhang/minima.js';
import { hanging, onTable, prepare } from '../../lib/overhang/overhang.js';
import { openLimits } from '../support/limits.js';
import { planRegions } from '../../lib/regions/plan-regions.js';
import { regionRules } from '../../lib/regions/rules.js';
import { frustumSide } from '../corpus/areas.js';
import { subdivide } from '../support/open-meshes.js';
import {
  coneOnTip,
  cubeOnCorner,
  cuboid,
  frameAlong,
  rotated,
  standing,
} from '../support/shapes.js';

const UP: Vec3 = [0, 0, 1];
const areaOf = (mesh: Mesh): number =>
  hanging(prepare(mesh), UP, 45 * DEG, onTable(mesh, 0.005)).area;

/** The same solid in four times as many triangles, so many times over. */
const finer = (mesh: Mesh, times: number): Mesh =>
  times === 0 ? mesh : finer(subdivide(mesh), times - 1);

describe('a lowest place hangs up to a bead over it', () => {
  // A plane square to the diagonal, h from the corner, cuts the edges at h sqrt 3: three right triangles
  // of (h sqrt 3)^2 / 2 each.
  it('a cube on its corner by 4.5 h^2, whatever its size', () => {
    for (const edge of [4, 20, 30]) {
      expect(areaOf(cubeOnCorner(edge))).toBeCloseTo(4.5 * START ** 2, 9);
    }
  });

  it('a narrow cone on its tip by the side of its lowest h', () => {
    const side = frustumSide(0, START / 3, START, 96);
    expect(areaOf(coneOnTip(10, 30, 96))).toBeCloseTo(side, 9);
  });

  // Both sides of the edge rise at 45 deg, which carries itself: h sqrt 2 wide, along the whole bar.
  it('a square bar on its edge by 2 sqrt 2 h along its length', () => {
    const bar = standing(rotated(cuboid([10, 40, 10]), frameAlong([1, 0, 1])));
    expect(areaOf(bar)).toBeCloseTo(2 * Math.SQRT2 * START * 40, 6);
  });
});

describe('the figure does not depend on the triangles', () => {
  const cubes = [0, 2, 5].map((times) => finer(cubeOnCorner(20), times));

  it.each(cubes.map((mesh) => [mesh.triangles.length / 3, mesh] as const))(
    'of a cube on its corner in %d',
    (_, mesh) => {
      expect(areaOf(mesh) / (4.5 * START ** 2)).toBeCloseTo(1, 6);
    },
  );

  it('nor does that of a plan', async () => {
    const kernel = await loadSolidKernel();
    const rules = regionRules.parse({ directions: 40, effort: 12, most: 1 });
    const [coarse, fine] = await Promise.all(
      [cubes[0]!, cubes[2]!].map((mesh) => planRegions(mesh, openLimits(100), rules, { kernel })),
    );
    const { asPlacedMm2, plannedMm2 } = coarse!.unsupported;
    expect(Math.abs(fine!.unsupported.plannedMm2 / plannedMm2 - 1)).toBeLessThan(0.01);
    expect(Math.abs(fine!.unsupported.asPlacedMm2 / asPlacedMm2 - 1)).toBeLessThan(0.01);
    const told = coarse!.findings.find(({ code }) => code.startsWith('regions/unsupported'));
    expect(told?.message).toContain('0.72 mm2');
    expect(Math.hypot(...(told?.at?.point ?? [9, 9, 9]))).toBeLessThan(1e-6);
  });
});
