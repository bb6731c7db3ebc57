/**
 * Two more fields, u and v, over the level sets of a growth field, so that (x, y, z) -> (u, v, growth) lays
 * the part's layers flat. In each tetrahedron the wanted gradients of u and v are an orthonormal frame square
 * to the direction of growth: first the one that the least turn carries from the vertical, then, round after
 * round, the frame in the sheet nearest to the gradients that came out (as rigid as possible: Sorkine and
 * Alexa, SGP 2007; local and global steps for flattening by Liu et al., SGP 2008). A sheet that can be
 * unrolled keeps its lengths; of others the stretch is spread.
 *
 * Cost: linear in the tetrahedra, two linear systems a round with one matrix.
 */
import { type Watch, step } from '../base/watch.js';
import type { Lattice } from './lattice.js';
import { gradientsOf, meanIn, nodalMeans, stiffness, weighted } from './linear-functions.js';
import { conjugateGradients } from './sparse.js';

const SHEET_ROUNDS = 30;
/** Steps of the linear solver in the first round, and in each other. */
const FIRST_SHEET_STEPS = 400;
const SHEET_STEPS = 40;
const SHEET_RESIDUAL = 1e-8;

/** Coordinates in layer space of each node, mm. */
export interface Sheets {
  readonly u: Float64Array;
  readonly v: Float64Array;
}

export function sheetsOf(lattice: Lattice, growth: Float64Array, watch?: Watch): Sheets {
  const { nodes, shape } = lattice;
  const frames = framesOf(lattice, growth);
  const even = new Float64Array(shape.length).fill(1);
  const matrix = stiffness(lattice, even);
  const n = nodes.length / 3;
  const u = Float64Array.from({ length: n }, (_, i) => nodes[3 * i]!);
  const v = Float64Array.from({ length: n }, (_, i) => nodes[3 * i + 1]!);
  const wantedU = frames.first.slice();
  const wantedV = frames.second.slice();
  const right = new Float64Array(n);
  const gradU = new Float64Array(3 * shape.length);
  const gradV = new Float64Array(3 * shape.length);
  for (let round = 0; round < SHEET_ROUNDS; round++) {
    step(watch, 'sheets', round, SHEET_ROUNDS);
    const steps = round === 0 ? FIRST_SHEET_STEPS : SHEET_STEPS;
    weighted(lattice, wantedU, even, right);
    conjugateGradients(matrix, right, u, steps, SHEET_RESIDUAL);
    weighted(lattice, wantedV, even, right);
    conjugateGradients(matrix, right, v, steps, SHEET_RESIDUAL);
    gradientsOf(lattice, u, gradU);
    gradientsOf(lattice, v, gradV);
    for (let t = 0; t < shape.length; t++) {
      turnInSheet(frames.first, frames.second, gradU, gradV, 3 * t, wantedU, wantedV);
    }
  }
  return { u, v };
}

interface SheetFrames {
  readonly first: Float64Array;
  readonly second: Float64Array;
}

/** In each tetrahedron x and y as the least turn from z to the direction of growth carries them. */
function framesOf(lattice: Lattice, growth: Float64Array): SheetFrames {
  const { shape } = lattice;
  const means = nodalMeans(lattice, gradientsOf(lattice, growth));
  const first = new Float64Array(3 * shape.length);
  const second = new Float64Array(3 * shape.length);
  for (let t = 0; t < shape.length; t++) {
    const d = [0, 1, 2].map((c) => meanIn(lattice, means, t, c));
    const long = Math.hypot(...d) || 1;
    const [x, y, z] = d.map((a) => a / long) as [number, number, number];
    // Rodrigues' formula for the turn about z x d; straight down there is no least turn, and none is needed.
    const k = 1 / (1 + Math.max(z, -1 + 1e-9));
    first.set([1 - k * x * x, -k * x * y, -x], 3 * t);
    second.set([-k * x * y, 1 - k * y * y, -y], 3 * t);
  }
  return { first, second };
}

/** The frame, turned in its sheet so that it is nearest to two gradients (a Procrustes problem in the plane). */
function turnInSheet(
  first: Float64Array,
  second: Float64Array,
  gradU: Float64Array,
  gradV: Float64Array,
  at: number,
  wantedU: Float64Array,
  wantedV: Float64Array,
): void {
  let [u1, u2, v1, v2] = [0, 0, 0, 0];
  for (let c = at; c < at + 3; c++) {
    u1 += gradU[c]! * first[c]!;
    u2 += gradU[c]! * second[c]!;
    v1 += gradV[c]! * first[c]!;
    v2 += gradV[c]! * second[c]!;
  }
  const turn = Math.atan2(u2 - v1, u1 + v2);
  const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
  for (let c = at; c < at + 3; c++) {
    wantedU[c] = cos * first[c]! + sin * second[c]!;
    wantedV[c] = cos * second[c]! - sin * first[c]!;
  }
}
