/**
 * Sections of solids with known areas: closed forms of elementary solids, the formula beside each
 * check; real meshes against the divergence theorem.
 */
import { describe, expect, it } from 'vitest';
import { Fault } from '../../lib/base/fault.js';
import { compose, shift, turn } from '../../lib/base/frame.js';
import { type Polygons, area, loopArea } from '../../lib/polygon/polygons.js';
import { seeded } from '../../lib/base/random.js';
import { unit } from '../../lib/base/vector.js';
import { flatMap, meshToLayer } from '../../lib/layers/layer-map.js';
import { loopsOf, rowsOf } from '../../lib/layers/near.js';
import { nest } from '../../lib/polygon/nest.js';
import { crossingLayers } from '../../lib/layers/crossing-loops.js';
import { sections } from '../../lib/layers/sweep.js';
import { meshFrom, moved } from '../../lib/mesh/build.js';
import { bounds, massOf } from '../../lib/mesh/measure.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import {
  bunny3k,
  bunny69k,
  figure200k,
  gearwheel,
  scaledToHeight,
  yUp,
} from '../support/open-meshes.js';
import { box, prism, revolved, sphere, together, torus } from './solids.js';

const DEG = Math.PI / 180;
const cut = (mesh: Mesh, ...heights: number[]): Polygons[] =>
  rowsOf(sections(mesh, Float64Array.from(heights)));
const loops = (p: Polygons): number => p.start.length - 1;

describe('areas in closed form', () => {
  it('sphere: pi (R^2 - z^2)', () => {
    const [p] = cut(sphere(10, 1024, 1024), 6);
    expect(loops(p!)).toBe(1);
    expect(area(p!) / 201.06193).toBeCloseTo(1, 4);
  });

  it('torus, axis up: 4 pi R sqrt(r^2 - z^2), a ring', () => {
    const [p] = cut(torus(20, 5, 720, 720), 3);
    expect(loops(p!)).toBe(2);
    expect(area(p!) / 1005.30965).toBeCloseTo(1, 4);
    const signs = [loopArea(p!, 0), loopArea(p!, 1)].map(Math.sign).sort();
    expect(signs).toEqual([-1, 1]);
  });

  // At height h the section is a spiric curve (of Perseus); its area is the integral over the tube of
  // 2 (sqrt((R + s)^2 - h^2) - sqrt(max(0, (R - s)^2 - h^2))), s = sqrt(r^2 - y^2), done numerically.
  it.each([
    [0, 157.07963, 2],
    [5, 162.51955, 2],
    [10, 183.51069, 2],
    [20, 259.5913, 1],
  ])('torus lying, slice at height %s: spiric section', (height, expected, count) => {
    const lying = moved(torus(20, 5, 720, 360), turn([1, 0, 0], Math.PI / 2));
    const [p] = cut(lying, height);
    expect(loops(p!)).toBe(count);
    expect(area(p!) / expected).toBeCloseTo(1, 3);
  });

  it('tilted cylinder: pi r^2 / cos a', () => {
    const leaning = moved(prism(circleOf(5, 2048), -30, 30), turn([1, 0, 0], 30 * DEG));
    const [p] = cut(leaning, 0.123);
    expect(area(p!) / 90.68997).toBeCloseTo(1, 5);
  });

  it('cube on its corner: (3 sqrt 3 / 2) z^2 until a vertex is reached, regular hexagon half-way up', () => {
    const up = flatMap(unit([1, 1, 1]));
    const cube = meshToLayer(up, box([0, 0, 0], [10, 10, 10]));
    const [low, middle] = cut(cube, 3, 5 * Math.sqrt(3));
    expect(area(low!)).toBeCloseTo(((3 * Math.sqrt(3)) / 2) * 9, 9);
    // Hexagon through the middles of six edges, side 5 sqrt 2: (3 sqrt 3 / 2) s^2.
    expect(area(middle!)).toBeCloseTo(((3 * Math.sqrt(3)) / 2) * 50, 9);
  });
});

