/**
 * What hangs, by layers, against closed forms: rings of circles, strips of boxes. The rule is layer k
 * outside layer k - 1 grown by h tan(theta).
 */
import { beforeAll, describe, expect, it } from 'vitest';
import { compose, shift, turn } from '../../lib/base/frame.js';
import { unit } from '../../lib/base/vector.js';
import { type PolygonKernel, loadPolygonKernel } from '../../lib/kernel/polygon.js';
import { baseRoughness, layOut } from '../../lib/layers/layers.js';
import { type LayerRules, layerRules } from '../../lib/layers/rules.js';
import type { LayerHanging } from '../../lib/layers/unsupported.js';
import { unsupportedFromLayers } from '../support/hanging.js';
import { meshFrom, moved } from '../../lib/mesh/build.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import type { Region } from '../../lib/regions/region.js';
import { box, movedRegion, prism, regionOf, revolved, sphere, together } from './solids.js';

let kernel: PolygonKernel;
beforeAll(async () => {
  kernel = await loadPolygonKernel();
});

const DEG = Math.PI / 180;
const H = 0.2;
const rules = layerRules.parse({ thickness: H, first: H, interface: { press: 0 } });

function hanging(
  regions: readonly Region[],
  part: Mesh,
  theta = 45,
  asked: LayerRules = rules,
  bridge = 0,
): LayerHanging {
  const layers = regions.map((region, i) => {
    const limits = { nozzleDiameter: 0.4, roughness: baseRoughness(regions, i, asked, 0.4) };
    return layOut(region, part, asked, limits, kernel);
  });
  return unsupportedFromLayers(regions, layers, { theta: theta * DEG, bridge }, kernel);
}
const alone = (mesh: Mesh, theta = 45, asked: LayerRules = rules): LayerHanging =>
  hanging([regionOf(mesh)], mesh, theta, asked);

describe('a sphere on the table', () => {
  // Sections are circles of r(z) = sqrt(R^2 - (R - z)^2); ring k is pi (r_k^2 - (r_k-1 + h tan)^2).
  it.each([30, 45, 60])('theta %s deg: the sum of the rings', (theta) => {
    const ball = moved(sphere(10, 400, 400), shift([0, 0, 10]));
    const r = (k: number): number => Math.sqrt(100 - (10 - (k + 0.5) * H) ** 2);
    let rings = 0;
    for (let k = 1; k < 50; k++) {
      const grown = r(k - 1) + H * Math.tan(theta * DEG);
      rings += Math.PI * Math.max(0, r(k) ** 2 - grown ** 2);
    }
    const { totalMm2, places } = alone(ball, theta);
    expect(totalMm2 / rings).toBeGreaterThan(0.98);
    expect(totalMm2 / rings).toBeLessThan(1.02);
    // Below the height R (1 - cos(90 - theta)) only: there the surface leans by theta.
    const end = 10 * (1 - Math.sin(theta * DEG));
    for (const place of places) {
      expect(place.point[2]).toBeLessThan(end + H);
      expect(Math.hypot(place.point[0], place.point[1])).toBeLessThan(10);
    }
  });

  // As h goes to 0 the rings become the integral of 2 pi r (dr - dz tan(theta)) up to where it ends,
  // for theta = 45: (1 - pi / 4) pi R^2.
  it('theta 45: near (1 - pi / 4) pi R^2 for thin layers', () => {
    const ball = moved(sphere(40, 400, 400), shift([0, 0, 40]));
    const { totalMm2 } = alone(ball);
    expect(totalMm2 / ((1 - Math.PI / 4) * Math.PI * 1600)).toBeGreaterThan(0.97);
    expect(totalMm2 / ((1 - Math.PI / 4) * Math.PI * 1600)).toBeLessThan(1.03);
  });
});

