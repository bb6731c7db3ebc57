/**
 * Layers of slabs, pyramids and blocks on leaning planes, in closed form: how thick the first layer is, what the part
 * has below, beside and above, and what hangs where only a part is bridged.
 */
import { beforeAll, describe, expect, it } from 'vitest';
import { type PolygonKernel, loadPolygonKernel } from '../../lib/kernel/polygon.js';
import { flatRoughness } from '../../lib/layers/interface.js';
import { type LayerLimits, baseRoughness, layOut, middles } from '../../lib/layers/layers.js';
import { loopsOf } from '../../lib/layers/near.js';
import { layerRules } from '../../lib/layers/rules.js';
import { meshFrom } from '../../lib/mesh/build.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { type Polygons, area } from '../../lib/polygon/polygons.js';
import { unsupportedFromLayers } from '../support/hanging.js';
import { box, prism, regionOf, together } from './solids.js';

let kernel: PolygonKernel;
beforeAll(async () => {
  kernel = await loadPolygonKernel();
});

const rules = layerRules.parse({ thickness: 0.2, first: 0.3 });
const limits: LayerLimits = { nozzleDiameter: 0.4, roughness: flatRoughness };

/** A block of 10 x 10 mm up to z = 10, whose base, cut 0, rises from 0 by `rise` along X. */
function onBase(rise: number): { mesh: Mesh; cut: Int32Array } {
  const block = box([0, 0, 0], [10, 10, 10]);
  const v = block.vertices.map((x, i) => (i % 3 === 2 && x === 0 ? (rise * block.vertices[i - 2]!) / 10 : x)); // prettier-ignore
  const mesh = meshFrom(v, block.triangles);
  // The first two facets of a prism are its bottom and its top.
  const down = Array.from({ length: 12 }, (_, t) =>
    [0, 1, 2].every((c) => v[3 * block.triangles[3 * t + c]! + 2]! < 5) ? 0 : -1,
  );
  expect(down.filter((id) => id === 0)).toHaveLength(2);
  return { mesh, cut: Int32Array.from(down) };
}

describe('the first layer', () => {
  const first = (rise: number, ridge = 0): number => {
    const { mesh, cut } = onBase(rise);
    const region = regionOf(mesh, { cut, baseCut: 0, standsOn: [0] });
    const layers = layOut(region, mesh, rules, { ...limits, roughness: { ...flatRoughness, ridge } }, kernel); // prettier-ignore
    expect(layers.top.at(-1)).toBeCloseTo(10, 9);
    return layers.thickness[0]!;
  };

  it('is pressed by a tenth on a base that rises by less than half a layer, and not on a steeper one', () => {
    for (const rise of [0, 0.05, 0.099]) expect(first(rise)).toBeCloseTo(0.18, 9);
    for (const rise of [0.101, 0.5, 3]) expect(first(rise)).toBeCloseTo(0.2, 9);
  });

  it('passes over ridges with a tenth of the nozzle left, but is no thicker than three quarters of it', () => {
    expect(first(0, 0.1)).toBeCloseTo(0.18, 9);
    expect(first(0, 0.15)).toBeCloseTo(0.15 + 0.04, 9);
    expect(first(0, 0.9)).toBeCloseTo(0.3, 9);
  });

  it('is as thick as the rules say on the table', () => {
    const block = box([0, 0, 0], [10, 10, 10]);
    expect(layOut(regionOf(block), block, rules, limits, kernel).thickness[0]).toBeCloseTo(0.3, 9);
    expect(baseRoughness([regionOf(block)], 0, rules, 0.4)).toEqual(flatRoughness);
    const { mesh, cut } = onBase(0);
    const region = regionOf(mesh, { cut, baseCut: 0, standsOn: [0] });
    expect(() => layOut(region, mesh, rules, { nozzleDiameter: 0.4 }, kernel)).toThrow(/roughness/);
  });
});

