/** Sections at many heights against polygons worked out edge by edge; bounds of thickness; the room of a base. */
import { beforeAll, describe, expect, it } from 'vitest';
import type { Fault } from '../../lib/base/fault.js';
import { seeded } from '../../lib/base/random.js';
import type { Vec3 } from '../../lib/base/vector.js';
import { type PolygonKernel, loadPolygonKernel } from '../../lib/kernel/polygon.js';
import { baseOf, baseRoom, flatRoughness } from '../../lib/layers/interface.js';
import { flatMap } from '../../lib/layers/layer-map.js';
import { layOut } from '../../lib/layers/layers.js';
import { rowsOf } from '../../lib/layers/near.js';
import { checkThickness, layerRules, thinnest } from '../../lib/layers/rules.js';
import { sections } from '../../lib/layers/sweep.js';
import { meshFrom } from '../../lib/mesh/build.js';
import { massOf } from '../../lib/mesh/measure.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { area } from '../../lib/polygon/polygons.js';
import { perimeter } from '../../lib/polygon/loops.js';
import { box, regionOf, sphere, together } from './solids.js';

let kernel: PolygonKernel;
beforeAll(async () => {
  kernel = await loadPolygonKernel();
});

/** A tetrahedron that faces outwards. */
function tetrahedron(corners: readonly Vec3[]): Mesh {
  const mesh = meshFrom(Float64Array.from(corners.flat()), Uint32Array.of(0, 2, 1, 0, 1, 3, 1, 2, 3, 2, 0, 3)); // prettier-ignore
  return massOf(mesh).volume > 0
    ? mesh
    : meshFrom(mesh.vertices, mesh.triangles.map((_, h) => mesh.triangles[h % 3 === 1 ? h + 1 : h % 3 === 2 ? h - 1 : h]!)); // prettier-ignore
}

/** Area and outline of the section of a tetrahedron: the hull of where its six edges cross the height. */
function sectionOf(corners: readonly Vec3[], z: number): { area: number; outline: number } {
  const points: [number, number][] = [];
  corners.forEach((p, i) =>
    corners.slice(0, i).forEach((q) => {
      if (p[2] > z === q[2] > z) return;
      const t = (z - p[2]) / (q[2] - p[2]);
      points.push([p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])]);
    }),
  );
  if (points.length === 0) return { area: 0, outline: 0 };
  const [cx, cy] = [0, 1].map((c) => points.reduce((sum, p) => sum + p[c]! / points.length, 0)) as [number, number]; // prettier-ignore
  points.sort((a, b) => Math.atan2(a[1] - cy, a[0] - cx) - Math.atan2(b[1] - cy, b[0] - cx));
  const out = { area: 0, outline: 0 };
  points.forEach((p, i) => {
    const q = points[(i + 1) % points.length]!;
    out.area += (p[0] * q[1] - q[0] * p[1]) / 2;
    out.outline += Math.hypot(q[0] - p[0], q[1] - p[1]);
  });
  return out;
}

describe('sections', () => {
  it.each([1, 2, 3, 4])(
    'of tetrahedra far apart have their areas and outlines (seed %i)',
    (seed) => {
      const random = seeded(seed);
      const all = Array.from({ length: 2 * seed }, (_, k) =>
        Array.from({ length: 4 }, (): Vec3 => [
          20 * k + 9 * random(),
          9 * random(),
          9 * random() - 4,
        ]),
      );
      const heights = Float64Array.from({ length: 60 }, () => 12 * random() - 6).sort();
      const rows = rowsOf(sections(together(...all.map(tetrahedron)), heights));
      expect(rows).toHaveLength(60);
      rows.forEach((row, k) => {
        const want = all.map((corners) => sectionOf(corners, heights[k]!));
        expect(row.start.length - 1).toBe(want.filter((w) => w.area > 0).length);
        expect(area(row)).toBeCloseTo(
          want.reduce((sum, w) => sum + w.area, 0),
          6,
        );
        expect(perimeter(row)).toBeCloseTo(
          want.reduce((sum, w) => sum + w.outline, 0),
          6,
        );
      });
    },
  );

  it('of a box are its base from the bottom on and below its top', () => {
    const rows = rowsOf(
      sections(box([1, 2, 3], [5, 9, 8]), Float64Array.of(2.9, 3.1, 5, 7.9, 8.1)),
    );
    expect(rows.map((row) => Math.round(1e6 * area(row)) / 1e6)).toEqual([0, 28, 28, 28, 0]);
  });
});

