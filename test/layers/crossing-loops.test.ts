/** Which layers need a union, against a test of every pair of edges; and what the union makes of them. */
import { beforeAll, describe, expect, it } from 'vitest';
import { compose, shift, turn } from '../../lib/base/frame.js';
import { type Polygons, area } from '../../lib/polygon/polygons.js';
import { polygonsFrom } from '../support/polygons.js';
import { seeded } from '../../lib/base/random.js';
import { unit } from '../../lib/base/vector.js';
import { type PolygonKernel, loadPolygonKernel } from '../../lib/kernel/polygon.js';
import { ChainIndex } from '../../lib/polygon/chains.js';
import { crossingLayers, withoutCrossings, needsUnion } from '../../lib/layers/crossing-loops.js';
import { rowsOf } from '../../lib/layers/near.js';
import { sections } from '../../lib/layers/sweep.js';
import { moved } from '../../lib/mesh/build.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { figure200k, scaledToHeight } from '../support/open-meshes.js';
import { box, sphere, together, torus, turnedInsideOut } from './solids.js';

let kernel: PolygonKernel;
beforeAll(async () => {
  kernel = await loadPolygonKernel();
});

const slice = (mesh: Mesh, ...heights: number[]) => sections(mesh, Float64Array.from(heights));
const mendedAreas = (mesh: Mesh, ...heights: number[]): number[] =>
  rowsOf(withoutCrossings(slice(mesh, ...heights), kernel)).map(area);

// 3MF core specification 1.4.0, section 4.1.1 asks for the Positive rule; areas are those of squares.
describe('the Positive rule on shells', () => {
  it('overlapping boxes [0,10]^2 and [5,15]^2: 175, and only where both are', () => {
    const mesh = together(box([0, 0, 0], [10, 10, 4]), box([5, 5, 2], [15, 15, 6]));
    const raw = slice(mesh, 1, 3, 5);
    expect(crossingLayers(raw)).toEqual([1]);
    expect(mendedAreas(mesh, 1, 3, 5)).toEqual([100, 175, 100]);
    const after = withoutCrossings(raw, kernel);
    const plain = rowsOf(raw);
    rowsOf(after).forEach((p, k) => k !== 1 && expect(p).toEqual(plain[k]));
  });

  it('a box of 6 x 6 inside one of 10 x 10: 100 without any edge crossing', () => {
    const mesh = together(box([0, 0, 0], [10, 10, 9]), box([2, 2, 1], [8, 8, 8]));
    expect(crossingLayers(slice(mesh, 0.5, 4))).toEqual([1]);
    expect(mendedAreas(mesh, 0.5, 4)).toEqual([100, 100]);
  });

  it('the same turned inside out is a cavity: 64, nothing to mend', () => {
    const mesh = together(box([0, 0, 0], [10, 10, 9]), turnedInsideOut(box([2, 2, 1], [8, 8, 8])));
    expect(crossingLayers(slice(mesh, 0.5, 4))).toEqual([]);
    expect(mendedAreas(mesh, 4)).toEqual([64]);
  });

  it('a shell that is inside out and alone holds no material', () => {
    expect(mendedAreas(turnedInsideOut(box([0, 0, 0], [10, 10, 9])), 4)).toEqual([0]);
  });

  it('boxes that share a face become one loop', () => {
    const mesh = together(box([0, 0, 0], [10, 10, 4]), box([10, 0, 0], [20, 10, 4]));
    const after = withoutCrossings(slice(mesh, 1), kernel);
    expect(after.section.start.length - 1).toBe(1);
    expect(area(after.section)).toBe(200);
  });

  it('a bow-tie counts its counter-clockwise half: 4', () => {
    const tie = polygonsFrom([
      [
        [0, 0],
        [4, 4],
        [4, 0],
        [0, 4],
      ],
    ]);
    expect(needsUnion(tie, 0, 1)).toBe(true);
    expect(area(kernel.union(tie, 'positive'))).toBe(4);
  });

  it('two overlapping spheres: 2 V less the lens pi (4 R + d)(2 R - d)^2 / 12', () => {
    const ball = sphere(10, 256, 128);
    const mesh = together(moved(ball, shift([-5, 0, 0])), moved(ball, shift([5, 0, 0])));
    const h = 0.2;
    const heights = Array.from({ length: 100 }, (_, k) => -10 + (k + 0.5) * h);
    const volume = mendedAreas(mesh, ...heights).reduce((sum, a) => sum + a * h, 0);
    const exact = (8 / 3) * Math.PI * 1000 - (Math.PI * 50 * 100) / 12;
    expect(volume / exact).toBeCloseTo(1, 3);
  });
});

