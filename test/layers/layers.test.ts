/** Heights, thicknesses, slope rule and the record of a region's layers. */
import { beforeAll, describe, expect, it } from 'vitest';
import { Fault } from '../../lib/base/fault.js';
import { compose, shift, turn } from '../../lib/base/frame.js';
import { area } from '../../lib/polygon/polygons.js';
import { unit } from '../../lib/base/vector.js';
import { type PolygonKernel, loadPolygonKernel } from '../../lib/kernel/polygon.js';
import { type Layers, layOut, middles } from '../../lib/layers/layers.js';
import { rowsOf } from '../../lib/layers/near.js';
import { type LayerRules, layerRules } from '../../lib/layers/rules.js';
import { evenly } from '../../lib/layers/slope.js';
import { stackUp } from '../../lib/layers/stack.js';
import { moved } from '../../lib/mesh/build.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { bunny3k, scaledToHeight, yUp } from '../support/open-meshes.js';
import { box, circle, movedRegion, prism, regionOf, revolved, sphere, together } from './solids.js';

let kernel: PolygonKernel;
beforeAll(async () => {
  kernel = await loadPolygonKernel();
});

type Asked = Parameters<typeof layerRules.parse>[0];
const rules = (asked: Asked = {}): LayerRules => layerRules.parse(asked);
const laid = (mesh: Mesh, asked: Asked = {}, nozzleDiameter = 0.4): Layers =>
  layOut(regionOf(mesh), mesh, rules(asked), { nozzleDiameter }, kernel);
const areas = ({ section, layerStart }: Layers): number[] =>
  rowsOf({ section, layerStart }).map(area);

describe('heights', () => {
  // Euler-Maclaurin on pi (R^2 - z^2); exact because the area is quadratic in z.
  it.each([
    [0.2, 100, 4188.99964],
    [1, 20, 4194.02619],
  ])('mid-layer sum of a sphere in layers of %s mm is V + pi R h^2 / 6', (h, count, known) => {
    const stack = stackUp(-10, 10, h, evenly(-10, 10, h), 2);
    expect(stack.top.length).toBe(count);
    const sum = middles(stack).reduce(
      (s, z, k) => s + Math.PI * (100 - z * z) * stack.thickness[k]!,
      0,
    );
    expect(sum).toBeCloseTo((4 / 3) * Math.PI * 1000 + (Math.PI * 10 * h * h) / 6, 8);
    expect(sum).toBeCloseTo(known, 5);
  });

  it('the same with a faceted sphere, to the facets', () => {
    const sum = areas(laid(sphere(10, 720, 720))).reduce((s, a) => s + a * 0.2, 0);
    expect(sum / 4188.99964).toBeCloseTo(1, 4);
  });

  it('ends at the top whatever the height, evenly, never thicker than asked', () => {
    for (const height of [0.2, 0.31, 0.4, 1, 7.77, 10.0000001, 33.333]) {
      const { top, thickness } = stackUp(5, 5 + height, 0.2, evenly(5, 5 + height, 0.2), 0.4);
      expect(top.at(-1)).toBe(5 + height);
      expect(thickness.reduce((a, b) => a + b, 0)).toBeCloseTo(height, 9);
      expect(Math.max(...thickness)).toBeLessThanOrEqual(0.2 * 1.001);
      expect(Math.min(...thickness)).toBeGreaterThanOrEqual(0.1 * 0.4);
      const later = thickness.slice(1);
      expect(Math.max(...later) - Math.min(...later)).toBeLessThan(1e-9);
    }
    expect(stackUp(0, 10.0000001, 0.2, evenly(0, 10, 0.2), 0.4).top.length).toBe(50);
  });

  it('keeps the first thickness and shares what is left', () => {
    const { thickness } = stackUp(0, 10, 0.28, evenly(0, 10, 0.2), 0.4);
    expect(thickness[0]).toBeCloseTo(0.28, 12);
    expect(thickness[1]).toBeCloseTo((10 - 0.28) / 49, 9);
    expect(thickness.length).toBe(50);
  });

  it('no layer under 0.1 of the nozzle, even if one must then be thicker than asked', () => {
    const { thickness } = stackUp(0, 0.11, 0.05, evenly(0, 0.11, 0.05), 0.4);
    expect(Math.min(...thickness)).toBeGreaterThanOrEqual(0.04);
    expect(Math.max(...thickness)).toBeLessThanOrEqual(0.3);
  });

  it('refuses a region that is thinner than any layer', () => {
    expect(() => stackUp(0, 0.03, 0.2, evenly(0, 0.03, 0.2), 0.4)).toThrow(
      /0.03000 mm high.*limit is 0.04000 mm/,
    );
  });
});