const circleOf = (r: number, n: number): [number, number][] =>
  Array.from({ length: n }, (_, i) => [
    r * Math.cos((2 * Math.PI * i) / n),
    r * Math.sin((2 * Math.PI * i) / n),
  ]);

describe('planes through vertices, edges and faces', () => {
  it('gives the section just below: none at the bottom face, all at the top face', () => {
    const [bottom, inside, top, above] = cut(box([0, 0, 0], [3, 4, 5]), 0, 2, 5, 5.1);
    expect([bottom, inside, top, above].map((p) => area(p!))).toEqual([0, 12, 12, 0]);
  });

  it('an octahedron through its waist vertices, its tips, and between', () => {
    const octahedron = revolved(
      [
        [0, -1],
        [1, 0],
        [0, 1],
      ],
      4,
    );
    const rows = cut(octahedron, -1, -0.5, 0, 0.5, 1);
    expect(rows.map(loops)).toEqual([0, 1, 1, 1, 0]);
    [0, 0.5, 2, 0.5, 0].forEach((want, k) => expect(area(rows[k]!)).toBeCloseTo(want, 12));
    expect(rows[2]!.points.length / 2).toBe(4);
  });

  it('repeats no point', () => {
    const ball = sphere(10, 24, 16);
    const heights = [...new Set(Array.from(ball.vertices.filter((_, i) => i % 3 === 2)))];
    for (const row of cut(ball, ...heights.sort((a, b) => a - b))) {
      for (let i = 0; i < loops(row); i++) {
        const { points } = loopsOf(row, i, i + 1);
        expect(points.length).toBeGreaterThanOrEqual(6);
        for (let j = 0; j < points.length; j += 2) {
          const k = (j + 2) % points.length;
          expect(points[j] === points[k] && points[j + 1] === points[k + 1]).toBe(false);
        }
      }
    }
  });

  it('bodies that touch along an edge: four triangles share it, loops still close', () => {
    // Two boxes with the edge x = y = 1 in common, welded: the edge's half-edges have no twin.
    const a = box([0, 0, 0], [1, 1, 1]);
    const b = box([1, 1, 0], [2, 2, 1]);
    const welded = weld(together(a, b));
    expect(welded.twins.includes(-1)).toBe(true);
    const [p] = cut(welded, 0.5);
    expect(area(p!)).toBeCloseTo(2, 12);
  });
});

/** Joins vertices of equal coordinates. */
function weld(mesh: Mesh): Mesh {
  const known = new Map<string, number>();
  const kept: number[] = [];
  const index = Array.from({ length: mesh.vertices.length / 3 }, (_, i) => {
    const p = mesh.vertices.slice(3 * i, 3 * i + 3);
    const key = p.join();
    if (!known.has(key)) {
      known.set(key, kept.length / 3);
      kept.push(...p);
    }
    return known.get(key)!;
  });
  return meshFrom(
    Float64Array.from(kept),
    mesh.triangles.map((v) => index[v]!),
  );
}

describe('what it refuses', () => {
  it('an open mesh, with the number of open edges', () => {
    const b = box([0, 0, 0], [1, 1, 1]);
    const open = meshFrom(b.vertices, b.triangles.slice(3));
    expect(() => cut(open, 0.5)).toThrow(Fault);
    expect(() => cut(open, 0.5)).toThrow(/3 open edges/);
  });

  it('heights that do not rise', () => {
    expect(() => cut(box([0, 0, 0], [1, 1, 1]), 0.5, 0.5)).toThrow(/rise/);
  });

  it('a vertex that is not finite', () => {
    const b = box([0, 0, 0], [1, 1, 1]);
    b.vertices[5] = NaN;
    expect(() => cut(b, 0.5)).toThrow(Fault);
  });
});

describe('loops of a standing ring (Morse theory: critical points counted with sign give the Euler number)', () => {
  it('one birth, one split, one merge, one death', () => {
    const standing = moved(torus(20, 5, 300, 150), turn([0, 1, 0], Math.PI / 2));
    const heights = Array.from({ length: 501 }, (_, k) => -25.01 + (50.02 * k) / 500);
    const counts = cut(standing, ...heights).map(loops);
    const changes = counts.slice(1).flatMap((n, k) => (n === counts[k] ? [] : [[counts[k], n]]));
    expect(changes).toEqual([
      [0, 1],
      [1, 2],
      [2, 1],
      [1, 0],
    ]);
  });
});

