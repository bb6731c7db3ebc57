/** How a part holds on to the table, against closed forms of beams and solids. */
import { describe, expect, it } from 'vitest';
import { shift } from '../../lib/base/frame.js';
import { DEG, type Vec3, cross, dot, scale, square, sub, unit } from '../../lib/base/vector.js';
import { GRAVITY } from '../../lib/base/gravity.js';
import type { Mesh } from '../../lib/base/mesh.js';
import { polygonsFrom } from '../support/polygons.js';
import { brimThatHolds } from '../../lib/footing/feet.js';
import { BondedJoint, footprintOf } from '../../lib/footing/footprint.js';
import { type Footing, type FootingInput, judgeFooting } from '../../lib/footing/footing.js';
import { gravityAlong } from '../../lib/footing/gravity-directions.js';
import { loadPolygonKernel } from '../../lib/kernel/polygon.js';
import { moved } from '../../lib/mesh/build.js';
import type { Region } from '../../lib/regions/region.js';
import { arm, post } from '../motion/jobs.js';
import { sampleMachine } from '../support/jobs.js';
import * as make from '../support/shapes.js';

const kernel = await loadPolygonKernel();
const ac = sampleMachine('table-table-ac');

const standing = (mesh: Mesh): Region => ({
  mesh,
  cut: new Int32Array(mesh.triangles.length / 3).fill(-1),
  baseCut: -1,
  direction: [0, 0, 1],
  base: { point: [0, 0, 0], normal: [0, 0, 1] },
  standsOn: [],
  volume: 0,
  contactArea: 0,
  unsupportedArea: 0,
});

/** Layers of 0.2 mm, 2 N, PLA, narrowest bead 0.3 mm, limits as a job has them. */
function judged(regions: readonly Region[], change: Partial<FootingInput> = {}): Footing {
  const thickness = new Float64Array(60).fill(0.2);
  const input: FootingInput = {
    regions,
    machine: ac,
    layers: { top: thickness.map((t, k) => t * (k + 1)), thickness },
    beads: { least: 0.3, brim: 0 },
    contact: 4,
    hold: { force: 2, stress: 10, table: 2, density: 1.24 },
    necks: [0.201],
    ...change,
  };
  return judgeFooting(input, kernel);
}

const within = (value: number, expected: number, share: number): void => {
  expect(value).toBeGreaterThan(expected * (1 - share));
  expect(value).toBeLessThan(expected * (1 + share));
};

const codes = (footing: Footing): string[] => footing.failures.map(({ code }) => code);

describe('what lies on the table', () => {
  it('of a block its whole foot', () => {
    within(judged([standing(make.cuboid([20, 30, 10]))]).contactMm2, 600, 2e-4);
  });

  // Section of a sphere at the height z over its lowest point: pi (2 R z - z^2).
  it('of a ball the disc at the middle of the first layer', () => {
    const ball = standing(make.standing(make.sphere(10, 144)));
    within(judged([ball]).contactMm2, Math.PI * (2 * 10 * 0.1 - 0.01), 0.03);
  });

  // The cone is z / 3 wide at the height z: as wide as a bead of 0.3 mm from z = 0.45 mm on. Middles of
  // layers lie at 0.1, 0.3, 0.5 mm, so the third is the first to be laid.
  it('of a narrow cone on its tip nothing, and its first bead lies two layers over the table', () => {
    const footing = judged([standing(make.coneOnTip(10, 30, 96))]);
    expect(footing.contactMm2).toBe(0);
    expect(footing.firstBeadMm).toBeCloseTo(0.4, 9);
    expect(codes(footing)).toEqual(['footing/contact']);
    expect(footing.failures[0]!.message).toMatch(/0\.00 mm2 .* 4 mm2 .* 0\.40 mm/);
  });

  it('of a cone on its tip with a bead that is narrow enough the disc of radius z / 3', () => {
    const cone = standing(make.coneOnTip(10, 30, 96));
    const { contactMm2 } = judged([cone], { beads: { least: 0.01, brim: 0 } });
    within(contactMm2, Math.PI * (0.1 / 3) ** 2, 0.02);
  });

  // A triangle across the corner: its inscribed circle has the radius z / sqrt 2, 0.15 mm from z = 0.21 on.
  it('of a cube on its corner nothing', () => {
    const footing = judged([standing(make.cubeOnCorner(20))]);
    expect(footing.contactMm2).toBe(0);
    expect(footing.firstBeadMm).toBeCloseTo(0.2, 9);
  });

  it('two bodies are judged each by itself', () => {
    const beside = moved(make.coneOnTip(10, 30, 24), shift([40, 0, 0]));
    const both = standing(make.together(make.cuboid([20, 20, 10]), beside));
    expect(judged([both]).contactMm2).toBe(0);
  });
});

