/**
 * A block cut by a leaning plane. The staircase that upright layers leave under the plane is measured
 * by columns and held against triangles worked out by hand: a step of height h at the angle p is a
 * right triangle of legs h / 2 and h / (2 tan p), one a period of h / sin p along the plane.
 */
import { beforeAll, describe, expect, it } from 'vitest';
import { turn } from '../../lib/base/frame.js';
import { area } from '../../lib/polygon/polygons.js';
import type { Vec3 } from '../../lib/base/vector.js';
import { type PolygonKernel, loadPolygonKernel } from '../../lib/kernel/polygon.js';
import { baseRoughness, layOut } from '../../lib/layers/layers.js';
import { rowsOf } from '../../lib/layers/near.js';
import { layerRules } from '../../lib/layers/rules.js';
import { moved } from '../../lib/mesh/build.js';
import { massOf } from '../../lib/mesh/measure.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import type { Region } from '../../lib/regions/region.js';
import { box, prism, regionOf } from './solids.js';

let kernel: PolygonKernel;
beforeAll(async () => {
  kernel = await loadPolygonKernel();
});

const DEG = Math.PI / 180;
const NOZZLE = 0.4;

/** A prism whose outline lies in x, z and whose depth is y = -10 .. 0. */
const standing = (outline: [number, number][]): Mesh =>
  moved(prism(outline, 0, 10), turn([1, 0, 0], Math.PI / 2));

/** A block of 20 x 10 x 40 in two: below and above the plane through (0, 10) that rises by p to +x. */
function halves(p: number): { lower: Region; upper: Region; part: Mesh; normal: Vec3 } {
  const rise = 20 * Math.tan(p);
  const normal: Vec3 = [-Math.sin(p), 0, Math.cos(p)];
  const point: Vec3 = [0, 0, 10];
  const low = standing([
    [0, 0],
    [20, 0],
    [20, 10 + rise],
    [0, 10],
  ]);
  const high = standing([
    [0, 10],
    [20, 10 + rise],
    [20, 40],
    [0, 40],
  ]);
  const onCut = (mesh: Mesh): Int32Array =>
    Int32Array.from({ length: mesh.triangles.length / 3 }, (_, t) =>
      [0, 1, 2].every((i) => {
        const v = 3 * mesh.triangles[3 * t + i]!;
        const [x, z] = [mesh.vertices[v]!, mesh.vertices[v + 2]!];
        return Math.abs(z - 10 - x * Math.tan(p)) < 1e-9;
      })
        ? 0
        : -1,
    );
  return {
    lower: regionOf(low, { cut: onCut(low) }),
    upper: regionOf(high, {
      cut: onCut(high),
      baseCut: 0,
      direction: normal,
      base: { point, normal },
      standsOn: [0],
    }),
    part: standing([
      [0, 0],
      [20, 0],
      [20, 40],
      [0, 40],
    ]),
    normal,
  };
}

const rules = layerRules.parse({});

