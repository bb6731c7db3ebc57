/**
 * The lattice against closed forms: volumes of solids, linear functions, which finite elements of the first
 * order reproduce exactly, and the solution of Laplace's equation between two plates.
 */
import { describe, expect, test } from 'vitest';
import type { Vec3 } from '../../lib/base/vector.js';
import { barycentric, latticeOf, locate, tetrahedronVolume } from '../../lib/field/lattice.js';
import { gradientsOf, stiffness } from '../../lib/field/linear-functions.js';
import { SolidColumns } from '../../lib/field/columns.js';
import { conjugateGradients } from '../../lib/field/sparse.js';
import { seeded } from '../../lib/base/random.js';
import { cuboid, hollowSphere, icosphere, standing, upright } from '../support/shapes.js';

const box = cuboid([12, 8, 6]);

test('columns fill the volume of a sphere (4/3 pi r3) and not its hollow', () => {
  const columns = new SolidColumns(hollowSphere(10, 6, 128), 0.5);
  let inside = 0;
  const n = 48;
  for (let i = -n; i < n; i++) {
    for (let j = -n; j < n; j++) {
      for (let k = -n; k < n; k++) {
        if (columns.inside(i / 4, j / 4, (k + 0.5) / 4)) inside++;
      }
    }
  }
  const volume = (4 / 3) * Math.PI * (10 ** 3 - 6 ** 3);
  expect(inside / 64 / volume).toBeCloseTo(1, 1.5);
  expect(columns.inside(0, 0, 0)).toBe(false);
  expect(columns.inside(8, 0, 0)).toBe(true);
});

describe('a lattice', () => {
  const lattice = latticeOf(box, 1);
  const count = lattice.shape.length;

  test('fills the box, and stands out of it by less than a cube', () => {
    const volume = count * tetrahedronVolume(lattice);
    expect(volume).toBeGreaterThan(12 * 8 * 6);
    expect(volume).toBeLessThan(14 * 10 * 8);
  });

  test('has tetrahedra of one volume, a twelfth of a cube', () => {
    const { nodes, tetrahedra } = lattice;
    for (let t = 0; t < count; t++) {
      const [o, a, b, c] = [0, 1, 2, 3].map((k) =>
        [0, 1, 2].map((i) => nodes[3 * tetrahedra[4 * t + k]! + i]!),
      ) as [number[], number[], number[], number[]];
      const [p, q, r] = [a, b, c].map((v) => v.map((x, i) => x - o[i]!)) as [
        number[],
        number[],
        number[],
      ];
      const six =
        p[0]! * (q[1]! * r[2]! - q[2]! * r[1]!) -
        p[1]! * (q[0]! * r[2]! - q[2]! * r[0]!) +
        p[2]! * (q[0]! * r[1]! - q[1]! * r[0]!);
      expect(Math.abs(six) / 6).toBeCloseTo(1 / 12, 12);
    }
  });

  test('finds the tetrahedron that holds a point', () => {
    const random = seeded(7);
    const share = new Float64Array(4);
    for (let i = 0; i < 2000; i++) {
      const p: Vec3 = [12 * random() - 6, 8 * random() - 4, 6 * random()];
      const t = locate(lattice, ...p);
      expect(t).toBeGreaterThanOrEqual(0);
      barycentric(lattice, t, ...p, share);
      for (const s of share) expect(s).toBeGreaterThan(-1e-12);
      for (let c = 0; c < 3; c++) {
        let sum = 0;
        for (let k = 0; k < 4; k++) {
          sum += share[k]! * lattice.nodes[3 * lattice.tetrahedra[4 * t + k]! + c]!;
        }
        expect(sum).toBeCloseTo(p[c]!, 12);
      }
    }
    expect(locate(lattice, 40, 0, 0)).toBe(-1);
    expect(locate(lattice, 0, 0, 9)).toBe(-1);
  });

  test('gives the gradient of a linear function exactly', () => {
    const g = [0.3, -1.7, 0.9];
    const values = Float64Array.from({ length: lattice.nodes.length / 3 }, (_, i) =>
      g.reduce((sum, x, c) => sum + x * lattice.nodes[3 * i + c]!, 5),
    );
    const found = gradientsOf(lattice, values);
    found.forEach((x, i) => expect(x).toBeCloseTo(g[i % 3]!, 12));
  });

  test('solves for the linear function between two values at its ends (Laplace)', () => {
    const n = lattice.nodes.length / 3;
    const matrix = stiffness(lattice, new Float64Array(count).fill(1));
    // A load on the ends as a flux of 1 through the box gives a function of slope 1 along x: found from its
    // own stiffness product, whose inner entries are 0 for any function without sources.
    const x = Float64Array.from({ length: n }, (_, i) => lattice.nodes[3 * i]!);
    const load = new Float64Array(n);
    for (let i = 0; i < n; i++) {
      for (let k = matrix.start[i]!; k < matrix.start[i + 1]!; k++) {
        load[i]! += matrix.value[k]! * x[matrix.column[k]!]!;
      }
    }
    const [ox, oy, oz] = [4.5, 2.5, 3];
    load.forEach((v, i) => {
      const [px, py, pz] = [0, 1, 2].map((c) => lattice.nodes[3 * i + c]!) as [
        number,
        number,
        number,
      ];
      const within = Math.abs(px) < ox && Math.abs(py) < oy && Math.abs(pz - 3) < oz - 0.5;
      if (within) expect(v).toBeCloseTo(0, 10);
    });
    const solved = new Float64Array(n);
    conjugateGradients(matrix, load, solved, 1000, 1e-12);
    const off = x.reduce((sum, v, i) => sum + (v - solved[i]!), 0) / n;
    solved.forEach((v, i) => expect(v + off).toBeCloseTo(x[i]!, 7));
  });

  test('has a stiffness matrix that is symmetric and gives nothing for a constant', () => {
    const { start, column, value } = stiffness(lattice, new Float64Array(count).fill(2.5));
    const entry = (i: number, j: number): number => {
      for (let k = start[i]!; k < start[i + 1]!; k++) if (column[k] === j) return value[k]!;
      return 0;
    };
    for (let i = 0; i < start.length - 1; i++) {
      let sum = 0;
      for (let k = start[i]!; k < start[i + 1]!; k++) {
        sum += value[k]!;
        expect(entry(column[k]!, i)).toBeCloseTo(value[k]!, 12);
      }
      expect(sum).toBeCloseTo(0, 10);
    }
  });
});