describe('sums and turns', () => {
  // Midpoint sums of a quadratic area: integral = sum + h^2 / 24 (A'(top) - A'(bottom)), Euler-Maclaurin.
  it('a cone: mid-layer sum is V - h^2 / 24 (A(top)-slope - A(bottom)-slope), exactly', () => {
    const sides = 64;
    const cone = revolved(
      [
        [10, 0],
        [0, 30],
      ],
      sides,
    );
    const shape = (sides / 2) * Math.sin((2 * Math.PI) / sides);
    const slopeAtBottom = (-2 * shape * 10 * 10) / 30;
    for (const h of [3, 1, 0.2]) {
      const middles = Array.from({ length: Math.round(30 / h) }, (_, k) => (k + 0.5) * h);
      const sum = cut(cone, ...middles).reduce((s, p) => s + area(p) * h, 0);
      const volume = (shape * 100 * 30) / 3;
      expect(sum).toBeCloseTo(volume - ((h * h) / 24) * (0 - slopeAtBottom), 8);
    }
  });

  it('turning mesh and planes together changes no area and no count (seed 11)', () => {
    const random = seeded(11);
    const solid = together(torus(20, 5, 60, 30), sphere(8, 40, 20));
    const heights = Float64Array.from({ length: 60 }, (_, k) => -9.53 + k * 0.3);
    const plain = rowsOf(sections(solid, heights));
    for (let i = 0; i < 10; i++) {
      const axis = unit([random() - 0.5, random() - 0.5, random() - 0.5]);
      const frame = turn(axis, random() * 6);
      const d = [frame[8]!, frame[9]!, frame[10]!] as const;
      const turned = meshToLayer(flatMap(d), moved(solid, frame));
      rowsOf(sections(turned, heights)).forEach((p, k) => {
        expect(loops(p)).toBe(loops(plain[k]!));
        expect(Math.abs(area(p) - area(plain[k]!))).toBeLessThan(1e-9);
      });
    }
  });

  it('moving mesh and planes by the same distance changes no area', () => {
    const solid = torus(20, 5, 60, 30);
    const far = moved(solid, shift([1000, -2000, 500]));
    expect(area(cut(far, 501)[0]!)).toBeCloseTo(area(cut(solid, 1)[0]!), 8);
  });
});

/** Scanned and drawn meshes of npm packages, 100 mm high. */
const meshes: [string, () => Mesh][] = [
  ['bunny, 3 k', () => yUp(bunny3k())],
  ['bunny, 69 k', () => yUp(bunny69k())],
  ['gearwheel', gearwheel],
  ['figure, 200 k', figure200k],
];

describe.each(meshes)('%s', (_, make) => {
  const mesh = scaledToHeight(make(), 100);
  const tilted = moved(mesh, compose(turn(unit([1, 2, 0]), 0.7), shift([0, 0, 3])));

  it.each([
    ['standing', mesh],
    ['tilted', tilted],
  ])('%s: layers sum to the volume of the mesh (divergence theorem)', (_name, m) => {
    const { least, most } = bounds(m);
    const h = (most[2] - least[2]) / 1000;
    const heights = Float64Array.from({ length: 1000 }, (_, k) => least[2] + (k + 0.5) * h);
    const { section } = sections(m, heights);
    expect((area(section) * h) / massOf(m).volume).toBeCloseTo(1, 4);
  });

  it('holes lie at odd depth and run clockwise, outer loops the reverse, where nothing crosses', () => {
    const heights = Float64Array.from({ length: 200 }, (_, k) => (k + 0.5) / 2);
    const all = sections(tilted, heights);
    const crossing = new Set(crossingLayers(all));
    rowsOf(all).forEach((p, k) => {
      if (crossing.has(k)) return;
      nest(p).depth.forEach((d, i) => expect(loopArea(p, i) > 0).toBe(d % 2 === 0));
    });
  });
});