/** Every pair of edges, by the signs of four triangles; neighbours in a loop are left out. */
function anyPairMeets(p: Polygons): boolean {
  const v = p.points;
  const edges: [number, number][] = [];
  for (let l = 0; l + 1 < p.start.length; l++) {
    const [from, to] = [p.start[l]!, p.start[l + 1]!];
    for (let i = from; i < to; i++) edges.push([i, i + 1 < to ? i + 1 : from]);
  }
  const side = (a: number, b: number, c: number): number =>
    Math.sign(
      (v[2 * b]! - v[2 * a]!) * (v[2 * c + 1]! - v[2 * a + 1]!) -
        (v[2 * b + 1]! - v[2 * a + 1]!) * (v[2 * c]! - v[2 * a]!),
    );
  const beside = (axis: number, [a, b]: [number, number], [c, d]: [number, number]): boolean => {
    const [a0, b0, c0, d0] = [a, b, c, d].map((i) => v[2 * i + axis]!) as [
      number,
      number,
      number,
      number,
    ];
    return Math.max(a0, b0) < Math.min(c0, d0) || Math.max(c0, d0) < Math.min(a0, b0);
  };
  return edges.some((e, i) =>
    edges.slice(i + 1).some((f) => {
      if (e[0] === f[1] || e[1] === f[0] || beside(0, e, f) || beside(1, e, f)) return false;
      return (
        side(e[0], e[1], f[0]) * side(e[0], e[1], f[1]) <= 0 &&
        side(f[0], f[1], e[0]) * side(f[0], f[1], e[1]) <= 0
      );
    }),
  );
}

describe('against every pair', () => {
  it('400 random sets of loops (seed 5): the same answer, both answers occur', () => {
    const random = seeded(5);
    const seen = { true: 0, false: 0 };
    for (let i = 0; i < 400; i++) {
      const count = 1 + Math.floor(random() * 6);
      const loops = Array.from({ length: count }, () => {
        const [x, y, r] = [random() * 30, random() * 30, 0.5 + random() * 4];
        const n = 3 + Math.floor(random() * 40);
        const rough = random() * 0.4;
        return Array.from({ length: n }, (_, j): [number, number] => {
          const a = (2 * Math.PI * (j + rough * random())) / n;
          const s = r * (1 - rough * random());
          return [x + s * Math.cos(a), y + s * Math.sin(a)];
        });
      });
      const p = polygonsFrom(loops);
      const meets = new ChainIndex(p).meets();
      expect(meets, `set ${i}`).toBe(anyPairMeets(p));
      seen[`${meets}`]++;
    }
    expect(Math.min(seen.true, seen.false)).toBeGreaterThan(80);
  });

  it('a figure of 200 k triangles that crosses itself, tilted', () => {
    const frame = compose(turn(unit([1, 2, 0]), 0.7), shift([0, 0, 3]));
    const mesh = moved(scaledToHeight(figure200k(), 100), frame);
    const heights = Array.from({ length: 50 }, (_, k) => 1 + 2 * k);
    const all = slice(mesh, ...heights);
    const expected = rowsOf(all).flatMap((p, k) => (anyPairMeets(p) ? [k] : []));
    expect(expected.length).toBeGreaterThan(0);
    expect(crossingLayers(all)).toEqual(expected);
    const after = withoutCrossings(all, kernel);
    // The union works on a grid of 1e-5 mm, on which corners may come to lie on edges: no crossing is left
    // means that a second union changes no area.
    for (const k of expected) {
      const p = rowsOf(after)[k]!;
      expect(Math.abs(area(kernel.union(p, 'positive')) - area(p))).toBeLessThan(1e-6);
    }
  });

  it('a ring of which every layer is clean is handed on untouched', () => {
    const all = slice(
      torus(20, 5, 200, 100),
      ...Array.from({ length: 40 }, (_, k) => -4.9 + k / 4),
    );
    expect(crossingLayers(all)).toEqual([]);
    expect(withoutCrossings(all, kernel)).toBe(all);
  });
});
