/** Walls from 0.3 to 2.5 mm: whole numbers of beads, even widths, no gaps. */
import { beforeAll, describe, expect, test } from 'vitest';
import { area } from '../../../lib/polygon/polygons.js';
import { polygonsFrom } from '../../support/polygons.js';
import { type PolygonKernel, loadPolygonKernel } from '../../../lib/kernel/polygon.js';
import { pathFindings } from '../../../lib/paths/figures.js';
import { PathKind, type Paths } from '../../../lib/paths/paths.js';
import {
  type Loop,
  circle,
  courseOf,
  hole,
  layersOf,
  pathsOf,
  plan,
  rectangle,
  uncovered,
  volumeOf,
} from '../flat.js';

let kernel: PolygonKernel;
beforeAll(async () => {
  kernel = await loadPolygonKernel();
});

const height = 0.2;
/** What a bead is wider than its spacing: h (1 - pi / 4). */
const edge = height * (1 - Math.PI / 4);

/** Where beads cross the line x = at, from below: middle and width of each. */
function across(p: Paths, at: number): { y: number; width: number }[] {
  const out: { y: number; width: number }[] = [];
  for (const i of pathsOf(p)) {
    for (let q = p.start[i]! + 1; q < p.start[i + 1]!; q++) {
      const [ax, bx] = [p.points[3 * q - 3]!, p.points[3 * q]!];
      if (ax <= at === bx <= at) continue;
      const [ay, by] = [p.points[3 * q - 2]!, p.points[3 * q + 1]!];
      out.push({ y: ay + ((at - ax) / (bx - ax)) * (by - ay), width: p.width[q]! });
    }
  }
  return out.sort((a, b) => a.y - b.y);
}

const closed = { fill: { density: 1 } };

describe('a straight wall', () => {
  const thicknesses = Array.from({ length: 45 }, (_, i) => 0.3 + 0.05 * i);

  test.each(thicknesses)('of %d mm: beads fill it edge to edge, evenly', (thickness) => {
    const { paths, figures } = plan(
      layersOf([[rectangle(0, 0, 30, thickness)]], { height }),
      closed,
      kernel,
    );
    const beads = across(paths, 14.9);
    // The mean flanks of the outermost beads lie on the faces, neighbours at their spacing: so the cells,
    // each a bead width less the round edges, sum to the wall.
    const last = beads[beads.length - 1]!;
    expect(beads[0]!.y - (beads[0]!.width - edge) / 2).toBeCloseTo(0, 3);
    expect(last.y + (last.width - edge) / 2).toBeCloseTo(thickness, 3);
    const cells = beads.reduce((sum, b) => sum + b.width - edge, 0);
    expect(cells).toBeCloseTo(thickness, 3);
    const standard = 0.45 - edge;
    // With room for both pairs of full beads and more inside, the inside is shared evenly for itself.
    const wide = thickness > 5.5 * standard;
    const kinds = wide ? [beads.slice(0, 2), beads.slice(2, -2), beads.slice(-2)] : [beads];
    for (const kind of kinds) {
      for (const b of kind) {
        expect(b.width).toBeCloseTo(kind[0]!.width, 3);
        const share = (b.width - edge) / standard;
        expect(share).toBeGreaterThan(beads.length === 1 ? 0.6 : 0.749);
        expect(share).toBeLessThan(beads.length === 1 ? 1.501 : 1.251);
      }
    }
    if (wide) expect(beads[0]!.width).toBeCloseTo(0.45, 6);
    expect(figures.dropped[0]).toBe(0);
    // Ends apart, which are round where they should be square, the volume is the wall's.
    expect(volumeOf(paths) / (thickness * 30 * height)).toBeGreaterThan(0.96);
    expect(volumeOf(paths) / (thickness * 30 * height)).toBeLessThan(1.001);
  });

  test('thinner than the narrowest bead: left out and reported', () => {
    const thin = plan(layersOf([[rectangle(0, 0, 30, 0.24)]], { height }), closed, kernel);
    expect(pathsOf(thin.paths)).toEqual([]);
    expect(thin.figures.dropped[0]! / (30 * 0.24)).toBeCloseTo(1, 1);
    const findings = pathFindings([thin]);
    expect(findings.map((f) => f.code)).toEqual(['paths/too-narrow', 'paths/bare-layer']);
    expect(findings[0]!.at!.layer).toBe(0);
    expect(findings[0]!.at!.point![1]).toBeCloseTo(0.12, 3);
    // Of two regions, a kind is still one finding, which sums up both and names the worse.
    const worse = plan(layersOf([[rectangle(0, 0, 40, 0.24)]], { height }), closed, kernel);
    const both = pathFindings([thin, worse]);
    expect(both.map((f) => f.code)).toEqual(['paths/too-narrow', 'paths/bare-layer']);
    expect(both[0]!.at!.region).toBe(1);
    const [sum, most] = [...both[0]!.message.matchAll(/([\d.]+) mm2/g)].map((m) => Number(m[1]));
    expect(sum! / (70 * 0.24)).toBeCloseTo(1, 1);
    expect(most! / (40 * 0.24)).toBeCloseTo(1, 1);
    const allowed = plan(
      layersOf([[rectangle(0, 0, 30, 0.24)]], { height }),
      { ...closed, thin: { least: 0.25 } },
      kernel,
    );
    expect(across(allowed.paths, 15)).toEqual([{ y: 0.12, width: expect.closeTo(0.24 + edge, 6) }]);
    expect(pathFindings([allowed])).toEqual([]);
  });

  test('without sharing, only full beads are laid and the rest is reported', () => {
    const rules = { ...closed, thin: { split: false } };
    const { paths, figures } = plan(layersOf([[rectangle(0, 0, 30, 0.8)]]), rules, kernel);
    expect(pathsOf(paths)).toEqual([]);
    expect(figures.dropped[0]).toBeGreaterThan(20);
    const wider = plan(layersOf([[rectangle(0, 0, 30, 0.9)]]), rules, kernel);
    expect(across(wider.paths, 15).map((b) => b.width)).toEqual([0.45, 0.45]);
  });
});