describe('thickness', () => {
  const check = (rules: object, nozzle = 0.4) => checkThickness(layerRules.parse(rules), nozzle);
  const code = (rules: object, nozzle = 0.4): unknown[] => {
    try {
      return [check(rules, nozzle)];
    } catch (error) {
      return [(error as Fault).code, (error as Fault).at];
    }
  };

  it('is from 0.1 to 0.75 of the nozzle, for each of the three that are asked for', () => {
    expect(check({ thickness: 0.3, first: 0.3 })).toEqual({ least: expect.closeTo(0.04, 12) as number, most: 0.3 }); // prettier-ignore
    expect(check({ thickness: 0.04, first: 0.04 })).toMatchObject({ most: 0.04 });
    expect(check({ adapt: { least: 0.1 } })).toEqual({ least: 0.1, most: 0.2 });
    for (const [key, rules] of [
      ['layers.thickness', (v: number) => ({ thickness: v })],
      ['layers.first', (v: number) => ({ first: v })],
      ['layers.adapt.least', (v: number) => ({ adapt: { least: v } })],
    ] as const) {
      expect(code(rules(0.301))).toEqual(['layers/too-thick', { key }]);
      expect(code(rules(0.039))).toEqual(['layers/too-thin', { key }]);
    }
    expect(code({ thickness: 0.2, adapt: { least: 0.25 } })).toEqual(['layers/bad-range', { key: 'layers.adapt.least' }]); // prettier-ignore
  });

  it('never falls below the least where it is adapted, nor far below what is asked where not', () => {
    expect(thinnest(layerRules.parse({ thickness: 0.3 }), 0.4)).toBeCloseTo(0.2, 12);
    expect(thinnest(layerRules.parse({ adapt: { cusp: 0.1 } }), 0.4)).toBeCloseTo(0.04, 12);
    expect(thinnest(layerRules.parse({ adapt: { cusp: 0.1, least: 0.08 } }), 0.4)).toBe(0.08);
  });

  it('adapts to the skin of the part and not to cuts', () => {
    const ball = sphere(10, 24, 24);
    const rules = layerRules.parse({ thickness: 0.3, first: 0.2, adapt: { cusp: 0.05, least: 0.06, exempt: 0 } }); // prettier-ignore
    const laid = (id: number): Float64Array =>
      layOut(regionOf(ball, { cut: new Int32Array(ball.triangles.length / 3).fill(id) }), ball, rules, { nozzleDiameter: 0.4, roughness: flatRoughness, beyond: 1 }, kernel).thickness; // prettier-ignore
    const skin = laid(-1);
    expect(Math.min(...skin.subarray(1))).toBeLessThan(0.075);
    expect(Math.max(...skin)).toBeGreaterThan(0.28);
    for (const id of [0, 3]) {
      const cut = laid(id);
      for (let k = 1; k < cut.length; k++) expect(cut[k]).toBeCloseTo(cut[1]!, 9);
      expect(cut[1]).toBeGreaterThan(0.29);
    }
  });
});

describe('the base of a region', () => {
  // Its underside is cut 2 and rises from 1 to 3 along X.
  const block = box([0, 0, 0], [8, 5, 10]);
  const vertices = block.vertices.map((x, i) => (i % 3 === 2 && x === 0 ? 1 + block.vertices[i - 2]! / 4 : x)); // prettier-ignore
  const cut = Int32Array.from({ length: 12 }, (_, t) =>
    [0, 1, 2].every((c) => vertices[3 * block.triangles[3 * t + c]! + 2]! < 5) ? 2 : -1,
  );
  const mesh = meshFrom(vertices, block.triangles);
  const region = regionOf(mesh, { cut, baseCut: 2, standsOn: [0] });
  const map = flatMap([0, 0, 1]);

  it('spans its heights, with the area below each', () => {
    const base = baseOf(region, map);
    expect(base.top).toBe(3);
    expect(base.span).toBe(2);
    const whole = 5 * Math.hypot(8, 2);
    for (const [z, share] of [
      [0.5, 0],
      [1, 0],
      [1.5, 0.25],
      [2, 0.5],
      [2.9, 0.95],
      [3, 1],
      [9, 1],
    ] as const) {
      // prettier-ignore
      expect(base.areaBelow(z)).toBeCloseTo(share * whole, 9);
    }
  });

  it('has a room about it, and none on the table', () => {
    expect(baseRoom(region, map, 0.5)).toEqual({ least: [-0.5, -0.5, 0.5], most: [8.5, 5.5, 3.5] });
    expect(baseRoom(regionOf(mesh), map, 0.5)).toBeUndefined();
  });
});