describe('cones, narrow end down', () => {
  const cone = (deg: number): Mesh =>
    revolved(
      [
        [2, 0],
        [2 + 8 * Math.tan(deg * DEG), 8],
      ],
      180,
    );
  it('leaning exactly by theta, or less: nothing', () => {
    expect(alone(cone(45)).totalMm2).toBe(0);
    expect(alone(cone(44)).totalMm2).toBe(0);
    expect(alone(cone(30), 30).totalMm2).toBe(0);
  });
  // Ring k: pi (r_k^2 - (r_k-1 + h)^2) with r rising by h tan(50) a layer.
  it('leaning by 50 deg: a ring a layer, 1 - tan(45) / tan(50) of the growth', () => {
    const r = (k: number): number => 2 + (k + 0.5) * H * Math.tan(50 * DEG);
    let rings = 0;
    for (let k = 1; k < 40; k++) rings += Math.PI * (r(k) ** 2 - (r(k - 1) + H) ** 2);
    const { totalMm2, places } = alone(cone(50));
    expect(totalMm2 / rings).toBeGreaterThan(0.98);
    expect(totalMm2 / rings).toBeLessThan(1.02);
    expect(places.length).toBe(39);
  });
});

describe('a post with an arm', () => {
  const post = box([0, 0, 0], [20, 20, 40]);
  const arm = box([20, 0, 20], [50, 20, 40]);
  const part = together(post, arm);

  it('as one piece: the underside of 600 mm2 less the strip of h tan(theta) that holds itself', () => {
    const { totalMm2, byRegion, places } = alone(part);
    expect(totalMm2).toBeCloseTo(600 - 20 * H, 2);
    expect([...byRegion]).toEqual([totalMm2]);
    expect(places.length).toBe(1);
    expect(places[0]!.layer).toBe(100);
    const [x, y, z] = places[0]!.point;
    expect(z).toBeCloseTo(20.1, 9);
    expect(x > 20 && x < 50 && y > 0 && y < 20).toBe(true);
  });

  /** The arm built sideways out of the post's face. */
  const sideways = (reach = arm): Region[] => {
    const cutOf = (mesh: Mesh): Int32Array =>
      Int32Array.from({ length: mesh.triangles.length / 3 }, (_, t) =>
        [0, 1, 2].every((i) => mesh.vertices[3 * mesh.triangles[3 * t + i]!] === 20) ? 0 : -1,
      );
    return [
      regionOf(post, { cut: cutOf(post) }),
      regionOf(reach, {
        cut: cutOf(reach),
        baseCut: 0,
        direction: [1, 0, 0],
        base: { point: [20, 0, 0], normal: [1, 0, 0] },
        standsOn: [0],
      }),
    ];
  };

  it('in two regions, the arm built sideways: nothing', () => {
    const { totalMm2, places } = hanging(sideways(), part);
    expect(totalMm2).toBe(0);
    expect(places).toEqual([]);
  });

  it('an arm wider than the face that it stands on hangs by what sticks out beyond h tan(theta)', () => {
    const wide = box([20, -5, 20], [50, 25, 40]);
    const { byRegion, places } = hanging(sideways(wide), together(post, wide));
    // The layer one down is the post's section, y 0 .. 20; grown it covers y -h .. 20 + h.
    expect(byRegion[0]).toBe(0);
    expect(byRegion[1]).toBeCloseTo(2 * (5 - H) * 20, 2);
    expect(places.map((p) => [p.region, p.layer])).toEqual([
      [1, 0],
      [1, 0],
    ]);
    for (const { point } of places) {
      expect(point[0]).toBeCloseTo(20.1, 9);
      expect(point[1] < 0 || point[1] > 20).toBe(true);
    }
  });

  it('turned together with its directions: the same', () => {
    const frame = compose(turn(unit([1, 2, 3]), 2), shift([7, 8, 9]));
    const one = movedRegion(regionOf(part), frame);
    const there = hanging([one], moved(part, frame));
    expect(there.totalMm2).toBeCloseTo(600 - 20 * H, 2);
    const two = sideways().map((region) => movedRegion(region, frame));
    expect(hanging(two, moved(part, frame)).totalMm2).toBe(0);
  });
});