describe('a round wall, 1.8 mm', () => {
  test('four closed beads of one width', () => {
    const { paths } = plan(layersOf([[circle(15), hole(circle(13.2))]]), closed, kernel);
    expect(pathsOf(paths).length).toBe(4);
    const inner = 13.2;
    for (const i of pathsOf(paths)) {
      const xy = courseOf(paths, i);
      expect(xy[0]).toEqual(xy[xy.length - 1]);
      const cell = 1.8 / 4;
      const depth = (Math.hypot(...xy[0]!) - inner) / cell - 0.5;
      expect(Math.abs(depth - Math.round(depth))).toBeLessThan(0.03);
      for (let q = paths.start[i]!; q < paths.start[i + 1]!; q++) {
        expect(paths.width[q]! - edge).toBeCloseTo(cell, 2);
      }
    }
    const volume = Math.PI * (15 ** 2 - 13.2 ** 2);
    expect(volumeOf(paths) / (volume * height)).toBeCloseTo(1, 2.3);
  });
  test('a single closed bead at 0.6 mm', () => {
    const { paths } = plan(layersOf([[circle(8), hole(circle(7.4))]]), closed, kernel);
    expect([...paths.kind]).toEqual([PathKind.thin]);
    const xy = courseOf(paths, 0);
    expect(xy[0]).toEqual(xy[xy.length - 1]);
    const volume = Math.PI * (64 - 7.4 ** 2);
    expect(volumeOf(paths) / (volume * height)).toBeCloseTo(1, 2);
  });
});

describe('walls that change, meet and end', () => {
  const taper: Loop = [
    [0, 0],
    [40, 0],
    [40, 0.3],
    [0, 3.5],
  ];
  const fork: Loop = [
    [-0.5, -15],
    [0.5, -15],
    [0.5, 0],
    [12, 10],
    [11.2, 11],
    [0, 1.5],
    [-11.2, 11],
    [-12, 10],
    [-0.5, 0],
  ];
  const bend: Loop = [
    [0, 0],
    [20, 0],
    [20, 1.3],
    [1.3, 1.3],
    [1.3, 15],
    [0, 15],
  ];
  const cross: Loop = [
    [0, 0],
    [10, 0],
    [10, -8],
    [10.9, -8],
    [10.9, 0],
    [20, 0],
    [20, 0.9],
    [10.9, 0.9],
    [10.9, 8],
    [10, 8],
    [10, 0.9],
    [0, 0.9],
  ];
  const star: Loop = Array.from({ length: 14 }, (_, i) => {
    const [r, t] = [i % 2 ? 4 : 12, (i * Math.PI) / 7];
    return [r * Math.cos(t), r * Math.sin(t)];
  });
  const shapes: [string, Loop[]][] = [
    ['a taper from 3.5 to 0.3 mm', [taper]],
    ['a fork of three 1 mm arms', [fork]],
    ['a square bend of 1.3 mm', [bend]],
    ['a cross of 0.9 mm', [cross]],
    ['a star with points', [star]],
    ['a ring that is thicker on one side', [circle(10), hole(circle(8.6, 1, 0))]],
  ];

  test.each(shapes)('%s: no gap wider than one bead, nothing far outside', (_, loops) => {
    const { paths, figures } = plan(layersOf([loops], { height }), closed, kernel);
    const p = polygonsFrom(loops);
    const gaps = uncovered(p, paths, kernel);
    // A disc of 0.45 mm fits into no gap, apart from what is reported as left out.
    const free = kernel.offset(gaps, -0.225, { corners: 'round' });
    expect(area(free)).toBe(0);
    expect(area(gaps)).toBeLessThan(0.03 * area(p) + figures.dropped[0]!);
    // Beads that stray outside would show as volume.
    expect(figures.laid[0]! / figures.wanted[0]!).toBeGreaterThan(0.96);
    expect(figures.laid[0]! / figures.wanted[0]!).toBeLessThan(1.02);
  });
});

test('pins: a round of 0.5 mm is a dot of its own volume, one of 0.2 mm is too small', () => {
  const { paths } = plan(layersOf([[circle(0.25), circle(0.1, 3)]], { height }), closed, kernel);
  expect([...paths.kind]).toEqual([PathKind.thin]);
  const cell = 0.5;
  // Simplification by 0.005 mm takes 2% of so small a diameter.
  expect(volumeOf(paths) / ((Math.PI / 4) * cell * cell * height)).toBeCloseTo(0.975, 1.4);
});
