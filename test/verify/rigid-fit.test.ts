/**
 * By how much runs are off as a whole. Over the faces of a cube of half edge a, in n by n samples a face, the
 * squares of the normals have the mean 1/3 and those of a turn's arms 2 a2 (1 - 1/n2) / 9 (sums over evenly
 * spaced middles); nothing else couples. So the least squares, steadied by a share of 0.02 of the area and of
 * the mean square of the arms (the project's own rule), give a known share of the true motion.
 */
import { describe, expect, it } from 'vitest';
import { DEG, type Vec3, add, cross, dot, length, scale } from '../../lib/base/vector.js';
import type { Grid } from '../../lib/verify/grid.js';
import { fitsOf } from '../../lib/verify/rigid-fit.js';
import type { Surface } from '../../lib/verify/shape.js';
import type { Trace } from '../../lib/verify/trace.js';

const HALF = 6;
const N = 8;
const EDGE = 0.1;
const STEADY = 0.02;
const AREA = (2 * HALF) ** 2 / N ** 2;

interface Sample {
  readonly q: Vec3;
  readonly n: Vec3;
}

/** Middles of N x N squares on each face of the cube, as arms from its middle. */
const samples: Sample[] = [0, 1, 2].flatMap((axis) =>
  [-1, 1].flatMap((side) =>
    Array.from({ length: N * N }, (_, i): Sample => {
      const at = [(i % N) + 0.5, Math.floor(i / N) + 0.5].map((v) => HALF * ((2 * v) / N - 1));
      const q = [0, 0, 0];
      const n = [0, 0, 0];
      q[axis] = side * HALF;
      n[axis] = side;
      q[(axis + 1) % 3] = at[0]!;
      q[(axis + 2) % 3] = at[1]!;
      return { q: q as unknown as Vec3, n: n as unknown as Vec3 };
    }),
  ),
);

/** Cubes about some middles, each off by a motion; what is laid at each is a run of its own. */
function fitted(cubes: readonly { middle: Vec3; shift: Vec3; turn: Vec3 }[], lumps = 0) {
  const all = cubes.flatMap(({ middle, shift, turn }) =>
    samples.map(({ q, n }) => ({
      p: add(middle, q),
      n,
      e: dot(n, shift) + dot(turn, cross(q, n)),
    })),
  );
  // Where nothing is laid nothing is fitted.
  all.push({ p: [500, 0, 0], n: [1, 0, 0], e: 0.5 });
  // Holes and lumps are no motion.
  for (let i = 0; i < lumps; i++) all.push({ ...all[i]!, e: i % 2 ? 0.81 : -3 });
  const surface = {
    points: Float32Array.from(all.flatMap((s) => [...s.p])),
    normals: Float32Array.from(all.flatMap((s) => [...s.n])),
    area: new Float32Array(all.length).fill(AREA),
    error: Float32Array.from(all, (s) => s.e),
  } as unknown as Surface;
  // Just inside of where each sample's material ends.
  const places: Vec3[] = all.map(({ p, n, e }) => add(p, scale(n, e - EDGE)));
  const grid = {
    edge: EDGE,
    blocksAt: (...at: Vec3) => {
      expect(Math.min(...places.map((p) => length(add(p, scale(at, -1)))))).toBeLessThan(1e-5);
      const first = cubes.findIndex(({ middle }) => Math.abs(at[0] - middle[0]) < 2 * HALF);
      return { first, last: first };
    },
  } as unknown as Grid;
  const run = Uint32Array.from(cubes, (_, i) => cubes.length - 1 - i);
  return fitsOf({ run } as unknown as Trace, grid, surface);
}

const SHIFT_SHARE = 1 / 3 / (1 / 3 + STEADY);
const spread = 1 - 1 / N ** 2;
const ARMS = (2 / 9) * HALF ** 2 * spread;
const REACH = HALF ** 2 * (1 + (2 / 3) * spread);
const TURN_SHARE = ARMS / (ARMS + STEADY * REACH);

const NONE: Vec3 = [0, 0, 0];

const alike = (a: Vec3, b: Vec3): void => a.forEach((v, c) => expect(v).toBeCloseTo(b[c]!, 5));

describe.each<[string, Vec3, Vec3]>([
  ['shifted', [0.11, -0.05, 0.2], NONE],
  ['turned about Z', NONE, [0, 0, 0.02]],
  ['turned about a slanting axis', NONE, [0.012, -0.02, 0.008]],
  ['both', [-0.2, 0.03, 0.04], [0.01, 0.005, -0.015]],
])('a cube that is %s', (_, shift, turn) => {
  const fits = fitted([{ middle: [30, -20, 10], shift, turn }], 12);

  it('has its shift and its turn', () => {
    expect(fits).toHaveLength(1);
    const [fit] = fits;
    alike(fit!.shiftMm, scale(shift, SHIFT_SHARE));
    alike(fit!.turnDeg, scale(turn, TURN_SHARE / DEG));
    expect(fit!.areaMm2).toBeCloseTo(6 * (2 * HALF) ** 2, 3);
    // Errors of opposite faces are opposite.
    expect(fit!.meanMm).toBeCloseTo(0, 6);
  });

  it('swings as far as its outermost sample', () => {
    const most = Math.max(...samples.map(({ q }) => length(cross(turn, q))));
    expect(fits[0]!.swingMm).toBeCloseTo(TURN_SHARE * most, 5);
  });
});

it('two runs are fitted by themselves and come in order', () => {
  const [a, b]: Vec3[] = [
    [0.1, 0, 0],
    [0, -0.3, 0.1],
  ];
  const fits = fitted([
    { middle: [-40, 0, 10], shift: a!, turn: NONE },
    { middle: [40, 5, 10], shift: b!, turn: NONE },
  ]);
  expect(fits.map((f) => f.run)).toEqual([0, 1]);
  alike(fits[0]!.shiftMm, scale(b!, SHIFT_SHARE));
  alike(fits[1]!.shiftMm, scale(a!, SHIFT_SHARE));
});