describe('starting in the air', () => {
  const up = turn(unit([1, -1, 0]), Math.acos(1 / Math.sqrt(3)));
  /** A cube with a space diagonal upright, lowest corner at `height`. */
  const onCorner = (height: number): Mesh =>
    moved(box([0, 0, 0], [10, 10, 10]), compose(shift([0, 0, height]), upright(up)));

  const diagonal = 10 * Math.sqrt(3);
  const thin = layerRules.parse({ thickness: diagonal / 100, first: diagonal / 100 });
  const h = diagonal / 100;

  // Faces lean 35.3 deg, edges acos(1 / sqrt 3) = 54.7 deg: the tip of each triangular section runs
  // sqrt 2 h out a layer. What a circle of radius h about the tip before leaves of a corner of 60 deg
  // that far out: twice (triangle of sides h and sqrt 2 h with 15 deg between, less the sector).
  const tip = h * h * (Math.SQRT2 * Math.sin(15 * DEG) - Math.PI / 12);

  it('a cube on its corner passes the facet rule and is held by the table; its edges lean 54.7 deg', () => {
    expect(alone(onCorner(0), 55, thin).totalMm2).toBe(0);
    const below = alone(onCorner(0), 45, thin).places.filter(({ layer }) => layer <= 32);
    const sum = below.reduce((s, { mm2 }) => s + mm2, 0);
    // Layers 1 to 32 lie under the height 10 / sqrt 3, at which three vertices end the growth.
    expect(below.length).toBe(3 * 32);
    expect(sum / (3 * 32 * tip)).toBeGreaterThan(0.98);
    expect(sum / (3 * 32 * tip)).toBeLessThan(1.02);
  });

  it('above the table its first layer has nothing below: (3 sqrt 3 / 2) (h / 2)^2', () => {
    const mesh = onCorner(5);
    const region = regionOf(mesh, { base: { point: [0, 0, 0], normal: [0, 0, 1] } });
    const { totalMm2, places } = hanging([region], mesh, 55, thin);
    expect(totalMm2).toBeCloseTo(((3 * Math.sqrt(3)) / 2) * (h / 2) ** 2, 4);
    expect(places.map((p) => p.layer)).toEqual([0]);
    expect(places[0]!.point[2]).toBeCloseTo(5 + h / 2, 9);
  });

  it('an island that joins higher up is seen where it begins', () => {
    // A gate whose second post hangs: posts x 0..4 (to the table) and 16..20 (down to z = 6), lintel above.
    const gate = standing([
      [0, 0],
      [4, 0],
      [4, 12],
      [16, 12],
      [16, 6],
      [20, 6],
      [20, 16],
      [0, 16],
    ]);
    const { places } = alone(gate);
    const first = places[0]!;
    expect(first.layer).toBe(30);
    expect(first.mm2).toBeCloseTo(4 * 10, 2);
    // Then the lintel between the posts: 12 mm less the strips held from both sides.
    expect(places[1]!.mm2).toBeCloseTo((12 - 2 * H) * 10, 2);
    expect(places.length).toBe(2);
  });
});

/** The frame or its inverse, whichever takes (1, 1, 1) upright. */
function upright(frame: Float64Array): Float64Array {
  const z = (frame[2]! + frame[6]! + frame[10]!) / Math.sqrt(3);
  return z > 0.999 ? frame : turn(unit([-1, 1, 0]), Math.acos(1 / Math.sqrt(3)));
}

/** A prism over an outline in x, z (ears by hand: the gate in three boxes welded by their outline). */
function standing(outline: [number, number][]): Mesh {
  const flat = fanOfGate(outline);
  return moved(flat, turn([1, 0, 0], Math.PI / 2));
}

function fanOfGate(outline: [number, number][]): Mesh {
  const solid = prism(outline, 0, 10);
  const n = outline.length;
  // Triangles of the outline (not convex): 0 1 2, 0 2 7, 2 3 7, 3 6 7, 3 4 6, 4 5 6.
  const ears = [
    [0, 1, 2],
    [0, 2, 7],
    [2, 3, 7],
    [3, 6, 7],
    [3, 4, 6],
    [4, 5, 6],
  ];
  const caps = ears.flatMap(([a, b, c]) => [a!, c!, b!, n + a!, n + b!, n + c!]);
  const sides = [...solid.triangles.slice(6 * (n - 2))];
  return meshFrom(solid.vertices, Uint32Array.from([...caps, ...sides]));
}