describe('tension at the table under a push of 2 N at the top', () => {
  // Section modulus of a square about its diagonal, a^3 / (6 sqrt 2) = 0.118 a^3 (handbook, from memory).
  it('of a square post: the push towards a corner pulls most', () => {
    const { table } = judged([standing(make.cuboid([20, 20, 30]))]);
    within(table!.mpa, (2 * 30) / (20 ** 3 / (6 * Math.SQRT2)), 0.01);
  });

  // Section modulus of a circle, pi r^3 / 4 (Timoshenko, Strength of Materials).
  it('of a round post', () => {
    const { table } = judged([standing(make.cylinder(8, 50, 256))]);
    within(table!.mpa, (2 * 50) / ((Math.PI * 8 ** 3) / 4), 0.01);
  });

  // Section modulus of a ring, pi (R^4 - r^4) / (4 R).
  it('of a pipe', () => {
    const { table } = judged([standing(make.pipe(12, 9, 40, 192))]);
    within(table!.mpa, (2 * 40) / ((Math.PI * (12 ** 4 - 9 ** 4)) / (4 * 12)), 0.01);
  });

  it('a post that is too slender is told with figure and limit', () => {
    const footing = judged([standing(make.cuboid([6, 6, 60]))]);
    const mpa = (2 * 60 * 6 * Math.SQRT2) / 6 ** 3;
    within(footing.table!.mpa, mpa, 0.02);
    expect(codes(footing)).toEqual(['footing/table']);
    expect(footing.failures[0]!.message).toMatch(/4\.\d\d MPa, the limit is 2 MPa/);
  });

  it('a ring that stands breaks at its foot as well', () => {
    const ring = standing(make.ringStanding(20, 5, 144, 144));
    expect(codes(judged([ring]))).toEqual(['footing/table', 'footing/neck']);
  });
});

describe('a flat joint', () => {
  const a = 20;
  const foot = footprintOf(
    polygonsFrom([
      [
        [5, 7],
        [5 + a, 7],
        [5 + a, 7 + a],
        [5, 7 + a],
      ],
    ]),
    0,
  );
  const joint = new BondedJoint(foot);
  const middle: Vec3 = [5 + a / 2, 7 + a / 2, 0];
  const most = (list: Float64Array): number => Math.max(...list);

  it('pulled straight up carries force / area', () => {
    for (const s of joint.tensions([0, 0, 8], middle)) expect(s).toBeCloseTo(8 / a ** 2, 12);
  });

  // A cantilever under its own weight: M = W H / 2 over the modulus a^3 / 6.
  it('with a block lying on its side carries its weight at half its height', () => {
    const at: Vec3 = [middle[0], middle[1], 25];
    expect(most(joint.tensions([3, 0, 0], at))).toBeCloseTo((3 * 25 * 6) / a ** 3, 12);
  });

  // The middle third rule: no tension as long as the resultant passes within a / 6 of the middle.
  it('with weight alone begins to lift when the resultant leaves the middle third', () => {
    const [weight, high] = [12, 40];
    const top: Vec3 = [middle[0], middle[1], high];
    const total = (push: number): number => most(joint.tensions([push, 0, -weight], top));
    expect(total((weight * a) / 6 / high)).toBeCloseTo(0, 12);
    expect(total(((weight * a) / 6 / high) * 1.01)).toBeGreaterThan(1e-5);
  });
});

