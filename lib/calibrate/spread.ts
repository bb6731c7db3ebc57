/**
 * What the uncertainties of the deviations mean at the tip: the standard uncertainty of the position of the
 * tip over the part, at one pose or as the root mean square over the space in which parts are built.
 */
import type { Matrix } from 'ml-matrix';
import { Matrix as Rows } from 'ml-matrix';
import { seeded } from '../base/random.js';
import { type Vec3, dot, sub } from '../base/vector.js';
import { forward } from '../machine/forward.js';
import { inverse } from '../machine/inverse.js';
import type { Bias } from './bias.js';
import { type DeviationModel, stateAt } from './deviation-model.js';
import { type DeviatedMachine, type TouchState, withEffect } from './effect.js';
import { DIFFERENCE_STEP } from './least-squares.js';

/** mm, from the covariance of the deviations `active`. */
export function tipSpread(
  model: DeviationModel,
  x: Float64Array,
  active: readonly number[],
  covariance: Matrix,
  joints: ArrayLike<number>,
): number {
  const rates = new Rows(3, active.length);
  const at = x.slice();
  active.forEach((p, k) => {
    const tips = [DIFFERENCE_STEP, -DIFFERENCE_STEP].map((by) => {
      at[p] = x[p]! + by;
      return tipAt(stateAt(model, at), joints);
    }) as [Vec3, Vec3];
    at[p] = x[p]!;
    for (let c = 0; c < 3; c++)
      rates.set(c, k, (tips[0][c]! - tips[1][c]!) / (2 * DIFFERENCE_STEP));
  });
  return Math.sqrt(Math.max(0, rates.mmul(covariance).mmul(rates.transpose()).trace()));
}

/**
 * How far effects that are there but not in the machine file carry the tip away, mm, part frame: the effects
 * themselves, less what the fit did to imitate them.
 */
export function tipBias(
  model: DeviationModel,
  x: Float64Array,
  biases: readonly Bias[],
  joints: ArrayLike<number>,
): Vec3 {
  const imitating = Float64Array.from(x, (v, p) =>
    biases.reduce((value, b) => value - b.imitated[p]!, v),
  );
  const shown: TouchState = { state: stateAt(model, imitating), joints, number: 0 };
  const real = biases.reduce((at, { column, amount }) => withEffect(column, amount, at), shown);
  return sub(tipAt(real.state, real.joints), tipAt(stateAt(model, x), joints));
}

/** Where the tip stands whose joints would stand so without further give and play, part frame, mm. */
const tipAt = ({ machine, stands, slack }: DeviatedMachine, joints: ArrayLike<number>): Vec3 =>
  forward(machine, stands.stood(joints, slack)).tip;

/** Number of places and directions over which the tip is evaluated, and the seed that draws them. */
const SPREAD_SAMPLES = 60;
const SPREAD_SEED = 1;
/** Tilt up to which, and height to which and share of the table over which they lie. */
const SPREAD_TILT = 1;
const SPREAD_HEIGHT = 60;
const SPREAD_SHARE = 0.5;

/** Root mean square over the space in which parts are built, mm; with what biases do to the tip. */
export function tipSpreadOver(
  model: DeviationModel,
  x: Float64Array,
  active: readonly number[],
  covariance: Matrix,
  biases: readonly Bias[] = [],
): number {
  const { face } = model.machine;
  const radius = SPREAD_SHARE * (face.shape === 'disc' ? face.radius : Math.min(...face.size) / 2);
  const random = seeded(SPREAD_SEED);
  const { machine } = stateAt(model, x);
  let sum = 0;
  let count = 0;
  for (let i = 0; i < SPREAD_SAMPLES; i++) {
    const [a, w, t] = [2 * Math.PI * random(), 2 * Math.PI * random(), SPREAD_TILT * random()];
    const r = radius * Math.sqrt(random());
    const tip: Vec3 = [r * Math.cos(a), r * Math.sin(a), SPREAD_HEIGHT * random()];
    const d: Vec3 = [Math.sin(t) * Math.cos(w), Math.sin(t) * Math.sin(w), Math.cos(t)];
    const solution = inverse(machine, tip, d, machine.ready)[0];
    // Places that the machine does not reach at all do not count.
    if (!solution) continue;
    sum += tipSpread(model, x, active, covariance, solution.joints) ** 2;
    const off = tipBias(model, x, biases, solution.joints);
    sum += dot(off, off);
    count++;
  }
  return count > 0 ? Math.sqrt(sum / count) : Infinity;
}