describe('what a lattice does not resolve is refused', () => {
  test('a wall, with its width and place', () => {
    // A hollow sphere of radii 10 and 9: 1 mm of wall everywhere.
    expect(() => latticeOf(standing(hollowSphere(10, 9, 96)), 2)).toThrow(
      /a wall of (0\.9\d|1\.00) mm at .* narrower than the spacing of the lattice, 2 mm/,
    );
  });

  test('a wall just as thick as the spacing is resolved, a hair less is not', () => {
    expect(() => latticeOf(cuboid([8, 6, 2]), 2)).not.toThrow();
    expect(() => latticeOf(cuboid([8, 6, 1.99]), 2)).toThrow(/a wall of 1\.99 mm/);
  });

  test('a thin wall whose facets are far smaller than the lattice', () => {
    // Radii 10 and 9.2 of 400 corners: edges of 0.15 mm, and the wall is thinner than 0.8 by the sagitta at most.
    const shell = standing(hollowSphere(10, 9.2, 400));
    expect(() => latticeOf(shell, 1.5)).toThrow(/a wall of 0\.(79\d?|80) mm/);
  });

  test('a gap between two limbs', () => {
    // Two prongs of 10 mm with 1 mm between them.
    const fork = upright(
      [
        [0, 0],
        [21, 0],
        [21, 20],
        [11, 20],
        [11, 5],
        [10, 5],
        [10, 20],
        [0, 20],
      ],
      10,
    );
    expect(() => latticeOf(fork, 2)).toThrow(
      /a gap of 1\.00 mm at .* spacing of the lattice, 2 mm/,
    );
    expect(() => latticeOf(fork, 0.9)).not.toThrow();
  });

  test('more tetrahedra than are worked on, with the spacing that would do', () => {
    // A ball of 4/3 pi 20^3 mm3 at 0.5 mm: 12 / 0.125 tetrahedra a mm3, 3.2 million.
    expect(() => latticeOf(standing(icosphere(20, 4)), 0.5)).toThrow(
      /has 3[1-9]\d{5} tetrahedra in this part, at most 300000 are worked on: about 1\.[12]\d? mm/,
    );
  });
});
