/** Bridges against closed forms: gaps between supported ends, and ends that do not hold. */
import { beforeAll, describe, expect, it } from 'vitest';
import { type Polygons, area } from '../../lib/polygon/polygons.js';
import { polygonsFrom } from '../support/polygons.js';
import { type PolygonKernel, loadPolygonKernel } from '../../lib/kernel/polygon.js';
import { type Bridging, bridgeOver } from '../../lib/layers/bridges.js';
import { layOut, baseRoughness } from '../../lib/layers/layers.js';
import { layerRules } from '../../lib/layers/rules.js';
import type { LayerHanging } from '../../lib/layers/unsupported.js';
import { unsupportedFromLayers } from '../support/hanging.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { PathKind } from '../../lib/paths/paths.js';
import { planPaths } from '../../lib/paths/plan-paths.js';
import { pathRules } from '../../lib/paths/rules.js';
import { courseOf, pathsOf } from '../paths/flat.js';
import { box, circle, regionOf, together } from './solids.js';

let kernel: PolygonKernel;
beforeAll(async () => {
  kernel = await loadPolygonKernel();
});

const rectangle = (x0: number, y0: number, x1: number, y1: number): Polygons =>
  polygonsFrom([
    [
      [x0, y0],
      [x1, y0],
      [x1, y1],
      [x0, y1],
    ],
  ]);

const over = (hanging: Polygons, section: Polygons, most: number): Bridging | undefined =>
  bridgeOver(hanging, section, hanging, most, kernel);

describe('a gap of 20 x 10 mm', () => {
  const gap = rectangle(0, 0, 20, 10);

  it('between two ends: whole, along the gap, 20 mm long', () => {
    const found = over(gap, rectangle(-5, 0, 25, 10), 20)!;
    expect(area(found.area)).toBeCloseTo(200, 3);
    expect(found.span).toBeCloseTo(20, 6);
    expect(Math.sin(found.angle)).toBeCloseTo(0, 6);
  });

  it('with material on all sides: across, 10 mm long', () => {
    const found = over(gap, rectangle(-5, -5, 25, 15), 12)!;
    expect(area(found.area)).toBeCloseTo(200, 3);
    expect(found.span).toBeCloseTo(10, 6);
    expect(Math.cos(found.angle)).toBeCloseTo(0, 6);
  });

  it('a slit behind one edge, worth 0.075 % of the area, leaves both directions alike: across, 10 mm long', () => {
    // Along the gap all of it is bridged, across it all but 0.015 x 10 mm; areas within 0.1 % count as the same.
    const [from, to] = [10, 10.015];
    const sides = [[-5, -5], [from, -5], [from, 0], [to, 0], [to, -5], [25, -5], [25, 15], [-5, 15]] as const; // prettier-ignore
    const slit = polygonsFrom([sides.map(([x, y]): [number, number] => [x, y])]);
    const edge = [[0, 0], [from, 0], [to, 0], [20, 0], [20, 10], [0, 10]] as const; // prettier-ignore
    const piece = polygonsFrom([edge.map(([x, y]): [number, number] => [x, y])]);
    const found = over(piece, slit, 25)!;
    expect(found.span).toBeCloseTo(10, 6);
    expect(area(found.area)).toBeCloseTo(200 - 0.15, 3);
  });

  it('longer than the span, held at one end alone, or at a corner: nothing', () => {
    expect(over(gap, rectangle(-5, 0, 25, 10), 19.9)).toBeUndefined();
    expect(over(gap, rectangle(-5, 0, 20, 10), 30)).toBeUndefined();
    expect(over(gap, gap, 30)).toBeUndefined();
  });

  it('an end of 0.4 mm is no hold, one of 0.6 mm is (limit 0.5 mm)', () => {
    expect(over(gap, rectangle(-0.4, 0, 25, 10), 30)).toBeUndefined();
    expect(over(gap, rectangle(-0.6, 0, 25, 10), 30)).toBeDefined();
  });

  it('turned by 33 deg: the same, turned', () => {
    const turned = ({ points, start }: Polygons): Polygons => {
      const [c, s] = [Math.cos((33 * Math.PI) / 180), Math.sin((33 * Math.PI) / 180)];
      const out = new Float64Array(points.length);
      for (let i = 0; i < out.length; i += 2) {
        out[i] = points[i]! * c - points[i + 1]! * s;
        out[i + 1] = points[i]! * s + points[i + 1]! * c;
      }
      return { points: out, start };
    };
    const found = over(turned(gap), turned(rectangle(-5, 0, 25, 10)), 20.2)!;
    // The direction is taken to 0.005 rad, so up to 10 mm x 20 mm x 0.0025 at either corner stays.
    expect(area(found.area)).toBeGreaterThan(200 - 2 * 20 * 20 * 0.0025);
    expect(Math.abs(found.angle - (33 * Math.PI) / 180)).toBeLessThan(0.0026);
  });
});

