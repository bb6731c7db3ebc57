/**
 * The least-squares core: the deviations that bring the remaining distances of all touches to zero, with
 * their Jacobian. The minimum is found by ml-levenberg-marquardt; singular values, covariance and leverages
 * are ml-matrix's.
 */
import { levenbergMarquardt } from 'ml-levenberg-marquardt';
import { Matrix, SingularValueDecomposition } from 'ml-matrix';
import { Fault } from '../base/fault.js';
import { type DeviationModel, firstEffect, stateAt } from './deviation-model.js';
import { type TouchState, withEffect } from './effect.js';
import { type Aim, kindOf, distanceLeft } from './targets.js';

/** One touch as it was read. */
export interface TouchReading {
  /** Number in the plan, from one. */
  readonly number: number;
  readonly aim: Aim;
  /** Joint values told while tip and target touch, order of Machine.joints, mm and rad. */
  readonly joints: Float64Array;
}

/** The remaining distance of every touch under the deviations x, mm. */
export function residuals(
  model: DeviationModel,
  touches: readonly TouchReading[],
  x: ArrayLike<number>,
): Float64Array {
  const state = stateAt(model, x);
  const columns = model.effects.flatMap((e) => e.columns);
  const first = firstEffect(model);
  return Float64Array.from(touches, ({ aim, joints, number }) => {
    const stands: TouchState = { state, joints: state.stands.told(joints, state.slack), number };
    return leftAt(
      columns.reduce(
        (at, column, k) =>
          column.scales === undefined ? withEffect(column, x[first + k]!, at) : at,
        stands,
      ),
      aim,
    );
  });
}

/** The remaining distance of a touch of a machine as it stands, mm. */
export function leftAt({ state, joints }: TouchState, aim: Aim): number {
  const target = state.targets.find((t) => t.kind === kindOf(aim))!;
  return distanceLeft(state.machine, state.flat, aim, target, joints);
}

/** Step of the central differences, in deviations: 1 um at a lever of 100 mm. */
export const DIFFERENCE_STEP = 1e-3;

/** Rows of touches, columns of the deviations named in `active`. */
export function jacobianOf(
  model: DeviationModel,
  touches: readonly TouchReading[],
  x: ArrayLike<number>,
  active: readonly number[],
): Matrix {
  const j = new Matrix(touches.length, active.length);
  const at = Float64Array.from(x);
  active.forEach((p, column) => {
    const middle = at[p]!;
    at[p] = middle + DIFFERENCE_STEP;
    const up = residuals(model, touches, at);
    at[p] = middle - DIFFERENCE_STEP;
    const down = residuals(model, touches, at);
    at[p] = middle;
    for (let i = 0; i < up.length; i++)
      j.set(i, column, (up[i]! - down[i]!) / (2 * DIFFERENCE_STEP));
  });
  return j;
}

/** Rounds of the search between two tests of convergence, and most tests. */
const ROUNDS_A_LOOK = 4;
const LOOKS = 12;
/** The search has converged if a further step is smaller than this, in deviations. */
const ARRIVED = 1e-5;

/**
 * @returns deviations, those outside of `active` as in `from`
 * @throws Fault `calibrate/no-fit` if the search does not converge
 */
export function solve(
  model: DeviationModel,
  touches: readonly TouchReading[],
  from: ArrayLike<number>,
  active: readonly number[],
): Float64Array {
  let x: Float64Array = Float64Array.from(from);
  let step = Infinity;
  for (let look = 0; look < LOOKS && !(step < ARRIVED); look++) {
    x = search(model, touches, x, active);
    step = nextStep(model, touches, x, active);
  }
  if (step < ARRIVED) return x;
  throw new Fault(
    'calibrate/no-fit',
    `the fit has not settled after ${ROUNDS_A_LOOK * LOOKS} rounds: the next step would still be ${step.toPrecision(2)} mm, the limit is ${ARRIVED} mm; are the readings in the units of the form, and of this machine?`,
  );
}

function search(
  model: DeviationModel,
  touches: readonly TouchReading[],
  from: Float64Array,
  active: readonly number[],
): Float64Array {
  const full = (values: ArrayLike<number>): Float64Array => {
    const x = from.slice();
    active.forEach((p, k) => (x[p] = values[k]!));
    return x;
  };
  const rows = touches.map((_, i) => i);
  const { parameterValues } = levenbergMarquardt(
    { x: rows, y: rows.map(() => 0) },
    (values) => {
      const left = residuals(model, touches, full(values));
      return (i) => left[i]!;
    },
    {
      initialValues: active.map((p) => from[p]!),
      damping: 1e-4,
      maxIterations: ROUNDS_A_LOOK,
      errorTolerance: 1e-14,
      jacobianFunction: (values) => {
        const j = jacobianOf(model, touches, full(values), active);
        return (i) => j.getRow(i);
      },
    },
  );
  return full(parameterValues);
}

/** Largest deviation of the step that Gauss and Newton would take next: zero at the minimum. */
function nextStep(
  model: DeviationModel,
  touches: readonly TouchReading[],
  x: Float64Array,
  active: readonly number[],
): number {
  const left = residuals(model, touches, x);
  const lost = touches.find((_, i) => !Number.isFinite(left[i]!));
  if (lost) {
    throw new Fault(
      'calibrate/no-fit',
      `touch ${lost.number} (${lost.aim}) cannot have met its target: the readings lie too far from the plan`,
    );
  }
  const step = solution(split(jacobianOf(model, touches, x, active)), left);
  return Math.max(...step.map(Math.abs));
}

export interface Split {
  readonly u: Matrix;
  /** Singular values, falling. */
  readonly s: readonly number[];
  readonly v: Matrix;
}

export function split(j: Matrix): Split {
  const svd = new SingularValueDecomposition(j, { autoTranspose: true });
  return { u: svd.leftSingularVectors, s: svd.diagonal, v: svd.rightSingularVectors };
}

/** The unknowns that come nearest to a right side, by least squares. */
export function solution({ u, s, v }: Split, right: ArrayLike<number>): number[] {
  const seen = u
    .transpose()
    .mmul(Matrix.columnVector(Array.from(right)))
    .getColumn(0);
  return v.mmul(Matrix.columnVector(seen.map((r, k) => r / s[k]!))).getColumn(0);
}

/** (JT J)^-1 from the singular values: the covariance for a noise of 1 mm. */
export function inverseSquare({ s, v }: Split): Matrix {
  const scaled = v.clone();
  s.forEach((value, k) => scaled.mulColumn(k, 1 / value));
  return scaled.mmul(scaled.transpose());
}

/**
 * Leverage: the share of its own fitted value that each reading decides, 0 to 1; the diagonal of the hat
 * matrix.
 */
export function leverages({ u }: Split): number[] {
  return Array.from({ length: u.rows }, (_, i) => u.getRow(i).reduce((sum, x) => sum + x * x, 0));
}