describe('the part below, beside and above a slab of it', () => {
  /** A square pyramid: at height z its side is 20 - z. */
  const pyramid = (from: number, to: number): Mesh => {
    const mesh = prism([[-1, -1], [1, -1], [1, 1], [-1, 1]], from, to); // prettier-ignore
    const at = (z: number): number => (20 - z) / 2;
    return meshFrom(mesh.vertices.map((x, i) => (i % 3 === 2 ? x : x * at(mesh.vertices[i + 2 - (i % 3)]!))), mesh.triangles); // prettier-ignore
  };
  const areaAt = (z: number): number => (20 - z) ** 2;
  const rowsOf = (p: Polygons, start: Uint32Array): number[] =>
    Array.from({ length: start.length - 1 }, (_, k) => area(loopsOf(p, start[k]!, start[k + 1]!)));

  it.each([undefined, 3, 1])('has its own sections, %s layers beyond the ends', (beyond) => {
    const part = pyramid(0, 10);
    const slab = regionOf(pyramid(3, 5), { baseCut: 0, standsOn: [0] });
    const given = { ...limits, ...(beyond ? { beyond } : {}) };
    const layers = layOut(slab, part, rules, given, kernel);
    const count = beyond ?? 8;
    const near = (found: number[], heights: number[]): void => {
      expect(found).toHaveLength(heights.length);
      found.forEach((mm2, k) => expect(mm2).toBeCloseTo(areaAt(heights[k]!), 6));
    };
    const middle = [...middles(layers)];
    near(rowsOf(layers.section, layers.layerStart), middle);
    near(rowsOf(layers.around, layers.aroundStart), middle);
    const [first, last] = [layers.thickness[0]!, layers.thickness.at(-1)!];
    near(rowsOf(layers.beneath, layers.beneathStart), Array.from({ length: count }, (_, j) => 3 + first / 2 - (j + 1) * first)); // prettier-ignore
    near(rowsOf(layers.over, layers.overStart), Array.from({ length: count }, (_, j) => 5 - last / 2 + (j + 1) * last)); // prettier-ignore
  });

  it('is nothing where the part ends', () => {
    const part = pyramid(0, 2);
    const layers = layOut(regionOf(part), part, rules, limits, kernel);
    expect(rowsOf(layers.beneath, layers.beneathStart)).toEqual(Array(8).fill(0));
    expect(rowsOf(layers.over, layers.overStart)).toEqual(Array(8).fill(0));
  });
});

describe('a gap of 10 x 10 mm between posts, with a tongue of 4 x 6 mm beside it', () => {
  const posts = [box([0, 0, 0], [5, 10, 5]), box([15, 0, 0], [20, 10, 5])];
  const outline = [[0, 0], [20, 0], [20, 10], [0, 10]] as const; // prettier-ignore
  const part = together(...posts, prism(outline, 5, 7), box([8, 10, 5], [12, 16, 7]));
  const even = layerRules.parse({ thickness: 0.2, first: 0.2 });
  const hanging = (bridge: number) =>
    unsupportedFromLayers(
      [regionOf(part)],
      [layOut(regionOf(part), part, even, limits, kernel)],
      { theta: Math.PI / 4, bridge },
      kernel,
    );

  it('hangs whole without bridges: all in the first layer over the posts, less what the angle reaches', () => {
    const { places, bridges, totalMm2, byRegion } = hanging(0);
    expect(bridges).toEqual([]);
    expect(places).toHaveLength(1);
    expect(places[0]!.layer).toBe(25);
    // 0.2 mm from both posts; the tongue is held by nothing.
    expect(totalMm2).toBeCloseTo(9.6 * 10 + 4 * 6, 1);
    expect([...byRegion]).toEqual([totalMm2]);
  });

  it('is bridged, and the tongue hangs', () => {
    const { places, bridges, totalMm2, overFillMm2 } = hanging(12);
    expect(bridges).toHaveLength(1);
    expect(bridges[0]!.mm2).toBeCloseTo(9.6 * 10, 1);
    expect(bridges[0]!.spanMm).toBeCloseTo(9.6, 2);
    expect(Math.abs(Math.sin(bridges[0]!.angle))).toBeLessThan(1e-3);
    expect(places).toHaveLength(1);
    expect(places[0]).toMatchObject({ region: 0, layer: 25, overFillMm2: 0 });
    expect(places[0]!.mm2).toBeCloseTo(24, 1);
    const [x, y, z] = places[0]!.point;
    expect(x > 8 && x < 12 && y > 10 && y < 16).toBe(true);
    expect(z).toBeCloseTo(5.1, 9);
    expect(totalMm2).toBeCloseTo(24, 1);
    expect(overFillMm2).toBe(0);
  });

  it('a region that stands on a cut is not carried by the table', () => {
    const block = box([0, 0, 0], [4, 4, 1]);
    const layers = layOut(regionOf(block), block, even, limits, kernel);
    const rule = { theta: Math.PI / 4, bridge: 0 };
    const total = (baseCut: number): number =>
      unsupportedFromLayers([regionOf(block, { baseCut })], [layers], rule, kernel).totalMm2;
    expect(total(-1)).toBe(0);
    expect(total(0)).toBeCloseTo(16, 1);
    expect(total(3)).toBeCloseTo(16, 1);
  });
});