// Etienne et al., ACM TOG 38(4), 2019: 0.1 to 0.75 of the nozzle diameter.
describe('limits of the nozzle', () => {
  const cube = box([0, 0, 0], [5, 5, 5]);
  it.each([
    [{ thickness: 0.31 }, 'layers/too-thick', /thickness is 0.31 mm; the limit is 0.3 mm/],
    [{ first: 0.5 }, 'layers/too-thick', /first is 0.5 mm; the limit is 0.3 mm/],
    [{ thickness: 0.03 }, 'layers/too-thin', /thickness is 0.03 mm; the limit is 0.04 mm/],
    [{ adapt: { cusp: 0.1, least: 0.01 } }, 'layers/too-thin', /least is 0.01 mm/],
    [
      { adapt: { cusp: 0.1, least: 0.25 } },
      'layers/bad-range',
      /limit is layers.thickness, 0.2 mm/,
    ],
  ])('%j', (asked, code, message) => {
    let fault: unknown;
    try {
      laid(cube, asked);
    } catch (error) {
      fault = error;
    }
    expect(fault).toBeInstanceOf(Fault);
    expect((fault as Fault).code).toBe(code);
    expect((fault as Fault).message).toMatch(message);
  });

  it('0.75 of the nozzle itself is allowed', () => {
    expect(laid(cube, { thickness: 0.3, first: 0.3 }).top.length).toBe(17);
  });

  it('unknown keys are refused', () => {
    expect(() => rules({ hight: 0.2 } as Asked)).toThrow();
  });
});

// Cusp height t |n.d|: Dolenc and Makela, Computer-Aided Design 26(2), 1994 (from memory).
describe('thickness by slope', () => {
  const asked = { adapt: { cusp: 0.05, least: 0.05 } };

  it.each([20, 35, 50, 70])('a cone of half-angle %s deg: cusp / sin(angle) throughout', (deg) => {
    const g = (deg * Math.PI) / 180;
    const cone = revolved(
      [
        [30 * Math.tan(g), 0],
        [0, 30],
      ],
      90,
    );
    const { thickness } = laid(cone, asked);
    const wish = Math.min(0.2, 0.05 / Math.sin(g));
    // Slopes are kept in 64 classes, and the layers share the height evenly.
    const least = Math.min(0.2, 0.05 / (Math.sin(g) + 1 / 64)) * (1 - 0.2 / 30);
    for (const t of thickness.slice(1)) {
      expect(t).toBeLessThanOrEqual(wish * 1.001);
      expect(t).toBeGreaterThanOrEqual(least);
    }
  });

  it('a sphere: every layer holds cusp and change, thick at the waist and thin at the top', () => {
    const { thickness, top } = laid(sphere(20, 120, 400), {
      adapt: { cusp: 0.05, least: 0.06, exempt: 0 },
    });
    for (let k = 1; k < top.length; k++) {
      const t = thickness[k]!;
      const steep = Math.min(Math.abs(top[k]!), Math.abs(top[k]! - t)) / 20;
      const allowed = Math.max(0.06, Math.min(0.2, 0.05 / steep));
      expect(t).toBeLessThanOrEqual(allowed * 1.2);
      if (k > 1) {
        const change = t / thickness[k - 1]!;
        expect(Math.max(change, 1 / change)).toBeLessThan(1.21);
      }
    }
    const waist = thickness[top.findIndex((z) => z > 0)]!;
    expect(waist).toBeGreaterThan(0.195);
    expect(thickness.at(-1)!).toBeLessThan(0.065);
    expect(top.at(-1)).toBeCloseTo(20, 12);
  });

  it('upright walls and flat tops ask for nothing', () => {
    const { thickness } = laid(box([0, 0, 0], [10, 10, 10]), asked);
    expect(thickness.length).toBe(50);
    const frame = turn(unit([1, 2, 3]), 0.8);
    const turned = movedRegion(regionOf(box([0, 0, 0], [10, 10, 10])), frame);
    const layers = layOut(turned, turned.mesh, rules(asked), { nozzleDiameter: 0.4 }, kernel);
    expect(layers.thickness.length).toBe(50);
  });

  it('a crumb on an upright wall decides only if nothing is exempt', () => {
    const pyramid = revolved(
      [
        [0.2, 4],
        [0, 4.1],
      ],
      4,
    );
    const crumb = together(box([0, 0, 0], [30, 30, 10]), moved(pyramid, shift([-5, -5, 0])));
    const careful = laid(crumb, { adapt: { cusp: 0.05, exempt: 0 } });
    const easy = laid(crumb, { adapt: { cusp: 0.05, exempt: 0.02 } });
    expect(easy.thickness.length).toBe(50);
    expect(careful.thickness.length).toBeGreaterThan(50);
  });
});