describe.each([10, 20, 35, 45])('a cut leaning %s deg', (deg) => {
  const p = deg * DEG;
  const { lower, upper, part } = halves(p);

  it('leaves no void deeper than half a layer under it, h cos(p) / 8 in the mean', () => {
    const layers = layOut(lower, part, rules, { nozzleDiameter: NOZZLE }, kernel);
    const h = layers.thickness.at(-1)!;
    const rows = rowsOf(layers);
    const ends = rows.map(({ points }) => points.filter((_, i) => i % 2 === 0).sort());
    let deepest = 0;
    let highest = 0;
    let voids = 0;
    let ridges = 0;
    const columns = 20000;
    for (let i = 0; i < columns; i++) {
      // Away from the ends of the plane, where a period is not whole.
      const x = 2 + ((i + 0.5) / columns) * 16;
      // Every layer's section is one stretch that reaches the side x = 20; the top of the highest
      // layer over this column is the top of the deposit.
      let k = ends.length - 1;
      while (ends[k]!.length === 0 || ends[k]![0]! > x) k--;
      const over = (layers.top[k]! - (10 + x * Math.tan(p))) * Math.cos(p);
      deepest = Math.max(deepest, -over);
      highest = Math.max(highest, over);
      if (over < 0) voids -= over / columns;
      else ridges += over / columns;
    }
    expect(deepest).toBeLessThanOrEqual((h / 2) * Math.cos(p) + 1e-9);
    expect(deepest).toBeGreaterThan((h / 2) * Math.cos(p) * 0.98);
    expect(highest).toBeLessThanOrEqual((h / 2) * Math.cos(p) + 1e-9);
    const mean = (h * Math.cos(p)) / 8;
    expect(voids / mean).toBeGreaterThan(0.97);
    expect(voids / mean).toBeLessThan(1.03);
    expect(ridges / mean).toBeGreaterThan(0.97);
    expect(ridges / mean).toBeLessThan(1.03);
  });

  it('is laid with its whole volume: mid-layer sums are exact where the area is linear in height', () => {
    const layers = layOut(lower, part, rules, { nozzleDiameter: NOZZLE }, kernel);
    const sum = rowsOf(layers).reduce((s, row, k) => s + area(row) * layers.thickness[k]!, 0);
    // Off by the two layers in which the area has a bend, each by at most an eighth of a step.
    expect(Math.abs(sum - massOf(lower.mesh).volume)).toBeLessThan(0.2 * 0.2 * 10);
  });

  it('is filled by a first layer that is pressed on and fuller by the hollow', () => {
    const under = baseRoughness([lower, upper], 1, rules, NOZZLE);
    const step =
      (20 * Math.tan(p) + 10 - 0.2) / Math.ceil((20 * Math.tan(p) + 10 - 0.2) / 0.2 - 1e-3);
    const h = Math.max(step, 0.2);
    const triangles = (h * Math.cos(p)) / 8;
    const roundings = ((1 - Math.PI / 4) * h * Math.sin(p)) / 2;
    expect(under.hollow).toBeGreaterThan((triangles + roundings) * 0.98);
    expect(under.hollow).toBeLessThanOrEqual((triangles + roundings) * 1.001);
    expect(under.ridge).toBeCloseTo((h / 2) * Math.cos(p), 2);
    const layers = layOut(upper, part, rules, { nozzleDiameter: NOZZLE, roughness: under }, kernel);
    const first = layers.thickness[0]!;
    expect(first).toBeCloseTo(0.18, 9);
    expect(first).toBeGreaterThan(under.ridge + 0.04);
    // Stands square on its base: the first layer's area is the base's, but for the block's leaning sides.
    const shared = 200 / Math.cos(p);
    const own = area(rowsOf(layers)[0]!);
    expect(layers.flowFactor[0]).toBeCloseTo(1 + (under.hollow * shared) / (own * first), 9);
    expect(layers.flowFactor[0]).toBeGreaterThan(1.1);
    expect(layers.flowFactor[0]).toBeLessThan(1.3);
    expect([...layers.flowFactor.slice(1)].every((f) => f === 1)).toBe(true);
    const tops = upper.mesh.vertices;
    let end = -Infinity;
    for (let i = 0; i < tops.length; i += 3)
      end = Math.max(end, tops[i]! * upper.direction[0] + tops[i + 2]! * upper.direction[2]);
    expect(layers.top.at(-1)).toBeCloseTo(end, 9);
    expect(layers.thickness.reduce((a, b) => a + b, 0)).toBeCloseTo(
      end - 10 * upper.direction[2],
      9,
    );
  });

  it('around knows that the part goes on beneath the first layer', () => {
    const under = baseRoughness([lower, upper], 1, rules, NOZZLE);
    const limits = { nozzleDiameter: NOZZLE, roughness: under, beyond: 2 };
    const { beneathStart, beneath } = layOut(upper, part, rules, limits, kernel);
    expect([...beneathStart]).toEqual([0, 1, 2]);
    expect(area(beneath)).toBeGreaterThan(2 * 10 * 15);
  });
});

describe('other bases', () => {
  it('a plane parallel to the lower layers leaves nothing to fill', () => {
    const { lower, upper } = halves(0);
    const under = baseRoughness([lower, upper], 1, rules, NOZZLE);
    expect(under.hollow).toBe(0);
    expect(under.ridge).toBe(0);
  });

  it('ridges that stand high raise the first layer so that the nozzle clears them', () => {
    const { lower, upper, part } = halves(10 * DEG);
    const under = { hollow: 0.02, ridge: 0.15 };
    const limits = { nozzleDiameter: NOZZLE, roughness: under };
    expect(layOut(upper, part, rules, limits, kernel).thickness[0]).toBeCloseTo(0.19, 9);
    expect(lower.standsOn.length).toBe(0);
  });

  it('an oblique base: fuller layers as high as the base reaches and none above, capped', () => {
    const { lower, upper, part } = halves(20 * DEG);
    const leaning: Region = { ...upper, direction: [0, 0, 1] };
    const under = baseRoughness([lower, leaning], 1, rules, NOZZLE);
    const limits = { nozzleDiameter: NOZZLE, roughness: under };
    const layers = layOut(leaning, part, rules, limits, kernel);
    const end = 10 + 20 * Math.tan(20 * DEG);
    layers.top.forEach((z, k) => {
      const filled = z - layers.thickness[k]! < end;
      expect(layers.flowFactor[k]! > 1).toBe(filled);
      expect(layers.flowFactor[k]).toBeLessThanOrEqual(rules.interface.mostFlow);
    });
    // What is added in all is the hollow of both staircases over the whole base, less what the cap takes.
    const rows = rowsOf(layers);
    const added = rows.reduce(
      (s, row, k) => s + area(row) * layers.thickness[k]! * (layers.flowFactor[k]! - 1),
      0,
    );
    const h = layers.thickness[5]!;
    const p = 20 * DEG;
    const each = (h * Math.cos(p)) / 8 + ((1 - Math.PI / 4) * h * Math.sin(p)) / 2;
    const whole = (2 * each * 200) / Math.cos(p);
    expect(added).toBeLessThan(whole * 1.01);
    expect(added).toBeGreaterThan(whole * 0.9);
  });

  it('needs to be told what is below', () => {
    const { upper, part } = halves(0.3);
    expect(() => layOut(upper, part, rules, { nozzleDiameter: NOZZLE }, kernel)).toThrow(
      /roughness/,
    );
  });

  it('on the table every factor is 1', () => {
    const cube = box([0, 0, 0], [5, 5, 5]);
    const layers = layOut(regionOf(cube), cube, rules, { nozzleDiameter: NOZZLE }, kernel);
    expect([...layers.flowFactor].every((f) => f === 1)).toBe(true);
  });
});