describe('a round hole closed at once, radius 5 mm', () => {
  const ring = circle(5, 720);
  const hole = polygonsFrom([ring]);
  const plate = rectangle(-10, -10, 10, 10);

  it('span 10 mm: whole', () => {
    const found = over(hole, plate, 10.01)!;
    expect(area(found.area)).toBeCloseTo(Math.PI * 25, 1);
    expect(found.span).toBeCloseTo(10, 2);
  });

  // Chords of at most 8 mm lie beyond d = 3 from the middle: two segments of r^2 acos(d / r) - d sqrt(r^2 - d^2).
  it('span 8 mm: the two segments beyond 3 mm', () => {
    const found = over(hole, plate, 8)!;
    expect(area(found.area)).toBeCloseTo(2 * (25 * Math.acos(0.6) - 12), 1);
    expect(found.span).toBeCloseTo(8, 6);
  });
});

describe('a portal: two posts 20 mm apart under a beam', () => {
  const H = 0.2;
  const rules = layerRules.parse({ thickness: H, first: H });
  const portal = together(
    box([0, 0, 0], [10, 20, 20]),
    box([30, 0, 0], [40, 20, 20]),
    box([0, 0, 20], [40, 20, 25]),
  );
  const layersOf = (part: Mesh): ReturnType<typeof layOut> => {
    const limits = {
      nozzleDiameter: 0.4,
      roughness: baseRoughness([regionOf(part)], 0, rules, 0.4),
    };
    return layOut(regionOf(part), part, rules, limits, kernel);
  };
  const hanging = (bridge: number): LayerHanging =>
    unsupportedFromLayers(
      [regionOf(portal)],
      [layersOf(portal)],
      { theta: Math.PI / 4, bridge },
      kernel,
    );
  // The strips of h tan(45) at both posts hold themselves.
  const gap = 20 - 2 * H;

  it('hangs where no bridge is allowed, or a shorter one', () => {
    for (const bridge of [0, 19]) {
      const { totalMm2, bridges } = hanging(bridge);
      expect(totalMm2).toBeCloseTo(gap * 20, 1);
      expect(bridges).toEqual([]);
    }
  });

  it('is bridged with 20 mm: one place, its area and span told', () => {
    const { totalMm2, places, bridges } = hanging(20);
    expect(totalMm2).toBe(0);
    expect(places).toEqual([]);
    expect(bridges.length).toBe(1);
    const [bridge] = bridges;
    expect(bridge!.mm2).toBeCloseTo(gap * 20, 1);
    expect(bridge!.spanMm).toBeCloseTo(gap, 3);
    expect(bridge!.layer).toBe(100);
    expect(bridge!.point[0] > 10 && bridge!.point[0] < 30).toBe(true);
  });

  it('all beads that close the gap run along it, from post to post', () => {
    const layers = layersOf(portal);
    const { bridges } = hanging(20);
    const limits = { nozzleDiameter: 0.4, onTable: true, bridges };
    for (const cap of [0, 0.8]) {
      const { paths } = planPaths(layers, 100, 101, pathRules.parse({ cap }), limits, kernel);
      let along = 0;
      for (const path of pathsOf(paths, (i) => paths.kind[i] === PathKind.cap)) {
        const course = courseOf(paths, path);
        course.slice(1).forEach(([x, y], i) => {
          const [u, v] = course[i]!;
          if (Math.min(x, u) > 30 || Math.max(x, u) < 10) return;
          const length = Math.hypot(x - u, y - v);
          if (length < 1) return;
          expect(Math.abs(y - v) / length).toBeLessThan(1e-6);
          expect(Math.max(x, u) - Math.min(x, u)).toBeGreaterThan(20);
          along += length;
        });
      }
      // Beads 0.45 x 0.2 mm lie 0.407 mm apart; two contours at either side leave 20 - 1.7 mm or so.
      expect(along).toBeGreaterThan((20 * (20 - 2)) / 0.45);
    }
  });
});