describe('the record', () => {
  const mesh = scaledToHeight(yUp(bunny3k()), 60);

  it('turning part and region together changes no area', () => {
    const plain = laid(mesh, { thickness: 0.3, first: 0.3 });
    const frame = compose(turn(unit([2, -1, 0.5]), 1.1), shift([4, 5, 6]));
    const region = movedRegion(regionOf(mesh), frame);
    const asked = rules({ thickness: 0.3, first: 0.3 });
    const turned = layOut(region, moved(mesh, frame), asked, { nozzleDiameter: 0.4 }, kernel);
    expect(turned.top.length).toBe(plain.top.length);
    const other = areas(turned);
    areas(plain).forEach((a, k) => expect(Math.abs(other[k]! - a)).toBeLessThan(1e-6));
  });

  it('the same input gives the same bits, and the record can be sent', () => {
    const a = laid(mesh);
    const b = laid(mesh);
    expect(b).toEqual(a);
    const sent = structuredClone(a, { transfer: [a.section.points.buffer as ArrayBuffer] });
    expect(sent.section.points).toEqual(b.section.points);
  });

  it('of the part that is its only region, around is section', () => {
    const { section, around, layerStart, aroundStart, beneath, over } = laid(mesh);
    expect(around).toEqual(section);
    expect(aroundStart).toEqual(layerStart);
    expect(beneath.start.length + over.start.length).toBe(2);
  });

  it('around holds the rest of the part near the region, beyond its ends too', () => {
    const lower = box([0, 0, 0], [10, 10, 5]);
    const part = together(box([0, 0, 0], [10, 10, 8]), box([50, 0, 0], [60, 10, 8]));
    const region = regionOf(lower);
    const limits = { nozzleDiameter: 0.4, beyond: 3 };
    const layers = layOut(region, part, rules(), limits, kernel);
    expect(layers.aroundStart.length).toBe(layers.top.length + 1);
    expect(area(layers.around)).toBeCloseTo(25 * 100, 6);
    expect([...layers.overStart]).toEqual([0, 1, 2, 3]);
    expect(area(layers.over)).toBeCloseTo(300, 6);
    expect([...layers.beneathStart]).toEqual([0, 0, 0, 0]);
  });

  it('keeps loops that surround the region', () => {
    const pin = box([-1, -1, 0], [1, 1, 5]);
    const ring = prism(circle(20, 60), 0, 5);
    const layers = layOut(
      regionOf(pin),
      together(ring, pin),
      rules(),
      { nozzleDiameter: 0.4 },
      kernel,
    );
    // The pin lies in the disc: one loop, the disc's.
    expect(layers.aroundStart[1]).toBe(1);
    expect(area(layers.around) / 25).toBeCloseTo(30 * 400 * Math.sin(Math.PI / 30), 2);
  });

  it('can be stopped', () => {
    const signal = AbortSignal.abort(new Error('enough'));
    const limits = { nozzleDiameter: 0.4 };
    expect(() => layOut(regionOf(mesh), mesh, rules(), limits, kernel, { signal })).toThrow(
      'enough',
    );
  });
});