describe('while the part grows', () => {
  // Everything by hand: the joint is a square of 20 mm, the pushes are tried in 360 senses at every
  // corner of what is printed, the weight lies along -d, before the region and after it.
  it.each([30, 60, 90])('region 1 lies on its side for an arm along %d deg', (tilt) => {
    const d: Vec3 = unit([Math.sin(tilt * DEG), 0, Math.cos(tilt * DEG)]);
    const jobs = [post(), arm(d)];
    const regions = jobs.map(({ region }) => region);
    const { table } = judged(regions, { hold: { force: 2, stress: 10, table: 2, density: 40 } });
    const [J, A] = [20 ** 4 / 12, 400];
    const corners = ([-10, 10] as const).flatMap((x) => ([-10, 10] as const).map((y) => [x, y]));
    const tension = (force: Vec3, at: Vec3, [x, y]: number[]): number => {
      const m = cross(at, force);
      return force[2] / A + (y! * m[0] - x! * m[1]) / J;
    };
    const mass = (r: Region): { volume: number; middle: Vec3 } => {
      const v = r.mesh.vertices;
      const middle = [0, 1, 2].map((c) => {
        let sum = 0;
        for (let i = c; i < v.length; i += 3) sum += v[i]! / (v.length / 3);
        return sum;
      });
      return { volume: r.volume, middle: middle as unknown as Vec3 };
    };
    let most = 0;
    regions.forEach((region, i) => {
      const u = square(region.direction);
      const w = cross(region.direction, u);
      for (const q of corners) {
        let push = 0;
        for (let p = 0; p < region.mesh.vertices.length; p += 3) {
          const at = [...region.mesh.vertices.subarray(p, p + 3)] as unknown as Vec3;
          for (let k = 0; k < 360; k++) {
            const [c, s] = [Math.cos(k * DEG), Math.sin(k * DEG)];
            const e: Vec3 = [u[0] * c + w[0] * s, u[1] * c + w[1] * s, u[2] * c + w[2] * s];
            push = Math.max(push, tension(scale(e, 2), at, q));
          }
        }
        for (const count of [i, i + 1]) {
          const weight = regions.slice(0, count).reduce((sum, r) => {
            const { volume, middle } = mass(r);
            const force = scale(region.direction, -volume * 40e-6 * GRAVITY);
            return sum + tension(force, middle, q);
          }, 0);
          most = Math.max(most, push + Math.max(0, weight));
        }
      }
    });
    expect(table!.region).toBe(1);
    within(table!.mpa, most, 0.01);
  });

  it('gravity turns with a table that tilts and not under a head that tilts', () => {
    const d: Vec3 = unit([0.5, 0.2, 0.8]);
    for (const down of gravityAlong(ac, d)) {
      expect(dot(down, d)).toBeCloseTo(-1, 9);
    }
    for (const down of gravityAlong(sampleMachine('head-table'), d)) {
      expect(Math.hypot(...sub(down, [0, 0, -1]))).toBeLessThan(1e-9);
    }
  });
});

describe('a brim', () => {
  // A strip clamped at its root under an even load s: s L^2 / 2 = stress t^2 / 6 (cantilever, Timoshenko).
  it('holds as far out as its root bears', () => {
    const [t, stress, s] = [0.2, 10, 2];
    const L = brimThatHolds(5, t, { stress, table: s });
    expect((s * L * L) / 2).toBeCloseTo((stress * t * t) / 6, 12);
    expect(brimThatHolds(0.1, t, { stress, table: s })).toBe(0.1);
    const disc = judged([standing(make.cylinder(5, 10, 256))], { beads: { least: 0.3, brim: 5 } });
    within(disc.contactMm2, Math.PI * (5 + L) ** 2, 2e-3);
  });
});
