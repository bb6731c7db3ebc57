/**
 * Two more fields, u and v, over the level sets of a growth field, so that (x, y, z) -> (u, v, growth) lays
 * the part's layers flat. In each tetrahedron the wanted gradients of u and v are an orthonormal frame square
 * to the direction of growth: first the one that the least turn carries from the vertical, then, round after
 * round, the frame in the sheet nearest to the gradients that came out (as rigid as possible: Sorkine and
 * Alexa, SGP 2007; local and global steps for flattening by Liu et al., SGP 2008). A sheet that can be
 * unrolled keeps its lengths; of others the stretch is spread.
 *
 * Cost: linear in the tetrahedra, about 10 us each: two linear systems a round with one matrix. Twelve rounds with
 * momentum (momentum.ts) come within 4e-4 of what 100 without it, solved to the end, leave of the wanted gradients.
 */
import { type Watch, step } from '../base/watch.js';
import type { Lattice } from './lattice.js';
import { gradientsOf, meanIn, nodalMeans, stiffness, weighted } from './linear-functions.js';
import { moveOn } from './momentum.js';
import { conjugateGradients } from './sparse.js';

const SHEET_ROUNDS = 12;
/** Steps of the linear solver in the first round, and in each other. */
const FIRST_SHEET_STEPS = 400;
const SHEET_STEPS = 25;
const SHEET_RESIDUAL = 1e-8;

/** Coordinates in layer space of each node, mm. */
export interface Sheets {
  readonly u: Float64Array;
  readonly v: Float64Array;
}

/** @param stiff weight of each tetrahedron against the others */
export function sheetsOf(
  lattice: Lattice,
  growth: Float64Array,
  stiff: Float64Array,
  watch?: Watch,
): Sheets {
  const { nodes, shape } = lattice;
  const frames = framesOf(lattice, growth);
  const matrix = stiffness(lattice, stiff);
  const n = nodes.length / 3;
  const u = Float64Array.from({ length: n }, (_, i) => nodes[3 * i]!);
  const v = Float64Array.from({ length: n }, (_, i) => nodes[3 * i + 1]!);
  const beforeU = u.slice();
  const beforeV = v.slice();
  const wantedU = frames.first.slice();
  const wantedV = frames.second.slice();
  const right = new Float64Array(n);
  const gradU = new Float64Array(3 * shape.length);
  const gradV = new Float64Array(3 * shape.length);
  for (let round = 0; round < SHEET_ROUNDS; round++) {
    step(watch, 'sheets', round, SHEET_ROUNDS);
    const steps = round === 0 ? FIRST_SHEET_STEPS : SHEET_STEPS;
    weighted(lattice, wantedU, stiff, right);
    conjugateGradients(matrix, right, u, steps, SHEET_RESIDUAL);
    weighted(lattice, wantedV, stiff, right);
    conjugateGradients(matrix, right, v, steps, SHEET_RESIDUAL);
    if (round === SHEET_ROUNDS - 1) break;
    moveOn(u, beforeU, round);
    moveOn(v, beforeV, round);
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
    let x = meanIn(lattice, means, t, 0);
    let y = meanIn(lattice, means, t, 1);
    let z = meanIn(lattice, means, t, 2);
    const long = Math.sqrt(x * x + y * y + z * z) || 1;
    x /= long;
    y /= long;
    z /= long;
    // Rodrigues' formula for the turn about z x d; straight down there is no least turn, and none is needed.
    const k = 1 / (1 + Math.max(z, -1 + 1e-9));
    const at = 3 * t;
    first[at] = 1 - k * x * x;
    first[at + 1] = -k * x * y;
    first[at + 2] = -x;
    second[at] = -k * x * y;
    second[at + 1] = 1 - k * y * y;
    second[at + 2] = -y;
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
  // The turn's cosine and sine, up to their length.
  let along = 0;
  let across = 0;
  for (let c = at; c < at + 3; c++) {
    along += gradU[c]! * first[c]! + gradV[c]! * second[c]!;
    across += gradU[c]! * second[c]! - gradV[c]! * first[c]!;
  }
  const long = Math.sqrt(along * along + across * across);
  const cos = long > 0 ? along / long : 1;
  const sin = long > 0 ? across / long : 0;
  for (let c = at; c < at + 3; c++) {
    wantedU[c] = cos * first[c]! + sin * second[c]!;
    wantedV[c] = cos * second[c]! - sin * first[c]!;
  }
}
